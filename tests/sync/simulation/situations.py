"""Situations that chance alone brings about too seldom: each is an act that leads a phone right into one.

The phone is put in order first, then things happen in the one sequence that matters; who, which client and
where it breaks is left to chance. Whether it went well say the checks, not the act. Here: line, server,
power, two windows.
"""

from tests.sync.simulation import situations_of_people
from tests.sync.simulation.leading import (
    SITUATIONS,
    asks,
    given,
    hears,
    in_order,
    in_step,
    note,
    overtaken,
    rest,
    situation,
    told,
    until,
)
from tests.sync.simulation.service import PAGE

assert situations_of_people.SITUATIONS is SITUATIONS  # importing it names its situations too


# What is lost on the line.


@situation
def one_of_several_is_overlooked(world, chance, phone):
    client = in_order(world, chance, phone)
    for _ in range(chance.randrange(2, 5)):
        note(world, phone, client)
    world.exchange(phone, there="one overlooked")


@situation
def a_portal_answers(world, chance, phone):
    client = in_order(world, chance, phone)
    note(world, phone, client)
    if asks(world, phone):
        world.deliver(-1, "portal")
        world.hear(-1)


@situation
def the_sign_in_has_ended(world, chance, phone):
    client = in_order(world, chance, phone)
    note(world, phone, client)
    world.service.expire(phone.cookie)
    world.exchange(phone)
    world.sign_in(phone)


@situation
def somebody_else_signed_in_meanwhile(world, chance, phone):
    client = in_order(world, chance, phone)
    note(world, phone, client)
    others = [person for person in world.everybody if person != phone.person]
    own, phone.cookie = phone.cookie, world.service.sign_in(chance.choice(others))
    asks(world, phone)
    hears(world, phone)
    phone.cookie = own


# Where the server dies, and where the power fails.


@situation
def the_server_dies_over_a_push(world, chance, phone):
    client = in_order(world, chance, phone)
    for steps in chance.sample(range(8), 6):  # the last is after the commit
        for _ in range(3):
            note(world, phone, client)
        if asks(world, phone):
            world.deliver(-1, "the server dies", steps)
            phone.give_up(0)
        world.exchange(phone)


@situation
def the_power_fails_over_a_page(world, chance, phone):
    client = in_order(world, chance, phone)
    for place in range(4):
        told(world, chance, phone, client)
        note(world, phone, client)
        if asks(world, phone):
            world.deliver(-1)
            world.hear(-1, "the power fails", place * phone.stride + chance.randrange(phone.stride))


@situation
def the_power_fails_over_a_save(world, chance, phone):
    client = in_order(world, chance, phone)
    for place in chance.sample(range(2 * phone.stride + 6), 8):
        phone.off_in = place
        note(world, phone, client)
    phone.restart()


# Two windows, and answers that come late.


@situation
def an_answer_is_overtaken(world, chance, phone):
    client = in_order(world, chance, phone)

    def between() -> None:
        told(world, chance, phone, client)
        note(world, phone, client)
        world.exchange(phone, window=1)

    overtaken(world, phone, between)


@situation
def an_answer_comes_out_of_a_former_log(world, chance, phone):
    client = in_order(world, chance, phone)
    world.back_up()
    told(world, chance, phone, client)
    note(world, phone, client)

    def between() -> None:
        world.restore(0)
        world.exchange(phone, window=1)

    overtaken(world, phone, between)


@situation
def a_late_page_belongs_to_a_fill_that_began_anew(world, chance, phone):
    client = in_order(world, chance, phone)
    for _ in range(PAGE + chance.randrange(1, PAGE)):
        note(world, phone, client)
    own = world.clients[client]
    in_step(world, phone)
    given(world, phone, client, on=False)
    in_step(world, phone)
    given(world, phone, client)
    until(world, phone, 0, lambda: phone.state.filling.get(own, 0) > 0 and rest(world, phone, own) <= PAGE)

    def between() -> None:
        given(world, phone, client, on=False)
        until(world, phone, 1, lambda: own not in phone.state.clients)
        given(world, phone, client)
        until(world, phone, 1, lambda: phone.state.filling.get(own) == 0)

    overtaken(world, phone, between)
