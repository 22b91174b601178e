"""The private calendar, read back by icalendar (RFC 5545): a day each, nobody named unless chosen."""

from datetime import date
from pathlib import Path
from urllib.parse import urlsplit

import icalendar
import pytest

from tests.databases import copy_of
from tests.webapp.reminders.support import ask
from webapp.storage.people import set_active

NAME = "Rosa Quill,\r\nBEGIN:VALARM; \\n two"


@pytest.fixture
def database_url(sqlite_template: Path, tmp_path: Path) -> str:
    """One kind of database: test_reminding.py stores and reads the same rows on both."""
    return copy_of(sqlite_template, tmp_path)



@pytest.fixture
def planned(served, dues, worker_for):
    ann = served.phone("ann")
    details = {"set": {"name": NAME.replace("\r\n", " ")}, "seen": {}}
    assert ann.verdict(ann.entry("details", details))["verdict"] == "applied"
    dues.set(served.clients["ann1"], date(2026, 11, 30))
    dues.set(served.clients["ann2"], date(2028, 2, 29))
    worker_for(served).once()
    return ann


def address_of(ann, names: bool = False) -> str:
    address = urlsplit(ask(ann, "/calendar", {"names": names}).json["address"])
    return address.path


def events_of(served, path: str) -> list[icalendar.Event]:
    answer = served.app.test_client().get(path)
    assert answer.status_code == 200 and answer.mimetype == "text/calendar"
    assert answer.headers["Cache-Control"] == "no-store"
    return list(icalendar.Calendar.from_ical(answer.data).walk("VEVENT"))


def test_every_client_has_a_day_and_no_name(served, planned):
    path = address_of(planned)
    events = events_of(served, path)
    assert [event.decoded("dtstart") for event in events] == [date(2026, 11, 30), date(2028, 2, 29)]
    raw = served.app.test_client().get(path).text
    assert "Rosa" not in raw and not any(client in raw for client in served.clients.values())
    assert {str(event["summary"]) for event in events} == {"Reassessment due"}
    assert len({str(event["uid"]) for event in events}) == 2
    # RFC 5545, 3.1: lines of at most 75 octets, each ended by CRLF.
    assert all(len(line) <= 75 for line in raw.encode().split(b"\r\n"))
    assert "\n" not in raw.replace("\r\n", "")


def test_case_23_a_chosen_name_is_text_whatever_is_in_it(served, planned):
    [first, second] = events_of(served, address_of(planned, names=True))
    assert str(first["summary"]) == f"Reassessment due: {NAME.replace(chr(13) + chr(10), ' ')}"
    assert first.subcomponents == [] and str(second["summary"]) == "Reassessment due"


def test_an_event_keeps_its_number_when_its_day_moves(served, planned, dues, worker_for):
    path = address_of(planned)
    before = events_of(served, path)[0]
    dues.set(served.clients["ann1"], date(2026, 12, 3))
    planned.sync(planned.entry())
    worker_for(served).once()
    after = events_of(served, path)[0]
    assert after["uid"] == before["uid"] and after.decoded("dtstart") == date(2026, 12, 3)


def test_an_address_that_was_replaced_or_ended_leads_nowhere(served, planned):
    first, second = address_of(planned), address_of(planned)
    assert served.app.test_client().get(first).status_code == 404
    assert ask(planned).json["calendar"] is True
    assert events_of(served, second)
    assert ask(planned, "/calendar/end", {}).json["calendar"] is False
    assert served.app.test_client().get(second).status_code == 404


@pytest.mark.parametrize("token", ["x", "x" * 5000, "%00", "%ED%A0%80", "..%2f..%2fsecret"])
def test_nobody_s_address(served, token):
    assert served.app.test_client().get(f"/calendar/{token}.ics").status_code == 404


def test_a_closed_account_has_no_calendar(served, planned):
    path = address_of(planned)
    set_active(served.database, planned.person, False)
    assert served.app.test_client().get(path).status_code == 404
