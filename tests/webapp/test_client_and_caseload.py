"""The Python client when a caseload changes: what was held for its sake is sent again by itself."""

from datetime import timedelta

from tests.webapp.support import NOW, House
from tests.webapp.test_python_client import client_of, note, texts
from tests.webapp.test_python_client import url as url  # a fixture
from webapp.storage import assign_caseload
from webapp.storage.teams import join_team, make_team


def test_what_was_held_for_the_caseload_goes_by_itself_once_that_changes(house: House, url):
    phone = client_of(url)
    own = note(phone, house, "kept for later", whose="ben1")
    phone.sync_all()
    assert phone.state.held[own].code == "not_found"
    assign_caseload(house.database, house.people["ann"], [house.clients["ben1"]], since=NOW)
    phone.sync_all()
    assert (texts(phone), dict(phone.state.outbox)) == (["kept for later"], {})


def test_what_a_lead_could_only_read_about_goes_by_itself_once_the_client_is_their_own(house: House, url):
    lea = house.people["lea"] = house.add_person("lea", house.organisation, "lead")
    with house.database.writing() as session:
        team = make_team(session, house.organisation, "north", NOW - timedelta(days=20))
        for person, part in ((house.people["ann"], "member"), (lea, "lead")):
            join_team(session, house.organisation, team, person.id, part, NOW - timedelta(days=10))
    phone = client_of(url, "lea")
    own = note(phone, house, "seen on the way")
    phone.sync_all()
    assert phone.state.held[own].code == "read_only"
    assign_caseload(house.database, lea, [house.clients["ann2"]], since=NOW)
    phone.sync_all()
    assert list(phone.state.held) == [own]
    assign_caseload(house.database, lea, [house.clients["ann1"]], since=NOW)
    phone.sync_all()
    assert (texts(phone), dict(phone.state.outbox)) == (["seen on the way"], {})
