"""What a lead reads in the audit of clients who are none of theirs: that one was asked for, not which."""

import pytest

from tests.webapp.support import House
from tests.webapp.support_audit import rows
from tests.webapp.test_rights import led as led
from webapp.storage import assign_caseload


@pytest.fixture
def refused(led: House) -> str:
    """The client of Ann's for whom Ben, of Lou's team, asked twice: by the list and in a push."""
    ben, stranger = led.phone("ben"), led.clients["ann1"]
    assert ben.browser.get(f"/api/v1/clients/{stranger}/entries").status_code == 404
    led.clock.forward(minutes=16)
    assert ben.verdict(ben.entry(client="ann1"))["code"] == "not_found"
    assert [row.record_id for row in rows(led, action="client_refused")] == [stranger] * 2
    return stranger


def told(house: House, lead: str, narrowed: str = "") -> list[tuple[str, str | None]]:
    answer = house.phone(lead).browser.get(f"/api/v1/audit{narrowed}").json
    return [
        (row["outcome"], row["record"]["id"]) for row in answer["rows"] if row["action"] == "client_refused"
    ]


def test_the_lead_of_who_asked_reads_it_without_the_number(led: House, refused):
    assert told(led, "lou") == [("refused", None)] * 2
    assert told(led, "lou", f"?person={led.people['ben'].id}") == [("refused", None)] * 2
    page = led.phone("lou").browser.get("/audit").text
    assert page.count("a client of none of your teams, whose number is not shown") == 2
    assert refused not in page


def test_nor_is_it_found_by_the_number(led: House, refused):
    assert told(led, "lou", f"?client={refused}") == []
    assert "Nothing is noted here." in led.phone("lou").browser.get(f"/audit?client={refused}").text


def test_the_lead_of_the_client_reads_the_number(led: House, refused):
    """Whoever answers for the client reads who tried."""
    assert told(led, "lea") == told(led, "lea", f"?client={refused}") == [("refused", refused)] * 2


def test_a_client_of_nobody_has_no_number_either_and_ones_own_people_show_theirs(led: House):
    ben = led.phone("ben")
    nobody = "00000000-0000-4000-8000-000000000007"
    ben.browser.get(f"/api/v1/clients/{nobody}/entries")
    ben.sync(ben.entry())
    text = led.phone("lou").browser.get("/api/v1/audit").text
    assert nobody not in text and led.clients["ben1"] in text


def test_once_the_client_is_the_leads_too_the_number_is_told(led: House, refused):
    assign_caseload(led.database, led.people["ben"], [refused], since=led.clock())
    assert told(led, "lou") == [("refused", refused)] * 2
