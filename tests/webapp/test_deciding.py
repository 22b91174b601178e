"""What stands aside of devices, as those see it who decide about it."""

import html
import re

import pytest

from sync.items import bare
from tests.webapp.support import NOW, House, new_id
from tests.webapp.support_audit import rows
from tests.webapp.test_admitting import log, take, withdrawn
from tests.webapp.test_handing_back import Held, aside
from tests.webapp.test_handing_back import held as held
from tests.webapp.test_office import press
from tests.webapp.test_rights import led as led
from tests.webapp.test_validation import GOOD, UUID, entry_of
from webapp.features.handed_in.words import content, title
from webapp.storage import end_caseload
from webapp.storage.admitting import CODES, PROVED, UNPROVED
from webapp.storage.devices import set_revoked

A_UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-")


def test_the_commands_list_and_take_each_kind_by_itself(led: House, held: Held, run, monkeypatch):
    monkeypatch.setattr("webapp.service.held.utc_now", led.clock)
    device, first, second = held.phone.device, *held.entries
    held.give_back(first, receipt=None, covers=[])
    end_caseload(led.database, held.phone.person, led.clients["ann1"], until=NOW)
    held.give_back(second)
    done, told, _ = run("held")
    assert done == 0 and told.startswith("Larkmere Home Therapy: 2 items\n") and "confidence" not in told
    commands = [line.strip() for line in told.splitlines() if "held admit" in line]
    assert commands == [f"held admit {device} --why put_aside", f"held admit {device} --why unproved"]
    assert "handed back and proved" in told and "handed back without proof" in told
    assert run("held", "admit", device)[::2] == (1, "Nothing is kept aside of this device.\n")
    for command, own in zip(commands, (second, first), strict=True):
        done, told, _ = run(*command.split())
        assert done == 0 and told.startswith("1 item taken into the record")
        assert log(led)[-1]["id"] == own["id"]
    assert run("held")[1] == "Larkmere Home Therapy: nothing is kept aside for a decision\n"


def page_of(house: House, name: str, device: str, code: str) -> str:
    answer = house.phone(name).browser.get(f"/handed-in/{device}?why={code}")
    assert answer.status_code in (200, 404) and answer.headers["Cache-Control"] == "no-store"
    return html.unescape(answer.text) if answer.status_code == 200 else ""


def text_of(page: str) -> str:
    return " ".join(re.sub("<[^>]*>", " ", page).split())


def test_who_decides_sees_what_is_decided_of_clients_they_may_see(led: House, held: Held):
    """Lou leads Ben, who sees the client still: what nothing proves is not taken unseen."""
    held.give_back(held.entries[0], receipt=None, covers=[])
    told = text_of(page_of(led, "lou", held.phone.device, UNPROVED))
    assert re.search(r"Note : a client without a name Wed 25 Nov 2026, 09:\d\d UTC", told)
    assert "recorded by Ann Example" in told and "Said in confidence" in told
    [read] = rows(led, action="record_read", actor_id=led.people["lou"].id)
    assert read.record_id == led.clients["ann1"]


def test_of_others_they_see_who_and_when_and_no_more(led: House, held: Held):
    held.give_back(held.entries[0], receipt=None, covers=[])
    end_caseload(led.database, held.phone.person, led.clients["ann1"], until=NOW)
    for name in ("lou", "otto"):
        page = page_of(led, name, held.phone.device, UNPROVED)
        told = text_of(page)
        assert "About a client whom you may not see" in told and "recorded by Ann Example" in told
        assert not any(text in page for text in ("Said in confidence", led.clients["ann1"], "Note"))
        assert rows(led, action="record_read", actor_id=led.people[name].id) == []


def test_nobody_else_looks(led: House, held: Held):
    held.give_back(held.entries[0], receipt=None, covers=[])
    for code in (*CODES, "anything"):
        assert page_of(led, "lea", held.phone.device, code) == ""
    assert page_of(led, "lou", held.phone.device, PROVED) == ""
    assert led.phone("ann").browser.get(f"/handed-in/{held.phone.device}?why={UNPROVED}").status_code == 403


def test_from_looking_it_is_taken(led: House, held: Held):
    held.give_back(held.entries[0], receipt=None, covers=[])
    lou = led.phone("lou")
    assert f'href="/handed-in/{held.phone.device}?why={UNPROVED}"' in lou.browser.get("/handed-in").text
    told = text_of(page_of(led, "lou", held.phone.device, UNPROVED))
    assert told.count("Take all of it into the record") == 1
    assert take(lou, held.phone.device, why=UNPROVED).status_code == 303
    assert [entry["id"] for entry in log(led)] == [held.entries[0]["id"]]


