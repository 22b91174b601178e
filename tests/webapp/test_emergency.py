"""Emergency access: exactly one client, for a reason, for some hours, counted, and in sight of the lead."""

from datetime import timedelta

import pytest
from sqlalchemy import select

from tests.webapp.support import NOW, House
from tests.webapp.test_rights import led as led
from tests.webapp.test_rights import seen_by
from webapp.storage import assign_caseload, end_caseload
from webapp.storage.models import Caseload, EmergencyAccess
from webapp.storage.teams import leave_team

ADDRESS = "/api/v1/emergency-access"
BORN = "1948-03-02"
GOOD = {"name": "Ada van der Berg", "birth_date": BORN, "reason": "Fell at home, her therapist is on leave."}


def post(phone, address: str = ADDRESS, **message):
    return phone.browser.post(address, json=message, headers={"X-CSRFToken": phone.csrf})


def introduce(house: House, owner: str, client: str, name: str, born: str = BORN) -> None:
    """Have a client's own therapist record who the client is."""
    phone = house.phone(owner)
    body = {"set": {"name": name, "birth_date": born}, "seen": {}}
    assert phone.verdict(phone.entry("details", body, client=client))["verdict"] == "applied"


@pytest.fixture
def ada(led: House) -> House:
    """Ben's client is Ada van der Berg, Ann's first Ida Lund, one of another service Oda."""
    introduce(led, "ben", "ben1", "Ada van der Berg")
    introduce(led, "ann", "ann1", "Ida Lund")
    introduce(led, "cleo", "cleo1", "Oda Somewhere")
    return led


def test_the_record_opens_for_a_day_and_comes_by_the_ordinary_sync(ada: House):
    ann = ada.phone("ann")
    ann.epoch, ann.after = ann.sync()["epoch"], 1
    opened = post(ann, **GOOD)
    assert opened.status_code == 200
    assert opened.json == {"client": ada.clients["ben1"], "until": "2026-11-26T09:40:00.000Z"}
    assert seen_by(ada, "ann") == {"ann1", "ann2", "ben1"}
    assert ann.verdict(ann.entry(client="ben1"))["verdict"] == "applied"
    ada.clock.forward(hours=24)
    assert seen_by(ada, "ann") == {"ann1", "ann2"}
    ann.sign_in()
    late = ann.entry(client="ben1", recorded_at="2026-11-26T09:39:59.000Z")
    assert ann.verdict(late)["verdict"] == "applied"
    assert (
        ann.verdict(ann.entry(client="ben1", recorded_at="2026-11-26T09:40:00.001Z"))["code"] == "not_found"
    )


@pytest.mark.parametrize("name", ["Berg", "van der berg", "ADA VAN DER BERG", "  Ada  van der  Bérg "])
def test_family_name_or_full_name_however_it_is_typed(ada: House, name):
    assert post(ada.phone("ann"), **GOOD | {"name": name}).status_code == 200


@pytest.mark.parametrize("wrong", [
    {"name": "Ada"},
    {"name": "Ber"},
    {"name": "%"},
    {"name": "' OR 1=1--"},
    {"birth_date": "1948-03-03"},
    {"name": "Oda Somewhere"},
    {"name": "Nobody"},
])  # fmt: skip
def test_whoever_does_not_fit_is_not_told_from_nobody(ada: House, wrong):
    """Also who is of another organisation. The same answer, word for word."""
    ann = ada.phone("ann")
    answer, nobody = post(ann, **GOOD | wrong), post(ann, **GOOD | {"name": "Quite Unknown"})
    assert (answer.status_code, answer.json) == (nobody.status_code, nobody.json)
    assert (answer.status_code, answer.json["error"]["code"]) == (404, "not_found")
    assert seen_by(ada, "ann") == {"ann1", "ann2"}


def test_two_who_fit_are_never_listed_and_the_full_name_tells_them_apart(ada: House):
    introduce(ada, "ann", "ann2", "Eva van der Berg")
    ann = ada.phone("ann")
    several, nobody = post(ann, **GOOD | {"name": "Berg"}), post(ann, **GOOD | {"name": "Nobody"})
    assert (several.status_code, several.json) == (nobody.status_code, nobody.json)
    assert "full name" in several.json["error"]["message"]
    assert post(ann, **GOOD).json["client"] == ada.clients["ben1"]


