"""The faults stop: everything that can be sent or fetched is, within a stated number of exchanges."""

from math import ceil

from sync.device import State
from sync.instants import read_instant
from tests.sync.simulation.phone import Phone
from tests.sync.simulation.service import PAGE
from tests.sync.simulation.world import World

MOST = 3
OF_THE_CASELOAD = ("not_found", "read_only")


def quieten(world: World) -> None:
    """Accounts are open, the line is good, everybody signs in and syncs until nothing moves."""
    while world.line:
        world.deliver(0)
    world.back.clear()
    for person in world.people:
        world.service.set_active(person, True)
    for phone in world.phones:
        phone.restart()
    stores = [(phone, person) for phone in world.phones for person in list(phone.stores)]
    again = False
    for _ in range(2 * len(stores) + 4):
        before = [phone.state_of(person) for phone, person in stores]
        for phone, person in stores:
            drain(world, phone, person, send_held=again)
        # An entry may wait for one on another phone: then a further round takes it. And what is held may
        # have been handed back by another phone meanwhile: before all is still it is sent once more.
        still = [phone.state_of(person) for phone, person in stores] == before
        if still and again:
            return
        if still:
            check_solved(world, [phone.state_of(person) for phone, person in stores])
        again = still
    raise AssertionError("the phones never come to rest")


def check_solved(world: World, states: list[State]) -> None:
    """Nothing stays held for the sake of a caseload that has its client: it went again by itself."""
    for state in states:
        writable = {*state.clients} - {*state.read_only}
        limits = world.service.writable_until(str(state.person))
        for own, verdict in state.held.items():
            client, recorded = state.outbox[own]["client"], read_instant(state.outbox[own]["recorded_at"])
            solved = client in writable and recorded <= limits[client]
            assert not (verdict.code in OF_THE_CASELOAD and solved), f"held in vain: {verdict.code}"


def drain(world: World, phone: Phone, person: str, send_held: bool) -> None:
    """One person's store on one phone, until every waiting item was offered in vain and nothing moves."""
    phone.person = person
    world.sign_in(phone)
    idle, exchanges = 0, 0
    limit = bound(world, phone)
    while True:
        before = phone.state
        world.ask(phone, MOST, send_held)
        while phone.flights:
            world.deliver(-1)
            assert world.hear(-1), "a good line and no answer"
            exchanges += 1
        assert exchanges <= limit, f"{exchanges} exchanges and not done"
        idle = idle + 1 if phone.state == before else 0
        offered = before.outbox if send_held else set(before.outbox) - set(before.held)
        returning = set(before.returning) - before.aside
        if idle and idle * phone.offers >= max(len(offered), len(returning)):
            return


def bound(world: World, phone: Phone) -> int:
    """Exchanges that are enough: the log twice in pages (stream and fills), all that waits three times."""
    own = sum(saved.person == phone.person for saved in world.saved)
    lost = 3 * ceil(len(phone.state.returning) / MOST)
    return 12 + lost + 2 * len(world.clients) + 2 * ceil(len(world.saved) / PAGE) + 3 * ceil(own / MOST)
