"""The faults stop: everything that can be sent or fetched is, within a stated number of exchanges."""

from math import ceil

from tests.sync.simulation.phone import Phone
from tests.sync.simulation.service import PAGE
from tests.sync.simulation.world import World

MOST = 3


def quieten(world: World) -> None:
    """Accounts are open, the line is good, everybody signs in and syncs until nothing moves."""
    while world.line:
        world.deliver(0)
    world.back.clear()
    for person in world.people:
        world.service.set_active(person, True)
    stores = [(phone, person) for phone in world.phones for person in phone.stores]
    again = True
    for _ in range(2 * len(stores) + 4):
        before = [phone.store(person).get() for phone, person in stores]
        for phone, person in stores:
            drain(world, phone, person, send_held=again)
        # An entry may wait for one on another phone: then a further round takes it. And what is held may
        # have been handed back by another phone meanwhile: before all is still it is sent once more.
        still = [phone.store(person).get() for phone, person in stores] == before
        if still and again:
            return
        again = still
    raise AssertionError("the phones never come to rest")


def drain(world: World, phone: Phone, person: str, send_held: bool) -> None:
    """One person's store on one phone, until every waiting item was offered in vain and all is fetched."""
    phone.person, phone.flight, phone.off_at = person, None, None
    world.sign_in(phone)
    idle, exchanges = 0, 0
    limit = bound(world, phone)
    while True:
        before = open_items(phone)
        world.ask(phone, MOST, send_held)
        world.deliver(-1)
        reply = world.hear(-1)
        assert reply is not None, "a good line and no answer"
        exchanges += 1
        assert exchanges <= limit, f"{exchanges} exchanges and not done"
        idle = 0 if open_items(phone) != before else idle + 1
        fetched = not reply.more and not phone.state.filling
        offered = phone.state.outbox if send_held else set(phone.state.outbox) - set(phone.state.held)
        returning = set(phone.state.returning) - phone.state.aside
        if fetched and idle * MOST >= max(len(offered), len(returning)):
            return


def open_items(phone: Phone) -> set[str]:
    """What waits to be sent and what waits to be handed back."""
    return {*phone.state.outbox, *(set(phone.state.returning) - phone.state.aside)}


def bound(world: World, phone: Phone) -> int:
    """Exchanges that are enough: the log twice in pages (stream and fills), all that waits three times."""
    own = sum(saved.person == phone.person for saved in world.saved)
    lost = 3 * ceil(len(phone.state.returning) / MOST)
    return 8 + lost + 2 * len(world.clients) + 2 * ceil(len(world.saved) / PAGE) + 3 * ceil(own / MOST)
