"""What colleagues' devices still hold of a log that was restored: taken back if proved, else set aside."""

import json
from dataclasses import dataclass
from typing import Any

import pytest
from sqlalchemy import delete, func, select

from sync.canonical import entry_hash
from sync.items import bare
from sync.receipts import Receipts
from tests.webapp.support import NOW, SECRET, House, Phone
from tests.webapp.support_audit import check, rows
from tests.webapp.test_admitting import log, take
from tests.webapp.test_rights import led as led
from webapp import examiner
from webapp.storage import Database, assign_caseload, end_caseload
from webapp.storage.admitting import PROVED, UNPROVED, Admitted, admit, set_aside
from webapp.storage.audit.chain import derive
from webapp.storage.devices import set_revoked
from webapp.storage.erasing import erase_client
from webapp.storage.models import Caseload, Client, DueChange, Entry, Holding

OTHER_SECRET = "another secret, as invented as the first"


@dataclass
class Held:
    """What a device of Ben's was handed out: the receipt, the hashes it covers, the entries."""

    phone: Phone
    receipt: str
    entries: list[dict[str, Any]]

    def group(self, *entries: Any, **changes: Any) -> dict[str, Any]:
        covers = [entry_hash(entry) for entry in self.entries]
        return {"receipt": self.receipt, "covers": covers, "entries": [*entries]} | changes

    def give_back(self, *entries: Any, **changes: Any) -> list[dict[str, Any]]:
        return self.phone.sync(returned=[self.group(*(entries or self.entries), **changes)])["returned"]


def lose(house: House, *entries: dict[str, Any]) -> None:
    """The log is as it was before these came."""
    with house.database.writing() as session:
        session.execute(delete(Entry).where(Entry.id.in_([entry["id"] for entry in entries])))


@pytest.fixture
def held(led: House) -> Held:
    """Two notes of Ann's about a client whom Ben sees too; Ben's phone fetched them, the log lost them."""
    assign_caseload(led.database, led.people["ben"], [led.clients["ann1"]], since=NOW)
    ann, ben = led.phone("ann"), led.phone("ben")
    ann.sync(ann.entry("note", {"text": "Said in confidence"}), ann.entry("note", {"text": "two"}))
    pull = ben.pull()
    found = Held(ben, pull["receipt"], [bare(entry) for entry in pull["entries"]])
    lose(led, *found.entries)
    return found


def codes(verdicts: list[dict[str, Any]]) -> list[str]:
    return [verdict.get("code", verdict["verdict"]) for verdict in verdicts]


def aside(house: House, code: str) -> list[tuple[str, str, int]]:
    with house.database.reading() as session:
        found = set_aside(session, house.organisation, code)
    return [(each.device, each.person.name, each.count) for each in found]


def decide(house: House, name: str, device: str, code: str) -> list[Admitted]:
    return admit(house.database, house.people[name], device, examiner(), house.clock(), code)


def test_it_is_in_the_log_again_as_it_was_recorded(led: House, held: Held):
    led.clock.forward(hours=3)
    assert codes(held.give_back()) == ["applied", "applied"]
    assert [bare(entry) for entry in log(led)] == held.entries
    assert {entry["author"] for entry in log(led)} == {led.people["ann"].id}
    assert codes(held.give_back()) == ["duplicate", "duplicate"]
    assert len(log(led)) == 2


def test_the_audit_says_who_handed_it_back_and_holds_no_content(led: House, held: Held):
    held.give_back()
    [written] = rows(led, action="entries_handed_back")
    assert (written.actor_id, written.device_id, written.record_id, written.count) == (
        held.phone.person.id, held.phone.device, led.clients["ann1"], 2,
    )  # fmt: skip
    assert check(led).fault is None


def test_what_is_due_is_reckoned_again(led: House, held: Held):
    with led.database.writing() as session:
        session.execute(delete(DueChange))
    held.give_back()
    with led.database.reading() as session:
        assert session.scalars(select(DueChange.client_id)).all() == [led.clients["ann1"]]


def test_a_forged_receipt_proves_nothing(led: House, held: Held):
    turned = held.receipt[:-1] + ("A" if held.receipt[-1] != "A" else "B")
    for receipt in ("A" * 43, turned, held.receipt + "=", held.receipt[:-1], "é" * 43, ""):
        assert codes(held.give_back(receipt=receipt)) == ["unproved", "unproved"]
    assert log(led) == []


def test_changed_content_is_not_what_the_receipt_proves(led: House, held: Held):
    changed = held.entries[0] | {"body": {"text": "Something else"}}
    for entry in (changed, held.entries[0] | {"author": led.people["lea"].id}):
        own = [entry_hash(entry), entry_hash(held.entries[1])]
        assert codes(held.give_back(entry)) == ["unproved"]
        assert codes(held.give_back(entry, covers=own)) == ["unproved"]
    assert log(led) == []


