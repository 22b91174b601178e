"""The phones that recorded are gone for good, the log was restored, and another phone held the entry."""

from dataclasses import replace

import pytest

from tests.sync.simulation.broken_returns import BROKEN_RETURNS
from tests.sync.simulation.checks import check
from tests.sync.simulation.quiet import MOST, quieten
from tests.sync.simulation.world import ORGANISATION, World


def story() -> tuple[World, str]:
    """Ann records about a client whom Ben sees too; her phones are wiped, an earlier copy is put back."""
    world = World()
    for phone in world.phones:
        phone.state_of(phone.person)
    quieten(world)
    world.back_up()
    for _ in range(5):
        world.note(world.phones[0], 1)
    quieten(world)
    last = world.saved[-1].entry["id"]
    assert last in world.phones[1].state.entries
    for phone in world.phones:
        if phone.person == world.ann:
            world.wipe(phone)
    world.restore(0)
    assert not world.service.rows(ORGANISATION)
    return world, last


def come_to_rest(world: World) -> dict[str, str]:
    """The log afterwards: ids with their authors."""
    quieten(world)
    check(world)
    return {row.entry["id"]: row.entry["author"] for row in world.service.rows(ORGANISATION)}


def test_it_is_in_the_log_again_under_its_author():
    world, last = story()
    found = come_to_rest(world)
    assert found[last] == world.ann and len(found) == 5
    assert world.seen["handed back: applied"] == 5


def test_a_client_who_left_meanwhile_is_put_aside_and_not_lost():
    world, last = story()
    world.end(1, 1)
    assert come_to_rest(world) == {}
    assert last in world.service.set_aside(ORGANISATION) and not world.phones[1].state.returning


def test_without_a_receipt_it_is_put_aside_and_not_lost():
    world, _ = story()
    store = world.phones[1].store()
    store.put(replace(store.get(), receipts=()))
    with pytest.raises(AssertionError):  # the oracle wants everything proved here
        quieten(world)
    assert world.service.set_aside(ORGANISATION) == {saved.entry["id"] for saved in world.saved[:MOST]}


@pytest.mark.parametrize("name", BROKEN_RETURNS)
def test_with_a_rule_broken_it_is_noticed(name, monkeypatch):
    BROKEN_RETURNS[name](monkeypatch)
    with pytest.raises(AssertionError):
        for leaves in (False, True):
            world, _ = story()
            if leaves:
                world.end(1, 1)
            come_to_rest(world)
