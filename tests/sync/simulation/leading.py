"""What situations are made of: sequences of messages on a good line, one of which may be kept back."""

import random
from collections.abc import Callable

from tests.sync.simulation.phone import WINDOWS, Phone
from tests.sync.simulation.service import SYNC
from tests.sync.simulation.world import World

Situation = Callable[[World, random.Random, Phone], None]
SITUATIONS: dict[str, Situation] = {}
MANY = 40  # more messages than any sequence here takes


def situation(act: Situation) -> Situation:
    """Name a situation after its function."""
    SITUATIONS[act.__name__.replace("_", " ")] = act
    return act


def in_order(world: World, chance: random.Random, phone: Phone) -> int:
    """A phone in service, signed in and in step; the number of a client of whom nothing waits there."""
    for window in range(WINDOWS):
        phone.give_up(window)
    world.service.set_active(phone.person, True)
    world.revoke(phone, False)
    world.set_clock(phone, 0)
    world.sign_in(phone)
    waiting = {entry["client"] for entry in phone.state.outbox.values()}
    free = [client for client in phone.state.clients if client not in waiting]
    client = world.clients.index(chance.choice(free or world.clients))
    given(world, phone, client)
    in_step(world, phone)
    return client


def given(world: World, phone: Phone, client: int, on: bool = True) -> None:
    """A client comes to the caseload of who uses a phone, or leaves it."""
    (world.assign if on else world.end)(world.everybody.index(phone.person), client)


def in_step(world: World, phone: Phone, window: int = 0) -> None:
    """On a good line until nothing more comes of it."""
    for _ in range(MANY):
        before = phone.state
        world.exchange(phone, window)
        if phone.state == before:
            return


def asks(world: World, phone: Phone, window: int = 0) -> bool:
    """A window asks, after whatever it asks before: whether its request is the last on the line."""
    world.ask(phone, window=window)
    for _ in range(MANY):
        if window not in phone.flights or not world.line or world.line[-1].phone is not phone:
            return False
        if world.line[-1].path == SYNC:
            return True
        hears(world, phone)
    return False


def hears(world: World, phone: Phone) -> None:
    """The last request arrives, and so does its answer."""
    world.deliver(-1)
    if world.back and world.back[-1].phone is phone:
        world.hear(-1)


def until(world: World, phone: Phone, window: int, done: Callable[[], bool]) -> None:
    """A window's requests on a good line, one by one, until something is so."""
    for _ in range(MANY):
        if done() or not asks(world, phone, window):
            return
        hears(world, phone)


def overtaken(world: World, phone: Phone, between: Callable[[], None]) -> None:
    """Of two windows the first one's answer comes last, and something has happened between."""
    if not asks(world, phone):
        return
    world.deliver(-1)
    if not world.back or world.back[-1].phone is not phone:
        return
    late = world.back.pop()
    between()
    world.back.append(late)
    world.hear(-1)


def colleague(world: World, chance: random.Random, phone: Phone, client: int) -> Phone:
    """Another phone, in order, with this client on it: of the organisation, if it has another."""
    others = [one for one in world.phones if one is not phone]
    home = [one for one in others if world.home(one.person) == world.home(phone.person)]
    other = chance.choice(home or others)
    given(world, other, client)
    in_order(world, chance, other)
    return other


def note(world: World, phone: Phone, client: int, own: str = "") -> str:
    """Something new about this very client; its id."""
    own = own or world.new_id()
    world.record(phone, "note", world.clients[client], {"text": f"note {world.made} é😀"}, own=own)
    return own


def told(world: World, chance: random.Random, phone: Phone, client: int, notes: int = 1) -> Phone:
    """A colleague records about a client and sends it."""
    other = colleague(world, chance, phone, client)
    for _ in range(notes):
        note(world, other, client)
    world.exchange(other)
    return other


def rest(world: World, phone: Phone, client: str) -> int:
    """How much of a client the fill has not brought yet."""
    rows = world.service.rows(world.home(phone.person))
    return sum(row.entry["client"] == client and row.seq > phone.state.filling[client] for row in rows)