def test_something_of_ones_own_is_not_passed_off_as_a_colleagues(led: House, held: Held):
    forged = held.phone.entry("note", {"text": "forged"}, client="ann1", author=led.people["ann"].id)
    assert codes(held.give_back(forged, *held.entries)) == ["unproved", "applied", "applied"]
    assert [bare(entry) for entry in log(led)] == held.entries


def test_something_of_ones_own_under_a_proved_id_is_judged_like_a_push(led: House, held: Held):
    end_caseload(led.database, held.phone.person, led.clients["ann1"], until=NOW)
    forged = held.phone.entry("note", {"text": "forged"}, client="ann2", id=held.entries[0]["id"])
    assert codes(held.give_back(forged, held.entries[0])) == ["not_found", "put_aside"]
    assert log(led) == []


def test_a_receipt_of_another_organisation_is_none_here(led: House, held: Held):
    database = led.database
    hashes = [entry_hash(entry) for entry in held.entries]
    theirs = database.receipts.issue(led.other, hashes)
    assert codes(held.give_back(receipt=theirs)) == ["unproved", "unproved"]
    cleo = led.phone("cleo")
    [answer] = [cleo.sync(returned=[held.group(*held.entries)])["returned"]]
    assert codes(answer) == ["unproved", "unproved"] and log(led) == []


def test_a_receipt_is_checked_with_former_secrets_too(led: House, held: Held):
    hashes = [entry_hash(entry) for entry in held.entries]
    url = led.settings.database_url
    for opened, known in (
        (Database(url, OTHER_SECRET, [SECRET]), True),
        (Database(url, OTHER_SECRET), False),
        (Database(url), False),
    ):
        assert opened.receipts.proves(held.receipt, led.organisation, hashes) is known
        opened.dispose()


def test_no_other_key_of_the_service_makes_a_receipt(led: House, held: Held):
    hashes = [entry_hash(entry) for entry in held.entries]
    for key in (derive(SECRET), SECRET.encode()):
        assert Receipts([key]).issue(led.organisation, hashes) != held.receipt


def test_what_was_erased_stays_erased(led: House, held: Held):
    held.give_back()
    with led.database.writing() as session:
        erase_client(session, led.organisation, led.clients["ann1"], "request", led.clock())
    assert codes(held.give_back()) == ["erased", "erased"]
    assert codes(held.give_back(receipt=None, covers=[])) == ["erased", "erased"]
    assert log(led) == []
    with led.database.reading() as session:
        assert session.scalar(select(func.count()).select_from(Holding)) == 0


def test_whoever_only_reads_hands_back_too(led: House, held: Held):
    """Lea leads Ann's team: she sees the client and may not record about them."""
    held.give_back()
    lea = led.phone("lea")
    pull = lea.pull()
    lost = [bare(entry) for entry in pull["entries"]]
    assert led.clients["ann1"] in pull["caseload"]["read_only"] and len(lost) == 2
    lose(led, *lost)
    given = Held(lea, pull["receipt"], lost).give_back()
    assert codes(given) == ["applied", "applied"] and [bare(entry) for entry in log(led)] == lost


def test_a_withdrawn_device_hands_back_what_is_put_aside(led: House, held: Held):
    set_revoked(led.database, led.organisation, held.phone.device, NOW)
    assert codes(held.give_back()) == ["put_aside", "put_aside"] and log(led) == []
    assert aside(led, PROVED) == [(held.phone.device, "Ben Example", 2)]
    set_revoked(led.database, led.organisation, held.phone.device, None)
    assert codes(held.give_back()) == ["applied", "applied"]
    assert aside(led, PROVED) == []


def test_a_client_who_left_the_caseload_is_put_aside_until_somebody_decides(led: House, held: Held):
    end_caseload(led.database, held.phone.person, led.clients["ann1"], until=NOW)
    assert codes(held.give_back()) == ["put_aside", "put_aside"] and log(led) == []
    assert codes(held.give_back()) == ["put_aside", "put_aside"]
    assert aside(led, PROVED) == [(held.phone.device, "Ben Example", 2)]
    assert len(rows(led, action="entries_put_aside")) == 1
    assert decide(led, "lou", held.phone.device, PROVED) == [Admitted(2, {})]
    assert [bare(entry) for entry in log(led)] == held.entries and aside(led, PROVED) == []
    [written] = rows(led, action="entries_handed_back")
    assert (written.actor_id, written.count) == (led.people["lou"].id, 2)


def test_a_client_whom_the_restored_service_does_not_know_is_known_again(led: House, held: Held):
    client = led.clients["ann1"]
    with led.database.writing() as session:
        for table in (DueChange, Caseload):
            session.execute(delete(table).where(table.client_id == client))
        session.execute(delete(Client).where(Client.id == client))
    assert codes(held.give_back()) == ["put_aside", "put_aside"]
    assert decide(led, "otto", held.phone.device, PROVED) == [Admitted(2, {})]
    assert [bare(entry) for entry in log(led)] == held.entries
    assert rows(led, action="client_made", record_id=client)[-1].actor_id == led.people["otto"].id


