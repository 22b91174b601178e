"""What a withdrawn device handed in: listed without content, taken into the record by who may decide it."""

import json
import re
from dataclasses import replace

import pytest
from sqlalchemy import select

from tests.webapp.support import NOW, House
from tests.webapp.support_audit import check, rows
from tests.webapp.test_office import do
from tests.webapp.test_own_account import press
from tests.webapp.test_rights import led as led
from webapp import examiner
from webapp.storage import end_caseload
from webapp.storage.admitting import Admitted, admit, set_aside
from webapp.storage.devices import set_revoked
from webapp.storage.models import Entry, Holding
from webapp.storage.read import entry_json
from webapp.storage.refused import NotThere, Refused
from webapp.storage.teams import leave_team


def withdrawn(house: House, *texts: str):
    """A phone of Ann's that was withdrawn and then handed in a note for each text; the notes."""
    ann = house.phone("ann")
    ann.sync()
    set_revoked(house.database, house.organisation, ann.device, NOW)
    notes = [ann.entry("note", {"text": text}) for text in texts]
    assert {each.get("code") for each in ann.sync(*notes)["verdicts"]} <= {"device_revoked"}
    return ann, notes


def decide(house: House, name: str, device: str) -> list[Admitted]:
    return admit(house.database, house.people[name], device, examiner(), house.clock())


def log(house: House) -> list[dict]:
    with house.database.reading() as session:
        return [entry_json(row) for row in session.scalars(select(Entry).order_by(Entry.seq))]


def waiting(house: House) -> list[tuple[str, str, int]]:
    with house.database.reading() as session:
        found = set_aside(session, house.organisation)
    return [(each.device, each.person.name, each.count) for each in found]


@pytest.mark.parametrize("who", ["lea", "otto"])
def test_it_is_taken_as_it_was_recorded_under_its_author(led: House, who):
    ann, notes = withdrawn(led, "one", "two")
    assert waiting(led) == [(ann.device, "Ann Example", 2)]
    led.clock.forward(days=3)
    assert decide(led, who, ann.device) == [Admitted(2, {})]
    stored = log(led)
    assert [{key: entry[key] for key in notes[0]} for entry in stored] == notes
    assert {entry["author"] for entry in stored} == {ann.person.id}
    assert waiting(led) == []
    with led.database.reading() as session:
        assert all(row.settled_at for row in session.scalars(select(Holding)))


def test_repeating_it_changes_nothing(led: House):
    ann, notes = withdrawn(led, "one")
    decide(led, "otto", ann.device)
    before = log(led)
    with pytest.raises(NotThere):
        decide(led, "otto", ann.device)
    # The phone, allowed again, sends it once more.
    set_revoked(led.database, led.organisation, ann.device, None)
    assert ann.verdict(notes[0])["verdict"] == "duplicate"
    assert log(led) == before


def test_the_audit_says_who_had_it_taken_and_holds_no_content(led: House):
    ann, _ = withdrawn(led, "Said in confidence")
    decide(led, "otto", ann.device)
    [written] = rows(led, action="entries_written")
    [admitted] = rows(led, action="held_admitted")
    otto = led.people["otto"].id
    assert (written.actor_id, written.device_id, written.count) == (otto, ann.device, 1)
    assert (admitted.actor_id, admitted.record_id, admitted.person_id, admitted.count) == (
        otto, ann.device, ann.person.id, 1,
    )  # fmt: skip
    assert check(led).fault is None


@pytest.mark.parametrize(
    ("who", "wrong"), [("ann", Refused), ("ben", Refused), ("lou", NotThere), ("cleo", NotThere)]
)
def test_nobody_else_decides_it(led: House, who, wrong):
    ann, _ = withdrawn(led, "one")
    with pytest.raises(wrong):
        decide(led, who, ann.device)
    assert log(led) == [] and len(waiting(led)) == 1


def test_a_lead_on_a_withdrawn_device_decides_nothing(led: House):
    ann, _ = withdrawn(led, "one")
    led.people["lea"] = replace(led.people["lea"], withdrawn=True)
    with pytest.raises(Refused):
        decide(led, "lea", ann.device)
    assert log(led) == []