def test_nothing_is_taken_that_came_after_looking(led: House, held: Held):
    held.give_back(held.entries[0], receipt=None, covers=[])
    lou, device = led.phone("lou"), held.phone.device
    [mark] = re.findall('name="mark" value="([^"]*)"', page_of(led, "lou", device, UNPROVED))
    held.give_back(held.entries[1], receipt=None, covers=[])
    for stale in (mark, "", "anything"):
        answer = take(lou, device, why=UNPROVED, mark=stale)
        assert (answer.status_code, answer.location) == (303, f"/handed-in/{device}?why={UNPROVED}")
        told = lou.browser.get(answer.location).text
        assert log(led) == [] and "more or less of it than you have seen" in told
    assert take(lou, device, why=UNPROVED).location == "/handed-in"
    assert len(log(led)) == 2


def test_what_is_no_entry_is_shown_as_such_and_breaks_nothing(led: House):
    ann, [note] = withdrawn(led, "<b>bold</b> & said " + "x" * 500)
    ann.sync("no entry at all", {"client": 7})
    spoilt = ({"body": {"text": 7}}, {"recorded_at": "then"}, {"kind": "of tomorrow"})
    ann.sync(*(note | {"id": new_id()} | each for each in spoilt))
    page = page_of(led, "lea", ann.device, "device_revoked")
    told = text_of(page)
    assert "<b>bold</b> & said" in page and "…" in told
    assert told.count("About a client whom you may not see") == 2
    assert told.count("Not sound as it stands") == 3 and "without a time" in told
    assert "Of a kind that this server does not know" in told


@pytest.mark.parametrize(("kind", "body"), GOOD, ids=lambda value: value if isinstance(value, str) else "")
def test_every_kind_is_told_in_words(kind, body):
    entry = entry_of(kind, body, visit=UUID)
    told = content(entry, NOW)
    assert told and not told.startswith("Not sound") and not A_UUID.search(told) and "{" not in told[:40]
    assert title(entry)[0].isupper() and title(entry) != "Of a kind that this server does not know"


def test_values_are_called_by_their_names_in_the_order_of_the_form():
    told = {"name": "Socks", "matters": "most", "code": "d540"}
    activity = entry_of("activity", {"item": None, "set": told, "seen": {}}, visit=UUID)
    assert content(activity, NOW).splitlines() == [
        "What, in the client's own words: Socks",
        "Kind of activity: Dressing",
        "How much does it matter to the client? One of the things that matter most",
    ]
    assert content(entry_of("note", {"text": "one\ntwo"}), NOW) == "one\ntwo"
    empty = entry_of(body={"fields": {}, "units": {}, "technique": [], "confirmed": []})
    assert content(empty, NOW).startswith("Not sound as it stands: ")


def test_a_correction_and_a_withdrawal_say_why():
    first = entry_of("note", {"text": "first"})
    mended = first | {"id": new_id(), "amends": first["id"], "reason": "mistyped"}
    gone = mended | {"amends": None, "voids": first["id"], "body": {}}
    assert (title(mended), content(mended, NOW)) == ("Note, corrected", "first\nBecause: mistyped")
    assert (title(gone), content(gone, NOW)) == ("Note, taken back", "Because: mistyped")


@pytest.mark.parametrize("way", ["command", "office"])
def test_what_a_withdrawn_device_proved_is_taken_once_it_is_allowed_again(led: House, held: Held, run, way):
    """It let go of it with its caseload: nothing but what stands aside here could bring it back."""
    device = held.phone.device
    set_revoked(led.database, led.organisation, device, NOW)
    held.give_back(held.entries[0])
    held.give_back(held.entries[1], receipt=None, covers=[])
    assert aside(led, PROVED) == [(device, "Ben Example", 1)] and log(led) == []
    if way == "command":
        done, told, _ = run("device", "allow", device)
        assert done == 0 and "is in the record now" in told
    else:
        otto = led.phone("otto")
        assert press(otto, "devices", "devices/allow", device=device).status_code == 303
    assert [bare(entry) for entry in log(led)] == [held.entries[0]]
    assert aside(led, PROVED) == [] and aside(led, UNPROVED) == [(device, "Ben Example", 1)]
    [written] = rows(led, action="entries_handed_back")
    assert (written.actor_id, written.device_id) == (held.phone.person.id, device)


def test_what_its_person_may_not_see_stays_aside_when_it_is_allowed_again(led: House, held: Held, run):
    set_revoked(led.database, led.organisation, held.phone.device, NOW)
    held.give_back()
    end_caseload(led.database, held.phone.person, led.clients["ann1"], until=NOW)
    assert run("device", "allow", held.phone.device)[0] == 0
    assert aside(led, PROVED) == [(held.phone.device, "Ben Example", 2)] and log(led) == []