def test_what_nothing_proves_is_taken_on_a_leads_word_under_its_author(led: House, held: Held):
    assert codes(held.give_back(receipt=None, covers=[])) == ["unproved", "unproved"]
    assert aside(led, UNPROVED) == [(held.phone.device, "Ben Example", 2)]
    assert decide(led, "lou", held.phone.device, UNPROVED) == [Admitted(2, {})]
    assert [bare(entry) for entry in log(led)] == held.entries and aside(led, UNPROVED) == []


def test_what_nothing_proves_must_be_sound_to_be_taken(led: House, held: Held):
    lost = held.entries[0] | {"kind": "temperature", "body": {"fields": {}}}
    stranger = held.entries[1] | {"author": led.people["cleo"].id}
    held.give_back(lost, stranger, receipt=None, covers=[])
    [done] = decide(led, "otto", held.phone.device, UNPROVED)
    assert done.taken == 0 and sum(done.refused.values()) == 2 and log(led) == []


def test_an_own_entry_needs_no_proof(led: House, held: Held):
    tablet = led.phone("ann")
    answer = tablet.sync(returned=[held.group(*held.entries, receipt=None, covers=[])])
    assert codes(answer["returned"]) == ["applied", "applied"]


def test_the_page_says_how_much_and_not_what(led: House, held: Held):
    held.give_back(held.entries[0], receipt=None, covers=[])
    end_caseload(led.database, held.phone.person, led.clients["ann1"], until=NOW)
    held.give_back(held.entries[1])
    lou, lea = led.phone("lou"), led.phone("lea")
    page = lou.browser.get("/handed-in").text
    assert "Ben Example" in page and "1 handed back, received" in page
    assert "1 handed back without proof, received" in page
    assert not any(text in page for text in ("Said in confidence", led.clients["ann1"], "Ann Example"))
    assert "Ben Example" not in lea.browser.get("/handed-in").text
    assert take(lea, held.phone.device, why=PROVED).status_code == 404
    assert take(lou, held.phone.device, why="anything").status_code == 404
    assert take(lou, held.phone.device).status_code == 404
    assert take(lou, held.phone.device, why=PROVED).status_code == 303
    assert [entry["id"] for entry in log(led)] == [held.entries[1]["id"]]
    assert take(lou, held.phone.device, why=UNPROVED).status_code == 303
    assert len(log(led)) == 2


@pytest.mark.parametrize(
    ("returned", "field"),
    [
        ({}, "returned"),
        (["x"], "returned.0"),
        ([{"receipt": None, "covers": "x", "entries": []}], "returned.0.covers"),
        ([{"receipt": None, "covers": ["x"], "entries": []}], "returned.0.covers"),
        ([{"receipt": 1, "covers": [], "entries": []}], "returned.0.receipt"),
        ([{"receipt": "A" * 81, "covers": [], "entries": []}], "returned.0.receipt"),
        ([{"receipt": None, "covers": [], "entries": None}], "returned.0.entries"),
        ([{"receipt": None, "covers": ["0" * 64] * 10_001, "entries": []}], "returned"),
    ],
)
def test_a_spoilt_message_is_refused_whole(led: House, held: Held, returned, field):
    mine = held.phone.entry("note", {"text": "mine"})
    answer = held.phone.post(held.phone.message([mine], returned=returned))
    assert answer.status_code == 400 and answer.json["error"]["field"] == field
    assert log(led) == []


def test_items_that_are_no_entries_get_a_verdict_each(led: House, held: Held):
    strange = [None, 7, "x", [], {}, {"id": held.entries[0]["id"]}, held.entries[0] | {"seq": 1},
               held.entries[0] | {"body": {"n": 1.5}}]  # fmt: skip
    verdicts = held.give_back(*strange, held.entries[0])
    assert [verdict["verdict"] for verdict in verdicts] == ["held"] * 8 + ["applied"]
    assert len(log(led)) == 1


def test_too_much_at_once_is_refused(led: House, held: Held):
    message = held.phone.message([], returned=[held.group(*[held.entries[0]] * 501)])
    assert held.phone.post(message).json["error"]["code"] == "too_many"
    large = [held.entries[0] | {"body": {"text": "x" * 300_000}} for _ in range(2)]
    answer = held.phone.post(held.phone.message([], returned=[held.group(*large)]))
    assert (answer.status_code, answer.json["error"]["code"]) == (413, "too_large")
    assert codes(held.give_back(large[0])) == ["unproved"] and log(led) == []


def test_nothing_of_it_is_logged(led: House, held: Held, caplog):
    held.give_back()
    held.give_back(held.entries[0] | {"body": {"text": "Something else"}})
    logged = json.dumps([vars(record) for record in caplog.records], default=str)
    assert "in confidence" not in logged and held.receipt not in logged
