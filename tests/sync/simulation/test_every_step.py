"""One short history, over and over: power, server or line fail at each single place of it in turn.

LINTEL_SIMULATION_EVERY_STEP=1 tries each place on phones with the browser's code too, where there are many.
"""

import os
from dataclasses import replace
from typing import Any

import pytest

from tests.sync.simulation import browser_phone, service
from tests.sync.simulation import phone as phones
from tests.sync.simulation.browser_phone import browsers
from tests.sync.simulation.checks import check
from tests.sync.simulation.quiet import quieten
from tests.sync.simulation.world import World

EVERY = 1 if os.environ.get("LINTEL_SIMULATION_EVERY_STEP") else 7


def day(world: World) -> None:
    """Ann records and syncs, a colleague too, and Ann's client leaves her caseload."""
    ann, ben = world.phones[:2]
    for _ in range(2):
        world.note(ann, 1)
    exchange(world, ann)
    world.note(ben, 0)
    exchange(world, ben)
    exchange(world, ann)
    world.end(0, 0)
    world.correct(ann, 0, void=False)
    exchange(world, ann)


def withdrawal(world: World) -> None:
    """Ann's phone is withdrawn, hands in what it had recorded, and is allowed again."""
    ann = world.phones[0]
    world.note(ann, 1)
    exchange(world, ann)
    world.revoke(ann, True)
    world.note(ann, 1)
    exchange(world, ann)
    world.revoke(ann, False)
    ann.restart()
    exchange(world, ann)  # nobody asks for what was held to be sent again


def exchange(world: World, phone: Any) -> None:
    """All the requests that a phone makes in one go."""
    world.ask(phone)
    while phone.flights and world.line:
        world.deliver(-1)
        if not world.hear(-1):
            return


def come_to_rest(world: World) -> None:
    quieten(world)
    check(world)


def cuts(world: World) -> set[str]:
    return {name.removeprefix("power cut ") for name in world.seen if name.startswith("power cut ")}


def test_the_power_fails_at_every_step():
    met: set[str] = set()
    for steps in range(1000):
        world = World()
        world.phones[0].off_in = steps
        day(world)
        come_to_rest(world)
        if not cuts(world):
            break
        met |= cuts(world)
    assert met == set(phones.STEPS) and 20 < steps < 1000


@pytest.mark.parametrize(("history", "every"), [(day, EVERY), (withdrawal, min(EVERY, 3))])
def test_the_power_of_a_browser_fails_at_every_step(host, history, every):
    met: set[str] = set()
    for steps in range(0, 5000, every):
        world = World(makes=browsers(host, "a"))
        world.phones[0].off_in = steps
        history(world)
        come_to_rest(world)
        if not cuts(world):
            break
        met |= cuts(world)
    assert set(browser_phone.STEPS) - met <= ({"before it sends"} if every > 1 else set())
    assert 100 < steps < 5000


@pytest.mark.parametrize("browser", [False, True])
def test_the_server_dies_at_every_step(host, browser):
    met: set[str] = set()
    for steps in range(100):
        world = World(makes=browsers(host, "a") if browser else None)
        ann = world.phones[0]
        for _ in range(3):
            world.note(ann, 1)
        exchange_session(world, ann)
        world.served(world.line.pop(), dies_in=steps)
        ann.give_up(0)
        come_to_rest(world)
        died = {name.removeprefix("server died ") for name in world.seen if name.startswith("server died ")}
        if not died:
            break
        met |= died
    assert met == set(service.STEPS) and steps == 10


def exchange_session(world: World, phone: Any) -> None:
    """Up to the request that brings the entries."""
    world.ask(phone)
    while world.line[-1].path == service.SESSION:
        world.deliver(-1)
        world.hear(-1)


def test_a_request_is_cut_after_every_byte():
    world = World()
    ann = world.phones[0]
    world.note(ann, 1)
    world.ask(ann)
    whole = world.line[-1]
    before = world.service.logs[world.home(world.ann)]
    for length in range(len(whole.data)):
        assert world.served(replace(whole, data=whole.data[:length]), None).status == 400
    assert world.service.logs[world.home(world.ann)] is before and not before.rows and not before.held
    world.deliver(-1)
    assert world.hear(-1) and len(before.rows) == 0 and len(world.service.rows(world.home(world.ann))) == 1


@pytest.mark.parametrize("browser", [False, True])
def test_a_reply_is_cut_after_every_byte(host, browser):
    world = World(makes=browsers(host, "a") if browser else None)
    ann = world.phones[0]
    world.note(ann, 1)
    exchange_session(world, ann)
    world.deliver(-1)
    whole = world.back.pop()
    before = ann.state
    for length in range(0, len(whole.answer.body), 7 if browser and EVERY > 1 else 1):
        flight = next(iter(ann.flights.values()))
        ann.hear(flight.number, replace(whole.answer, body=whole.answer.body[:length]))
        assert ann.state == before
        exchange_session(world, ann)
    world.line = world.line[-1:]
    world.deliver(-1)
    assert world.hear(-1) and not ann.state.outbox
    come_to_rest(world)
