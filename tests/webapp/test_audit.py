"""What the audit writes down, once, and who may read it."""

import json

from tests.webapp.support import NOW, House
from tests.webapp.support_audit import actions, check, rows
from webapp.storage import create_client, end_caseload, set_active
from webapp.storage.devices import set_revoked
from webapp.storage.signing_in import end_sessions
from webapp.storage.switches import switch
from webapp.storage.teams import join_team, make_team


def test_a_visit_to_the_server_is_written_down(house: House):
    start = len(rows(house))
    ann = house.phone("ann")
    ann.sync(ann.entry(), ann.entry(), ann.entry(client="ann2"))
    house.phone("ann").pull()
    ann.browser.post("/sign-out", headers={"X-CSRFToken": ann.csrf})
    found = rows(house)[start:]
    assert [row.action for row in found] == [
        "signed_in", "entries_written", "entries_written", "device_seen", "record_read", "record_read",
        "signed_in", "device_seen", "signed_out",
    ]  # fmt: skip
    assert {row.actor_id for row in found} == {ann.person.id}
    written = [(row.record_kind, row.record_id, row.count) for row in found[1:3]]
    assert written == [("client", house.clients["ann1"], 2), ("client", house.clients["ann2"], 1)]
    assert {row.device_id for row in found[1:6]} == {ann.device}
    assert check(house).fault is None and check(house).rows == len(rows(house))


def test_a_request_stands_under_its_id_in_the_log_and_in_the_audit(house: House, ann, caplog):
    ann.sync(ann.entry())
    request_ids = {row.request_id for row in rows(house, action="entries_written")}
    assert len(request_ids) == 1 and len(request_ids.pop()) == 32


def test_reading_is_noted_once_a_person_client_and_quarter_of_an_hour(house: House, ann):
    ann.sync(ann.entry())
    for minutes in (0, 14, 2, 0):
        house.clock.forward(minutes=minutes)
        ann.browser.get(f"/api/v1/clients/{house.clients['ann1']}/entries")
    assert len(rows(house, action="record_read", record_id=house.clients["ann1"])) == 2


def test_a_page_without_anything_new_is_no_reading(house: House, ann):
    ann.epoch = ann.sync(ann.entry())["epoch"]
    before = len(rows(house))
    house.clock.forward(hours=1)
    ann.pull(after=1)
    assert len(rows(house)) == before


def test_a_client_of_somebody_else_is_refused_and_noted(house: House, ann):
    stranger = house.clients["ben1"]
    assert ann.browser.get(f"/api/v1/clients/{stranger}/entries").status_code == 404
    assert ann.verdict(ann.entry(client="ben1"))["code"] == "not_found"
    house.clock.forward(minutes=16)
    assert ann.verdict(ann.entry(client="ben1"))["code"] == "not_found"
    found = rows(house, action="client_refused")
    noted = [(row.record_id, row.outcome, row.reason) for row in found]
    assert noted == [(stranger, "refused", "not_found")] * 2


def test_a_push_full_of_strange_clients_does_not_fill_the_audit(house: House, ann):
    for _ in range(40):
        name = f"strange{_}"
        house.clients[name] = create_client(house.database, house.organisation)
    before = len(rows(house))
    ann.sync(*[ann.entry(client=f"strange{number}") for number in range(40)])
    assert len(rows(house)) - before <= 13


def test_failed_sign_ins_name_the_account_and_nothing_typed(house: House):
    phone = house.phone("ann", sign_in=False)
    phone.sign_in(password="hush-hush wrong")
    phone.sign_in(name="nobody@example.org")
    [failed] = rows(house, action="sign_in_failed")
    assert (failed.actor_id, failed.record_id, failed.outcome) == (None, phone.person.id, "refused")
    assert not any("hush" in str(vars(row)) or "example.org" in str(vars(row)) for row in rows(house))


def test_a_session_that_was_ended_or_is_of_a_closed_account_is_noted_when_tried(house: House, ann):
    end_sessions(house.database, ann.person, house.clock())
    for _ in range(3):
        assert ann.browser.get("/api/v1/session").status_code == 401
    ann.sign_in()
    set_active(house.database, ann.person, False)
    assert ann.browser.get("/api/v1/session").status_code == 401
    found = [(row.action, row.reason) for row in rows(house) if row.outcome == "refused"]
    assert found == [("session_refused", "revoked"), ("session_refused", "closed")]
    assert {"sessions_ended", "account_closed"} <= set(actions(house))


def test_what_the_service_decides_is_noted(house: House, ann):
    ann.sync()
    start = len(rows(house))
    set_revoked(house.database, house.organisation, ann.device, NOW)
    ann.sync(ann.entry())
    set_revoked(house.database, house.organisation, ann.device, None)
    switch(house.database, house.organisation, "early_warning", True)
    end_caseload(house.database, ann.person, house.clients["ann2"])
    found = [(row.action, row.record_id, row.reason, row.person_id) for row in rows(house)[start:]]
    assert found == [
        ("device_withdrawn", ann.device, None, None),
        ("device_refused", ann.device, "device_revoked", None),
        ("device_allowed", ann.device, None, None),
        ("setting_changed", "early_warning", "on", None),
        ("caseload_ended", house.clients["ann2"], None, ann.person.id),
    ]


def test_a_lead_reads_it_and_a_therapist_does_not(house: House, ann):
    house.people["lea"] = house.add_person("lea", house.organisation, "lead")
    lea = house.phone("lea")
    assert lea.browser.get("/api/v1/audit").json["rows"][0]["actor"] == lea.person.id
    assert ann.person.id not in lea.browser.get("/api/v1/audit").text
    with house.database.writing() as session:
        team = make_team(session, house.organisation, "North", NOW)
        join_team(session, house.organisation, team, lea.person.id, "lead", NOW)
        join_team(session, house.organisation, team, ann.person.id, "member", NOW)
    ann.sync(ann.entry())
    ann.browser.get(f"/api/v1/clients/{house.clients['ann1']}/entries")
    assert ann.browser.get("/api/v1/audit").status_code == 403
    assert ann.browser.get("/audit").status_code == 403
    assert house.app.test_client().get("/audit").status_code == 401
    found = lea.browser.get(f"/api/v1/audit?client={house.clients['ann1']}").json["rows"]
    assert [row["action"] for row in found] == [
        "record_read", "entries_written", "caseload_given", "client_made",
    ]  # fmt: skip
    page = lea.browser.get(f"/audit?person={ann.person.id}")
    assert page.status_code == 200 and page.headers["Cache-Control"] == "no-store"
    assert "Ann Example" in page.text and "wrote entries, 1" in page.text
    others = lea.browser.get("/api/v1/audit").json["rows"]
    told = json.dumps(others)
    assert house.people["cleo"].id not in told and house.people["ben"].id not in told
    assert lea.browser.get(f"/api/v1/audit?before={others[3]['seq']}").json["rows"] == others[4:]
    for wrong in ("before=-1", "client=x", "person='"):
        assert lea.browser.get(f"/api/v1/audit?{wrong}").status_code == 400
