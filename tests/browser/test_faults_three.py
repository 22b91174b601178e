"""Three devices of one person at one client, all without signal: faults 44, 48, 49 and 50."""

from datetime import UTC, datetime

import pytest

from tests.browser.engine_bench import open_controlled, sign_in
from tests.browser.kept import ENTRIES, check_all_there, check_kept, hashes, save, sync
from tests.browser.test_faults_people import CARD, SAVE_ONE, database_of, person_in
from webapp.storage import end_caseload

PRINTED = r"Failed to load resource: net::ERR_"


@pytest.fixture
def devices(open_phone, own_bench, watch):
    """Three, each signed in, each having synced once."""
    watch.allow(PRINTED)
    opened = []
    for _ in range(3):
        page = open_controlled(open_phone(), own_bench)
        sign_in(page, own_bench)
        assert sync(page, own_bench.ids["person"])["phase"] == "idle"
        opened.append(page)
    return opened


class Work:
    """What the three do, and what they called saved."""

    def __init__(self, devices, bench) -> None:
        self.devices, self.bench, self.saved = devices, bench, {}
        self.person, self.client = bench.ids["person"], bench.ids["one"]

    def save(self, device, **draft) -> dict:
        made = device.evaluate(SAVE_ONE, [self.person, {"client": self.client, **draft}])
        self.saved |= hashes([made])
        return made

    def say(self, device, value: str, seen: list[str] | None = None, field: str = "access") -> str:
        body = {"set": {field: value}, "seen": {field: seen} if seen else {}}
        return self.save(device, kind="details", body=body)["id"]

    def sync(self, *devices) -> None:
        for device in devices:
            assert sync(device, self.person)["phase"] == "idle"

    def note(self, device, text: str, **link) -> str:
        return self.save(device, kind="note", body={"text": text}, **link)["id"]

    def go(self, offline: bool) -> None:
        for device in self.devices:
            device.context.set_offline(offline)

    def sync_all(self) -> None:
        """Until everybody has what everybody sent; the same on all three, and on the server."""
        self.go(offline=False)
        self.sync(*self.devices * 2)
        for device in self.devices:
            check_all_there(device, self.bench, self.person, self.saved)
            assert hashes(device.evaluate(ENTRIES, [self.person, self.client])) == self.saved

    def cards(self) -> list[dict]:
        return [device.evaluate(CARD, [self.person, self.client]) for device in self.devices]

    def options(self) -> list[str]:
        """The values that stand side by side, the same on all three."""
        first, *others = self.cards()
        assert all(other == first for other in others)
        found = [option["value"] for each in first["disagreements"] for option in each["options"]]
        return sorted(found)


@pytest.fixture
def work(devices, own_bench) -> Work:
    return Work(devices, own_bench)


def test_three_disagree_and_two_settle_it_differently(work: Work):
    """Fault 50: all three values stand, then the two choices, then the one that saw both."""
    first, second, third = work.devices
    work.go(offline=True)
    doors = ["The blue door.", "Ring twice.", "Key at the neighbour's."]
    said = [work.say(device, door) for device, door in zip(work.devices, doors, strict=True)]
    work.sync_all()
    assert work.options() == sorted(doors)
    work.go(offline=True)
    chosen = [work.say(first, doors[0], said), work.say(second, doors[1], said)]
    work.sync_all()
    assert work.options() == sorted(doors[:2])
    work.say(third, doors[1], chosen)
    work.sync_all()
    assert work.options() == []
    assert [card["details"]["access"] for card in work.cards()] == [doors[1]] * 3

    # What nobody looked at is not settled by somebody else's choice.
    said = [work.say(first, "1 Mill Lane", field="address"), work.say(second, "2 Mill Lane", field="address")]
    third.context.set_offline(True)
    work.say(third, "3 Mill Lane", field="address")
    work.sync(first, second, first)
    work.say(first, "2 Mill Lane", said, field="address")
    work.sync(first)
    work.sync_all()
    assert work.options() == ["2 Mill Lane", "3 Mill Lane"]


def test_corrections_travel_in_any_order_and_go_with_their_client(work: Work):
    """Faults 48 and 49, then 44: corrections of what was not sent or was withdrawn; the client moves."""
    first, second, third = work.devices
    note = work.note(first, "Uses a stick.")
    better = work.note(first, "Uses a frame.", amends=note, reason="misheard")
    work.sync_all()
    work.go(offline=True)
    gone = work.save(second, kind="note", body={}, voids=note, reason="wrong client")["id"]
    work.note(third, "Uses both.", amends=better, reason="saw it")
    work.sync_all()
    work.note(first, "Uses both.", amends=gone, reason="right after all")
    work.sync_all()

    first.context.set_offline(True)
    waiting = save(first, work.person, work.client, 3)
    database = database_of(work.bench)
    end_caseload(database, person_in(database), work.client, until=datetime.now(UTC))
    database.dispose()
    work.sync(third)
    assert third.evaluate(ENTRIES, [work.person, work.client]) == []
    assert set(check_kept(first, work.bench, work.person, work.saved | waiting)) == set(waiting)
    first.context.set_offline(False)
    work.sync(first)
    check_all_there(first, work.bench, work.person, work.saved | waiting)
    assert first.evaluate(ENTRIES, [work.person, work.client]) == []