def test_the_work_is_the_same_whether_or_not_there_is_such_a_client(ada: House):
    """Counted in statements to the database, not in milliseconds."""
    from sqlalchemy import event

    introduce(ada, "ann", "ann2", "Eva van der Berg")
    ann, counts, told = ada.phone("ann"), [], []
    event.listen(ada.database.engine, "before_cursor_execute", lambda *given: told.append(given[2]))
    for name in ("Nobody", "Berg", "Oda Somewhere"):
        told.clear()
        assert post(ann, **GOOD | {"name": name}).status_code == 404
        counts.append([statement.split("WHERE")[0] for statement in told])
    assert len(counts[1]) > 3 and counts[1] == counts[2] and len(counts[0]) >= len(counts[1])


def test_tries_are_counted_in_the_database_whatever_comes_of_them(ada: House):
    ann, other = ada.phone("ann"), ada.phone("ann")
    for index in range(5):
        answer = post((ann, other)[index % 2], **GOOD | {"name": "Nobody" if index else "Berg"})
        assert answer.status_code == (404 if index else 200)
    blocked = post(other, **GOOD)
    assert (blocked.status_code, blocked.json["error"]["code"]) == (429, "slow_down")
    assert 0 < int(blocked.headers["Retry-After"]) <= 31
    assert post(ada.phone("ben"), **GOOD).status_code == 200
    ada.clock.forward(seconds=31)
    assert post(ann, **GOOD).status_code == 200
    assert post(ann, **GOOD).status_code == 429
    ada.clock.forward(hours=2)
    assert post(ann, **GOOD | {"name": "Nobody"}).status_code == 404


def test_asking_again_opens_nothing_twice_and_ones_own_client_needs_no_opening(ada: House):
    ann = ada.phone("ann")
    first = post(ann, **GOOD).json
    ada.clock.forward(minutes=20)
    assert post(ann, **GOOD).json == first
    own = post(ann, **GOOD | {"name": "Lund"})
    assert own.json == {"client": ada.clients["ann1"], "until": None}
    with ada.database.reading() as session:
        assert len(session.scalars(select(EmergencyAccess)).all()) == 1
        assert len(session.scalars(select(Caseload).where(Caseload.emergency)).all()) == 1


@pytest.mark.parametrize(("spoilt", "field"), [
    ({"reason": ""}, "reason"), ({"reason": "   \n      "}, "reason"), ({"reason": "short"}, "reason"),
    ({"reason": "x" * 501}, "reason"), ({"reason": None}, "reason"), ({"name": ""}, "name"),
    ({"name": " "}, "name"), ({"reason": "with a NUL \x00 in it"}, "reason"), ({"name": "NUL \x00"}, "name"),
    ({"name": "x" * 201}, "name"), ({"name": 3}, "name"), ({"birth_date": ""}, "birth_date"),
    ({"birth_date": "2.3.1948"}, "birth_date"), ({"birth_date": "1948-02-30"}, "birth_date"),
    ({"user": "x"}, "user"), ({"organisation_id": "x"}, "organisation_id"),
])  # fmt: skip
def test_what_is_missing_or_not_asked_for_is_refused_at_its_field(ada: House, spoilt, field):
    ann = ada.phone("ann")
    answer = post(ann, **GOOD | spoilt)
    assert (answer.status_code, answer.json["error"]["field"]) == (422, field)
    assert answer.json["error"]["message"]


def test_an_administrator_opens_nothing(ada: House):
    answer = post(ada.phone("otto"), **GOOD)
    assert (answer.status_code, answer.json["error"]["code"]) == (403, "forbidden")


def listed(house: House, name: str) -> list[dict]:
    answer = house.phone(name).browser.get(ADDRESS)
    assert answer.status_code == 200
    return answer.json["accesses"]


def test_it_shows_to_the_lead_of_the_clients_team_and_to_no_other(ada: House):
    post(ada.phone("ann"), **GOOD)
    [shown] = listed(ada, "lou")
    assert shown["person"] == {"id": ada.people["ann"].id, "name": "Ann Example"}
    assert (shown["client"], shown["reason"], shown["seen_at"]) == (ada.clients["ben1"], GOOD["reason"], None)
    assert (shown["since"], shown["until"]) == ("2026-11-25T09:40:00.000Z", "2026-11-26T09:40:00.000Z")
    assert listed(ada, "lea") == []
    for name in ("ann", "otto"):
        assert ada.phone(name).browser.get(ADDRESS).status_code == 403


def test_opening_makes_nobody_a_client_of_ones_own_team(ada: House):
    post(ada.phone("ann"), **GOOD)
    assert seen_by(ada, "lea") == {"ann1", "ann2"}


