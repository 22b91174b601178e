"""The server's own clock is a day off (fault 26): numbers and cursors do not care, and nothing is lost."""

from datetime import timedelta
from random import Random

import pytest
from sqlalchemy import select

from sync.client import Client
from sync.device import State
from sync.errors import SignInNeeded
from sync.store import MemoryStore
from tests.webapp.support import NOW, PASSWORD, House, new_id
from tests.webapp.test_random_faults import InProcess
from webapp.storage.models import Entry

DAY = timedelta(days=1)


class Devices:
    """Two devices of Ann, whose own clocks are right whatever the server's says."""

    def __init__(self, house: House) -> None:
        self.house, self.right = house, NOW
        self.phone, self.tablet = self.device(), self.device()

    def device(self) -> Client:
        store = MemoryStore(State(device=new_id()))
        made = Client(InProcess(self.house, Random(1)), store, clock=lambda: self.right.timestamp())
        made.sign_in("ann@example.org", PASSWORD)
        return made

    def note(self, text: str) -> str:
        self.right += timedelta(minutes=1)
        return self.phone.record("note", self.house.clients["ann1"], {"text": text})

    def sync(self, device: Client) -> None:
        try:
            device.sync_all()
        except SignInNeeded:
            device.sign_in("ann@example.org", PASSWORD)
            device.sync_all()


@pytest.fixture
def devices(house: House) -> Devices:
    return Devices(house)


def log(house: House) -> list[tuple[int, str]]:
    with house.database.reading() as session:
        rows = session.execute(select(Entry.seq, Entry.id).order_by(Entry.seq)).all()
    return [(row.seq, row.id) for row in rows]


def test_a_clock_that_jumps_moves_no_cursor_and_skips_no_entry(house: House, devices: Devices):
    """A day ahead, back, a day behind, right again: each entry once, in the order it came, on both."""
    saved = []
    for jump in (timedelta(0), DAY, timedelta(0), -DAY + timedelta(hours=1), timedelta(0)):
        house.clock.moment = devices.right + jump
        saved.append(devices.note(f"at {jump}"))
        for device in (devices.phone, devices.tablet):
            devices.sync(device)
        assert log(house) == list(enumerate(saved, 1)), jump
        assert (devices.tablet.state.after, set(devices.tablet.state.entries)) == (len(saved), set(saved))
    assert dict(devices.phone.state.outbox) == {}


def test_a_clock_more_than_a_day_behind_holds_and_a_right_one_takes(house: House, devices: Devices):
    """Everything seems to come from the future: it stands under needs attention, and then goes by itself."""
    devices.sync(devices.phone)
    house.clock.moment = devices.right - DAY - timedelta(hours=1)
    own = devices.note("too early for the server")
    devices.sync(devices.phone)
    devices.sync(devices.phone)
    verdict = devices.phone.state.held[own]
    assert verdict.code == "future_date" and log(house) == []
    assert "the date of this device is wrong, or the server's" in str(verdict.message)
    house.clock.moment = devices.right
    devices.sync(devices.phone)
    devices.sync(devices.tablet)
    assert (log(house), dict(devices.phone.state.outbox)) == ([(1, own)], {})
    assert set(devices.tablet.state.entries) == {own}


def test_a_clock_a_day_ahead_ends_sessions_and_nothing_else(house: House, devices: Devices):
    """Everybody has to sign in again, and a second time only if half a day passes."""
    own = devices.note("waits for a sign-in")
    house.clock.moment = devices.right + DAY
    with pytest.raises(SignInNeeded):
        devices.phone.sync()
    assert list(devices.phone.state.outbox) == [own]
    devices.sync(devices.phone)
    house.clock.moment = devices.right
    devices.phone.sync()
    assert log(house) == [(1, own)]


def test_a_day_is_not_called_future_because_the_servers_clock_is_behind(house: House, devices: Devices):
    """A hold that ended today, recorded today: by the server's clock that is tomorrow."""
    house.clock.moment = devices.right - timedelta(hours=20)
    body = {"code": "oxygen_at_home", "ended": {"day": f"{devices.right:%Y-%m-%d}", "why": "Given away."}}
    own = devices.phone.record("precaution", house.clients["ann1"], body)
    later = {**body, "ended": {**body["ended"], "day": f"{devices.right + DAY:%Y-%m-%d}"}}
    future = devices.phone.record("precaution", house.clients["ann1"], later)
    devices.sync(devices.phone)
    assert [own for _, own in log(house)] == [own]
    held = devices.phone.state.held
    assert list(held) == [future]
    assert (held[future].code, held[future].field) == ("future_date", "ended.day")