def test_the_other_rules_of_the_log_hold(led: House):
    """What was recorded after the caseload ended and what is no sound entry stay aside; the rest goes in."""
    ann, _ = withdrawn(led)
    good, late = ann.entry("note", {"text": "good"}), ann.entry("note", {"text": "late"}, client="ann2")
    wrong, changed = ann.entry(body={"fields": {}}), ann.entry("note", {"text": "new"})
    ann.sync(good, late, wrong, "no entry at all")
    end_caseload(led.database, ann.person, led.clients["ann2"], until=NOW.replace(hour=1))
    set_revoked(led.database, led.organisation, ann.device, None)
    ann.sync(changed)
    set_revoked(led.database, led.organisation, ann.device, NOW)
    [done] = decide(led, "otto", ann.device)
    assert done.taken == 1 and sum(done.refused.values()) == 3 and done.refused["not_found"] == 1
    assert [entry["id"] for entry in log(led)] == [changed["id"], good["id"]]
    assert waiting(led) == [(ann.device, "Ann Example", 3)]
    with led.database.reading() as session:
        raws = session.scalars(select(Holding.raw).where(Holding.settled_at.is_(None)))
        assert sorted(map(str, map(json.loads, raws))) == sorted(map(str, [late, wrong, "no entry at all"]))


def test_a_correction_finds_its_original_wherever_it_came(led: House):
    ann, _ = withdrawn(led)
    first = ann.entry("note", {"text": "frist"})
    mended = ann.entry("note", {"text": "first"}, amends=first["id"], reason="mistyped")
    ann.sync(mended)
    ann.sync(first)
    assert decide(led, "otto", ann.device) == [Admitted(2, {})]
    assert [entry["id"] for entry in log(led)] == [first["id"], mended["id"]]


def test_what_two_people_handed_in_goes_under_each(led: House):
    ann, _ = withdrawn(led, "of Ann")
    ben = led.phone("ben")
    ben.device = ann.device
    ben.sync(ben.entry("note", {"text": "of Ben"}))
    assert [count for *_, count in waiting(led)] == [1, 1]
    # Each of the leads has one of the two in their team: neither decides for both.
    assert decide(led, "lea", ann.device) == [Admitted(1, {})]
    assert [(entry["author"]) for entry in log(led)] == [ann.person.id]
    with pytest.raises(NotThere):
        decide(led, "lea", ann.device)
    assert decide(led, "otto", ann.device) == [Admitted(1, {})]
    assert {entry["author"] for entry in log(led)} == {ann.person.id, ben.person.id}


def test_many_are_taken_in_parts(led: House, monkeypatch):
    monkeypatch.setattr("webapp.storage.admitting.AT_ONCE", 2)
    ann, notes = withdrawn(led, *"abcde")
    assert decide(led, "otto", ann.device) == [Admitted(5, {})]
    assert [entry["id"] for entry in log(led)] == [note["id"] for note in notes]


def test_the_office_page_says_how_much_and_leads_to_where_it_is_looked_at(led: House):
    ann, _ = withdrawn(led, "Said in confidence")
    otto = led.phone("otto")
    page = otto.browser.get("/office/devices").text
    assert "1 handed in since it was withdrawn" in page and "Said in confidence" not in page
    assert f'href="/handed-in/{ann.device}">Look at it and decide' in page
    # Nothing here takes it unseen.
    assert press(otto, "devices/admit", "/office/devices", device=ann.device).status_code == 400
    assert do(otto, "devices/admit", device=ann.device).status_code == 404 and log(led) == []
    assert take(otto, ann.device).status_code == 303 and len(log(led)) == 1
    page = otto.browser.get("/handed-in").text
    assert "is in the record now" in page and "Nothing stands aside for you to decide." in page
    assert 'href="/office/devices"' in page
    assert 'href="/office/devices"' not in led.phone("lea").browser.get("/handed-in").text
    assert "handed in since" not in otto.browser.get("/office/devices").text