def test_a_lead_marks_what_was_looked_at_and_only_their_own(ada: House):
    post(ada.phone("ann"), **GOOD)
    [shown] = listed(ada, "lou")
    lou, lea = ada.phone("lou"), ada.phone("lea")
    address = f"{ADDRESS}/{shown['id']}/seen"
    assert post(lea, address).status_code == 404
    assert post(lou, address).json == {"seen_at": "2026-11-25T09:40:00.000Z"}
    ada.clock.forward(hours=1)
    assert post(lou, address).json == {"seen_at": "2026-11-25T09:40:00.000Z"}
    assert listed(ada, "lou")[0]["seen_at"] == "2026-11-25T09:40:00.000Z"
    assert post(lou, f"{ADDRESS}/00000000-0000-4000-8000-000000000000/seen").status_code == 404
    assert post(ada.phone("ann"), address).status_code == 403


def test_thirty_days_are_shown(ada: House):
    post(ada.phone("ann"), **GOOD)
    ada.clock.forward(days=29, hours=23)
    assert len(listed(ada, "lou")) == 1
    ada.clock.forward(hours=1)
    assert listed(ada, "lou") == []


def test_it_still_shows_after_the_client_moved_to_another_team(ada: House):
    """To both: the lead of then and the lead of now."""
    post(ada.phone("ann"), **GOOD)
    ada.clock.forward(hours=1)
    end_caseload(ada.database, ada.people["ben"], ada.clients["ben1"], until=ada.clock())
    assign_caseload(ada.database, ada.people["ann"], [ada.clients["ben1"]], since=ada.clock())
    assert len(listed(ada, "lou")) == len(listed(ada, "lea")) == 1


def test_of_a_client_of_no_team_the_lead_of_who_opened_it_is_told(ada: House):
    with ada.database.writing() as session:
        leave_team(session, ada.organisation, ada.teams["south"], ada.people["ben"].id, "member", NOW)
    post(ada.phone("ann"), **GOOD)
    assert (len(listed(ada, "lou")), len(listed(ada, "lea"))) == (0, 1)


def test_a_lead_who_may_only_read_can_write_after_opening(ada: House):
    lou = ada.phone("lou")
    assert lou.verdict(entry := lou.entry(client="ben1"))["code"] == "read_only"
    assert post(lou, **GOOD).json["until"] == "2026-11-26T09:40:00.000Z"
    assert lou.verdict(entry)["verdict"] == "applied"
    assert len(listed(ada, "lou")) == 1


def test_taking_the_client_off_ends_it_at_once(ada: House):
    post(ada.phone("ann"), **GOOD)
    ada.clock.forward(minutes=1)
    assert end_caseload(ada.database, ada.people["ann"], ada.clients["ben1"], until=ada.clock())
    assert seen_by(ada, "ann") == {"ann1", "ann2"}
    assert len(listed(ada, "lou")) == 1


def test_the_service_decides_for_how_long(database_url):
    house = House(database_url, emergency_hours=2)
    introduce(house, "ben", "ben1", "Ada van der Berg")
    assert post(house.phone("ann"), **GOOD).json["until"] == "2026-11-25T11:40:00.000Z"
    house.clock.forward(hours=1, minutes=59)
    assert len(seen_by(house, "ann")) == 3
    house.clock.forward(minutes=1)
    assert len(seen_by(house, "ann")) == 2
    house.close()


def test_a_withdrawn_or_voided_name_opens_nothing(ada: House):
    ben, ann = ada.phone("ben"), ada.phone("ann")
    body = {"set": {"name": "Una Wright", "birth_date": BORN}, "seen": {}}
    wrong = ben.entry("details", body, client="ben1")
    ben.sync(wrong)
    ben.sync(ben.entry("details", {}, client="ben1", voids=wrong["id"], reason="wrong client"))
    assert post(ann, **GOOD | {"name": "Una Wright"}).status_code == 404
    assert post(ann, **GOOD).status_code == 200


def test_neither_name_nor_reason_is_logged(ada: House, caplog):
    post(ada.phone("ann"), **GOOD)
    post(ada.phone("ann"), **GOOD | {"name": "Zebulon"})
    assert caplog.text.count("Berg") == caplog.text.count("Zebulon") == caplog.text.count("Fell") == 0


def test_a_client_found_by_details_needs_both(led: House):
    ben = led.phone("ben")
    ben.sync(ben.entry("details", {"set": {"name": "Ada van der Berg"}, "seen": {}}))
    assert post(led.phone("ann"), **GOOD).status_code == 404
    later = timedelta(minutes=1)
    led.clock.forward(seconds=later.seconds)
    ben.sync(ben.entry("details", {"set": {"birth_date": BORN}, "seen": {}}))
    assert post(led.phone("ann"), **GOOD).status_code == 200
