"""Situations of people, clients and phones: caseloads, devices, copies, two who record at once."""

from tests.sync.simulation.leading import (
    SITUATIONS,
    asks,
    colleague,
    given,
    hears,
    in_order,
    in_step,
    note,
    situation,
    told,
)
from tests.sync.simulation.service import PAGE
from tests.sync.simulation.world import FIELDS, SKEWS, details_on

__all__ = ["SITUATIONS"]


# Caseloads and devices.


@situation
def a_client_comes_with_many_entries(world, chance, phone):
    client = in_order(world, chance, phone)
    given(world, phone, client, on=False)
    in_step(world, phone)
    told(world, chance, phone, client, notes=PAGE + 2)
    given(world, phone, client)
    in_step(world, phone)


@situation
def a_client_leaves_while_something_waits(world, chance, phone):
    client = in_order(world, chance, phone)
    note(world, phone, client)
    given(world, phone, client, on=False)
    note(world, phone, client)
    in_step(world, phone)


@situation
def a_client_comes_of_whom_something_was_refused(world, chance, phone):
    client = in_order(world, chance, phone)
    given(world, phone, client, on=False)
    note(world, phone, client)
    in_step(world, phone)
    given(world, phone, client)
    in_step(world, phone)


@situation
def a_client_comes_while_a_refusal_is_under_way(world, chance, phone):
    client = in_order(world, chance, phone)
    given(world, phone, client, on=False)
    in_step(world, phone)
    if not asks(world, phone, window=1):  # before there is anything to send
        return
    note(world, phone, client)
    if not asks(world, phone):
        return
    world.deliver(-1)
    refusal = world.back.pop()
    given(world, phone, client)
    hears(world, phone)
    world.back.append(refusal)
    world.hear(-1)


@situation
def a_device_is_withdrawn_and_allowed_again(world, chance, phone):
    client = in_order(world, chance, phone)
    world.revoke(phone, True)
    note(world, phone, client)
    world.exchange(phone)
    for other in world.phones:
        if other.person == phone.person and other is not phone:
            in_order(world, chance, other)
    world.revoke(phone, False)
    world.exchange(phone)


@situation
def a_phones_ids_come_from_another_organisation(world, chance, phone):
    if chance.random() < 0.6:  # its cursor says something only where the log is no shorter
        phone = min(world.phones, key=lambda one: world.service.head(world.home(one.person)))
    client = in_order(world, chance, phone)
    away = [person for person in world.everybody if world.home(person) != world.home(phone.person)]
    person = chance.choice(away)
    world.service.set_active(person, True)
    world.assign(world.everybody.index(person), client)
    note(world, phone, client)
    world.exchange(phone)
    note(world, phone, client)
    if chance.random() < 0.5:
        world.revoke(phone, True)
    for _ in range(2):
        world.stray(phone, person, forged=True)
        world.deliver(-1)
    world.revoke(phone, False)
    in_step(world, phone)


# Logs that were restored, and phones that were.


@situation
def a_log_is_restored_without_what_was_just_sent(world, chance, phone):
    client = in_order(world, chance, phone)
    world.back_up()
    note(world, phone, client)
    world.exchange(phone)
    world.restore(0)
    in_step(world, phone)


@situation
def a_log_is_restored_and_the_phone_that_recorded_is_gone(world, chance, phone):
    client = in_order(world, chance, phone)
    other = colleague(world, chance, phone, client)
    world.back_up()
    for _ in range(chance.randrange(1, 3)):
        note(world, other, client)
    world.exchange(other)
    in_step(world, phone)
    world.wipe(other)
    world.restore(0)
    in_step(world, phone)


@situation
def a_phones_copy_lacks_what_it_sent_since(world, chance, phone):
    client = in_order(world, chance, phone)
    note(world, phone, client)
    in_step(world, phone)
    world.copy(phone)
    note(world, phone, client)
    world.exchange(phone)
    world.put_back(phone, phone)
    in_step(world, phone)
    note(world, phone, client)  # under a number that is taken: there are two of this phone now
    in_step(world, phone)


@situation
def a_phones_copy_is_put_on_another(world, chance, _phone):
    first, second = world.phones[0], world.phones[3]
    client = in_order(world, chance, first)
    world.copy(first)
    world.put_back(first, second)
    for one in chance.sample((first, second), 2):
        world.sign_in(one)
        note(world, one, client)
        in_step(world, one)


# Two who record at once.


@situation
def two_set_the_same_details(world, chance, phone):
    client = in_order(world, chance, phone)
    other = colleague(world, chance, phone, client)
    who, name = world.clients[client], chance.choice(FIELDS)
    for one in (phone, other):
        seen = details_on(one, who)["seen"].get(name, [])
        world.record(one, "details", who, {"set": {name: f"value {world.made}"}, "seen": {name: seen}})
    for one in (phone, other, phone):
        world.exchange(one)


@situation
def two_entries_get_the_same_id(world, chance, phone):
    client = in_order(world, chance, phone)
    other = colleague(world, chance, phone, client)
    own = note(world, other, client)
    world.exchange(other)
    given(world, phone, client)  # another caseload may have ended meanwhile
    note(world, phone, client, own)
    in_step(world, phone)


@situation
def something_waits_for_a_clock(world, chance, phone):
    client = in_order(world, chance, phone)
    world.set_clock(phone, SKEWS.index(max(SKEWS)))
    note(world, phone, client)
    world.set_clock(phone, 0)
    for _ in range(chance.randrange(3, 6)):
        world.correct(phone, 0, void=False)
    in_step(world, phone)
    note(world, phone, client)
