"""Who sees and writes what: therapists, leads of teams, administrators, and who holds a withdrawn device."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from time import sleep

import pytest

from tests.webapp.support import NOW, House
from webapp.storage import assign_caseload, can, end_caseload
from webapp.storage.caseload import add_to_caseload
from webapp.storage.devices import set_revoked
from webapp.storage.refused import NotThere, Refused
from webapp.storage.teams import TAKEN, join_team, leave_team, make_team, teams_of


@pytest.fixture
def led(house: House):
    """Lea leads the team Ann is in; Lou leads one that Ben is in; Otto administers."""
    for name, role in (("lea", "lead"), ("lou", "lead"), ("otto", "administrator")):
        house.people[name] = house.add_person(name, house.organisation, role)
    house.teams = {}
    for team, member, lead in (("north", "ann", "lea"), ("south", "ben", "lou")):
        house.teams[team] = put_together(house, team, member, lead)
    return house


def put_together(house: House, team: str, member: str, lead: str) -> str:
    with house.database.writing() as session:
        made = make_team(session, house.organisation, team, NOW - timedelta(days=20))
        since = NOW - timedelta(days=20)
        join_team(session, house.organisation, made, house.people[member].id, "member", since)
        join_team(session, house.organisation, made, house.people[lead].id, "lead", since)
    return made


def seen_by(house: House, name: str) -> set[str]:
    """The clients a person gets by sync, by the list and one by one: the three must agree."""
    phone = house.phone(name)
    synced = set(phone.pull()["caseload"]["clients"])
    listed = {client["id"] for client in phone.browser.get("/api/v1/clients").json["clients"]}
    single = {
        client
        for client in house.clients.values()
        if phone.browser.get(f"/api/v1/clients/{client}/entries").status_code == 200
    }
    assert synced == listed == single
    return {name for name, client in house.clients.items() if client in synced}


def test_a_lead_sees_the_clients_of_the_people_of_their_teams(led: House):
    assert seen_by(led, "lea") == {"ann1", "ann2"}
    assert seen_by(led, "lou") == {"ben1"}
    assert seen_by(led, "ann") == {"ann1", "ann2"}
    assert seen_by(led, "otto") == set()


def test_a_lead_reads_what_was_recorded_by_the_ordinary_sync(led: House):
    ann, lea = led.phone("ann"), led.phone("lea")
    ann.sync(ann.entry("note", {"text": "for the team"}))
    assert [entry["body"]["text"] for entry in lea.pull()["entries"]] == ["for the team"]


def test_a_lead_writes_only_about_those_on_their_own_caseload(led: House):
    lea = led.phone("lea")
    mine, theirs = led.clients["ann1"], led.clients["ben1"]
    verdict = lea.verdict(entry := lea.entry(client="ann1"))
    assert (verdict["verdict"], verdict["code"], verdict["field"]) == ("held", "read_only", "client")
    assert "own caseload" in verdict["message"]
    assert lea.verdict(lea.entry(client="ben1"))["code"] == "not_found"
    assign_caseload(led.database, lea.person, [mine], since=NOW - timedelta(days=1))
    assert lea.verdict(entry)["verdict"] == "applied"
    assert theirs not in lea.pull()["caseload"]["clients"]


def test_a_device_is_told_which_records_its_person_only_reads(led: House):
    lea = led.phone("lea")
    before = lea.pull()["caseload"]
    assert before["read_only"] == before["clients"] == sorted(led.clients[own] for own in ("ann1", "ann2"))
    assign_caseload(led.database, lea.person, [led.clients["ann1"]], since=NOW - timedelta(days=1))
    after = lea.pull(caseload=before["version"])["caseload"]
    assert (after["clients"], after["read_only"]) == (before["clients"], [led.clients["ann2"]])
    assert led.phone("ann").pull()["caseload"]["read_only"] == []


def test_a_lead_of_two_teams_sees_both_and_a_client_of_both_once(led: House):
    assign_caseload(led.database, led.people["ben"], [led.clients["ann1"]], since=NOW - timedelta(days=3))
    with led.database.writing() as session:
        join_team(session, led.organisation, led.teams["south"], led.people["lea"].id, "lead", NOW)
    lea = led.phone("lea")
    assert lea.pull()["caseload"]["clients"] == sorted(led.clients[own] for own in ("ann1", "ann2", "ben1"))


@pytest.mark.parametrize("who", ["ann", "lea"])
def test_whoever_leaves_the_team_takes_their_clients_along_or_loses_them(led: House, who):
    part = {"ann": "member", "lea": "lead"}[who]
    with led.database.writing() as session:
        leave_team(session, led.organisation, led.teams["north"], led.people[who].id, part, NOW)
    assert seen_by(led, "lea") == set()
    assert seen_by(led, "ann") == {"ann1", "ann2"}


def test_a_client_who_left_the_caseload_left_the_team(led: House):
    end_caseload(led.database, led.people["ann"], led.clients["ann2"], until=NOW)
    assert seen_by(led, "lea") == {"ann1"}


def test_membership_that_begins_later_shows_nothing_yet(led: House):
    with led.database.writing() as session:
        join_team(
            session,
            led.organisation,
            led.teams["north"],
            led.people["ben"].id,
            "member",
            NOW + timedelta(hours=1),
        )
    assert seen_by(led, "lea") == {"ann1", "ann2"}
    led.clock.forward(hours=1)
    assert seen_by(led, "lea") == {"ann1", "ann2", "ben1"}


def test_an_administrator_writes_about_nobody_even_with_a_caseload_row(led: House):
    assign_caseload(led.database, led.people["otto"], [led.clients["ann1"]], since=NOW - timedelta(days=1))
    assert seen_by(led, "otto") == set()
    otto = led.phone("otto")
    assert otto.verdict(otto.entry(client="ann1"))["code"] == "not_found"


def test_no_team_reaches_another_organisation(led: House):
    with led.database.writing() as session:
        for person in (led.people["cleo"].id, "00000000-0000-4000-8000-000000000000"):
            with pytest.raises(NotThere):
                join_team(session, led.organisation, led.teams["north"], person, "member", NOW)
        with pytest.raises(NotThere):
            join_team(session, led.other, led.teams["north"], led.people["cleo"].id, "member", NOW)
        assert teams_of(session, led.other, NOW) == []


def test_who_leads_has_the_role_and_administrators_are_in_no_team(led: House):
    with led.database.writing() as session:
        for person, part in (("ben", "lead"), ("otto", "member"), ("ann", "owner")):
            with pytest.raises(Refused):
                join_team(session, led.organisation, led.teams["north"], led.people[person].id, part, NOW)
        with pytest.raises(Refused):
            make_team(session, led.organisation, "  NORTH ", NOW)


def test_putting_somebody_in_twice_changes_nothing(led: House):
    with led.database.writing() as session:
        join_team(session, led.organisation, led.teams["north"], led.people["ann"].id, "member", NOW)
    with led.database.reading() as session:
        north = next(team for team in teams_of(session, led.organisation, NOW) if team.name == "north")
    assert [person.name for person in (*north.members, *north.leads)] == ["Ann Example", "Lea Example"]


def an_east_team(led: House, session) -> None:
    make_team(session, led.organisation, "East", NOW)


def ben_in_the_north(led: House, session) -> None:
    join_team(session, led.organisation, led.teams["north"], led.people["ben"].id, "member", NOW)


def ann1_for_ben(led: House, session) -> None:
    add_to_caseload(session, led.people["ben"], [led.clients["ann1"]], NOW)


@pytest.mark.parametrize("act", [an_east_team, ben_in_the_north, ann1_for_ben])
def test_of_two_who_do_the_same_at_once_the_second_finds_it_done(led: House, act):
    def second() -> str:
        try:
            with led.database.writing() as session:
                act(led, session)
        except Refused as refused:
            return refused.sentence
        return ""

    with ThreadPoolExecutor(1) as pool:
        with led.database.writing() as session:
            act(led, session)
            waiting = pool.submit(second)
            sleep(0.2)  # long enough to look before the first has committed
        assert waiting.result(timeout=60) == (TAKEN if act is an_east_team else "")


def test_what_each_role_may_do_at_all(led: House):
    wanted = {
        "therapist": {"read_client", "write_client", "open_in_emergency"},
        "lead": {"read_client", "write_client", "open_in_emergency", "review_emergencies", "read_audit"},
        "administrator": {"manage"},
    }
    actions = set().union(*wanted.values())
    with led.database.reading() as session:
        for name, role in (("ann", "therapist"), ("lea", "lead"), ("otto", "administrator")):
            person = led.people[name]
            assert {each for each in actions if can(session, person, each, NOW)} == wanted[role]


def test_case_9_of_two_devices_one_is_withdrawn_and_the_other_goes_on(house: House, ann):
    """Case 9. The withdrawn one's session shows nothing either, whatever the device calls itself."""
    other = house.phone("ann")
    ann.sync(ann.entry())
    other.sync()
    set_revoked(house.database, house.organisation, ann.device, NOW)
    assert other.sync()["device_state"] == "active" and len(other.pull()["caseload"]["clients"]) == 2
    path = f"/api/v1/clients/{house.clients['ann1']}/entries"
    assert other.browser.get(path).status_code == 200
    assert ann.browser.get(path).status_code == 404
    assert ann.browser.get("/api/v1/clients").json == {"clients": []}
    ann.device = other.device
    answer = ann.sync(ann.entry())
    assert (answer["device_state"], answer["pull"]["caseload"]["clients"]) == ("revoked", [])
    assert answer["verdicts"][0]["code"] == "device_revoked"
    set_revoked(house.database, house.organisation, other.device, NOW)
    assert other.sync()["device_state"] == "revoked"
