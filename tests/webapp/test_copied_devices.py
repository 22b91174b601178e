"""Two copies of one device, such as a phone's backup on a second phone: noticed, and nothing is lost."""

from dataclasses import replace

import pytest
from sqlalchemy import select

from tests.webapp.support import House, Phone
from tests.webapp.support_audit import rows
from tests.webapp.test_devices import lacking
from webapp.storage.devices import known_devices
from webapp.storage.models import Entry


@pytest.fixture
def two(house: House) -> tuple[Phone, Phone]:
    """A phone of Ann's that has sent one entry, and a second phone on which its backup was put."""
    first = house.phone("ann")
    first.sync(first.entry())
    return first, copy_of_phone(house, first)


def copy_of_phone(house: House, phone: Phone) -> Phone:
    made = replace(phone)
    made.sign_in()
    return made


def copied(house: House, phone: Phone) -> bool:
    with house.database.reading() as session:
        found = {each.id: each for each in known_devices(session, house.organisation, phone.person.id)}
    return found[phone.device].copied_at is not None


def ids_of(house: House) -> list[tuple[str, int]]:
    with house.database.reading() as session:
        return [(row.id, row.device_seq) for row in session.scalars(select(Entry).order_by(Entry.seq))]


def test_both_entries_under_one_number_are_kept_and_it_is_noticed(house: House, two):
    first, second = two
    one, other = first.entry("note", {"text": "one"}), second.entry("note", {"text": "other"})
    assert one["device_seq"] == other["device_seq"] == 2
    assert first.verdict(one)["verdict"] == "applied" and not copied(house, first)
    assert second.verdict(other)["verdict"] == "applied" and copied(house, first)
    assert ids_of(house)[1:] == [(one["id"], 2), (other["id"], 2)]
    assert lacking(first) == []
    texts = [entry["body"].get("text") for entry in house.phone("ann").pull()["entries"]]
    assert texts == [None, "one", "other"]


def test_it_is_written_down_once(house: House, two):
    first, second = two
    for phone in (first, second, first, second):
        phone.sync(phone.entry())
    [noted] = rows(house, action="device_copied")
    assert (noted.record_id, noted.actor_id, noted.outcome) == (first.device, first.person.id, "done")


def test_sending_twice_and_in_any_order_is_no_copy(house: House, ann):
    entries = [ann.entry() for _ in range(4)]
    ann.sync(*reversed(entries))
    ann.sync(*entries)
    ann.sync(entries[0] | {"body": {"fields": {}}})
    assert not copied(house, ann) and rows(house, action="device_copied") == []


def test_the_same_number_of_another_person_on_the_same_phone_is_no_copy(house: House, ann):
    ben = house.phone("ben")
    ben.device = ann.device
    ann.sync(ann.entry())
    ben.sync(ben.entry())
    assert not copied(house, ann) and not copied(house, ben)


def test_within_one_push_it_is_noticed_too(house: House, two):
    """An old copy of its own put back on a phone: what waited before and what was recorded since."""
    first, second = two
    first.sync(first.entry(), second.entry())
    assert copied(house, first)


def test_everybody_who_looks_after_devices_is_told(house: House, two, run):
    first, second = two
    first.sync(first.entry())
    second.sync(second.entry())
    house.people["otto"] = house.add_person("otto", house.organisation, "administrator")
    otto = house.phone("otto")
    assert "Two copies of it have synced" in otto.browser.get("/office/devices").text
    [told] = otto.browser.get("/api/v1/office/devices").json["devices"]
    assert told["copied_at"] == "2026-11-25T09:40:00.000Z"
    assert "Two copies of it have synced" in first.browser.get("/account").text
    assert "two copies of it have synced, noticed 2026-11-25 09:40 UTC" in run("devices")[1]