def test_a_leads_page_shows_what_their_own_people_handed_in_and_has_it_taken(led: House):
    ann, _ = withdrawn(led, "Said in confidence")
    ben = led.phone("ben")
    ben.device = ann.device
    ben.sync(ben.entry("note", {"text": "of Ben"}))
    lea, lou = led.phone("lea"), led.phone("lou")
    page = lea.browser.get("/handed-in")
    assert page.headers["Cache-Control"] == "no-store"
    assert "Ann Example" in page.text and "1 handed in, received" in page.text
    assert not any(text in page.text for text in ("Ben Example", "Said in confidence", led.clients["ann1"]))
    assert "Ben Example" in lou.browser.get("/handed-in").text
    assert take(lea, ann.device).status_code == 303
    page = lea.browser.get("/handed-in").text
    assert "is in the record now" in page and "Nothing stands aside for you to decide." in page
    assert [entry["author"] for entry in log(led)] == [ann.person.id]
    [admitted] = rows(led, action="held_admitted")
    assert (admitted.actor_id, admitted.person_id) == (lea.person.id, ann.person.id)
    assert take(lea, ann.device).status_code == 404
    assert waiting(led) == [(ann.device, "Ben Example", 1)]


def test_a_lead_decides_for_nobody_who_left_the_team_nor_for_themselves(led: House):
    ann, _ = withdrawn(led, "one")
    lea = led.phone("lea")
    lea.sync()
    other = led.phone("lea")
    set_revoked(led.database, led.organisation, lea.device, NOW)
    lea.sync(lea.entry("note", {"text": "the lead's own"}, client="ann1"))
    led.clock.forward(minutes=1)
    with led.database.writing() as session:
        leave_team(session, led.organisation, led.teams["north"], ann.person.id, "member", led.clock())
    assert "Nothing stands aside for you" in other.browser.get("/handed-in").text
    for device in (ann.device, lea.device, "nonsense"):
        assert take(other, device).status_code == 404
    assert log(led) == []


def test_the_page_says_how_many_stay_aside(led: House):
    ann, _ = withdrawn(led, "one")
    ann.sync(ann.entry(body={"fields": {}}))
    lea = led.phone("lea")
    assert take(lea, ann.device).status_code == 303
    assert "1 could not be taken for another reason" in lea.browser.get("/handed-in").text


def take(phone, device: str, **more: str):
    """Look at what a device handed in, and press the button below."""
    looked = phone.browser.get(f"/handed-in/{device}?why={more.get('why', 'device_revoked')}").text
    more = {"mark": (re.findall('name="mark" value="([^"]*)"', looked) or [""])[0], **more}
    token = phone.browser.get("/sign-in").text.split('name="csrf_token" value="')[1].split('"')[0]
    return phone.browser.post("/handed-in", data={"csrf_token": token, "device": device, **more})


def test_a_lead_finds_the_way_on_the_account_page(led: House):
    assert 'href="/handed-in"' in led.phone("lea").browser.get("/account").text
    assert 'href="/handed-in"' not in led.phone("ann").browser.get("/account").text


def test_the_commands(house: House, run, monkeypatch):
    monkeypatch.setattr("webapp.service.held.utc_now", house.clock)
    assert run("held") == (0, "Larkmere Home Therapy: nothing is kept aside for a decision\n", "")
    ann, _ = withdrawn(house, "Said in confidence", "and more")
    done, told, _ = run("held")
    assert done == 0 and "confidence" not in told
    assert told.splitlines()[2:] == [
        ann.device,
        "  A phone, Ann Example: 2 items, received 2026-11-25 09:40 to 2026-11-25 09:40 UTC",
        "  handed in by a withdrawn device: ask its person whether it is theirs",
        f"  held admit {ann.device}",
    ]
    done, told, _ = run("held", "admit", ann.device)
    assert done == 0 and told.startswith("2 items taken into the record, under the author")
    [admitted] = rows(house, action="held_admitted")
    assert (admitted.actor_id, admitted.count) == (None, 2)
    assert run("held", "admit", ann.device)[::2] == (1, "Nothing is kept aside of this device.\n")
    assert run("held", "admit")[0] == 1
