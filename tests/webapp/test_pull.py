"""Pulling: pages, cursors, caseloads, fills, epochs; nothing of anybody else's."""

import uuid
from datetime import timedelta

import pytest
from sqlalchemy import update

from sync.canonical import entry_hash
from tests.webapp.support import NOW, House
from webapp.storage import assign_caseload, create_client, end_caseload
from webapp.storage.models import Organisation


def note(phone, text: str = "x", **other):
    return phone.entry("note", {"text": text}, **other)


def test_entries_come_in_order_after_the_cursor(house: House, ann):
    ann.sync(*(note(ann, str(number)) for number in range(6)))
    other = house.phone("ann")
    assert [entry["seq"] for entry in other.pull()["entries"]] == [1, 2, 3, 4, 5, 6]
    page = other.pull(after=4)
    assert ([entry["seq"] for entry in page["entries"]], page["after"], page["more"]) == ([5, 6], 6, False)


def test_what_this_device_sent_comes_back_as_number_and_hash_only(house: House, ann):
    first = ann.sync(note(ann))
    ann.epoch, ann.after = first["epoch"], first["pull"]["after"]
    entry = note(ann)
    assert ann.sync(entry)["pull"]["entries"] == [], "its verdict has said so"
    [stub] = ann.sync()["pull"]["entries"]
    assert stub == {"id": entry["id"], "seq": 2, "hash": entry_hash(entry)}


def test_what_was_held_and_is_then_taken_is_not_told_twice_either(house: House, ann):
    first = ann.sync(note(ann))
    ann.epoch, ann.after, entry, right = first["epoch"], first["pull"]["after"], note(ann), house.clock.moment
    house.clock.moment = right - timedelta(days=2)
    assert ann.verdict(entry)["code"] == "future_date"
    house.clock.moment = right
    answer = ann.sync(entry)
    assert (answer["verdicts"][0]["verdict"], answer["pull"]["entries"]) == ("applied", [])


def test_from_the_beginning_and_in_a_fill_entries_are_whole(ann):
    entry = note(ann)
    ann.sync(entry)
    assert [found["body"] for found in ann.pull(after=0)["entries"]] == [{"text": "x"}]
    fill = [{"client": entry["client"], "after": 0}]
    page = ann.pull(after=1, fill=fill)
    assert [found["body"] for found in page["entries"]] == [{"text": "x"}]
    assert page["fill"] == [{"client": entry["client"], "after": 1, "more": False}]


def test_only_the_own_caseload_comes_and_the_cursor_passes_the_rest(house: House, ann):
    ben, cleo = house.phone("ben"), house.phone("cleo")
    ben.sync(note(ben, "of Ben"))
    cleo.sync(note(cleo, "of Cleo"))
    page = ann.pull()
    assert (page["entries"], page["after"]) == ([], 1)
    ann.sync(note(ann, "of Ann"))
    assert [entry["body"]["text"] for entry in ben.pull()["entries"]] == ["of Ben"]
    assert [entry["body"]["text"] for entry in cleo.pull()["entries"]] == ["of Cleo"]


def test_the_caseload_is_named_and_left_out_when_unchanged(house: House, ann):
    caseload = ann.pull()["caseload"]
    assert caseload["clients"] == sorted([house.clients["ann1"], house.clients["ann2"]])
    assert ann.pull(caseload=caseload["version"])["caseload"] is None
    end_caseload(house.database, ann.person, house.clients["ann2"], until=NOW)
    assert ann.pull(caseload=caseload["version"])["caseload"]["clients"] == [house.clients["ann1"]]


def test_a_client_new_on_the_caseload_is_filled_from_the_beginning(house: House, ann):
    ben = house.phone("ben")
    ben.sync(*(note(ben, f"early {number}") for number in range(3)))
    assert ann.pull()["after"] == 3
    assign_caseload(house.database, ann.person, [house.clients["ben1"]], since=NOW)
    page = ann.pull(after=3, fill=[{"client": house.clients["ben1"], "after": 0}])
    assert [entry["body"]["text"] for entry in page["entries"]] == ["early 0", "early 1", "early 2"]
    assert page["fill"] == [{"client": house.clients["ben1"], "after": 3, "more": False}]


def test_a_client_who_may_not_be_seen_is_not_filled(house: House, ann):
    ben = house.phone("ben")
    ben.sync(note(ben))
    strangers = [house.clients["ben1"], house.clients["cleo1"], str(uuid.uuid4())]
    page = ann.pull(after=1, fill=[{"client": client, "after": 0} for client in strangers])
    assert (page["entries"], page["fill"]) == ([], [])


def test_a_caseload_that_ended_shows_nothing_any_more(house: House, ann):
    ann.sync(note(ann))
    end_caseload(house.database, ann.person, house.clients["ann1"], until=NOW)
    assert ann.pull()["entries"] == []


def collect(phone) -> list[dict]:
    pages, after, more = [], 0, True
    while more:
        page = phone.pull(after=after)
        pages.append(page["entries"])
        after, more = page["after"], page["more"]
    return pages


SMALL_PAGE = 128 * 1024


def small_pages(monkeypatch, entries: int = 500) -> None:
    """Pages that a few entries fill."""
    monkeypatch.setattr("sync.pages.Budget.__init__.__defaults__", (SMALL_PAGE, entries), raising=False)


def test_pages_are_limited_in_bytes_and_lose_nothing(house: House, ann, monkeypatch):
    small_pages(monkeypatch)
    text = "é" * 4000
    for _ in range(2):
        ann.sync(*(note(ann, text) for _ in range(25)))
    pages = collect(house.phone("ann"))
    assert len(pages) > 2
    assert [entry["seq"] for page in pages for entry in page] == list(range(1, 51))
    assert all(
        sum(len(entry["body"]["text"].encode()) for entry in page) <= SMALL_PAGE + 8000 for page in pages
    )


def test_pages_are_limited_in_number(house: House, ann, monkeypatch):
    small_pages(monkeypatch, 10)
    ann.sync(*(note(ann) for _ in range(25)))
    pages = collect(house.phone("ann"))
    assert [len(page) for page in pages] == [10, 10, 5]


def test_a_visit_is_not_cut_in_two(house: House, ann, monkeypatch):
    small_pages(monkeypatch)
    visit = str(uuid.uuid4())
    text = "x" * 12_000
    ann.sync(*(note(ann, text, visit=visit if number >= 9 else None) for number in range(14)))
    ann.sync(note(ann, "after it"))
    pages = collect(house.phone("ann"))
    assert [len(page) for page in pages] == [14, 1]


def test_more_than_one_fill_in_pages(house: House, ann, monkeypatch):
    small_pages(monkeypatch)
    ben = house.phone("ben")
    second = create_client(house.database, house.organisation)
    house.clients["ben2"] = second
    assign_caseload(house.database, ben.person, [second], since=NOW.replace(day=1))
    for name in ("ben1", "ben2"):
        ben.sync(*(note(ben, "y" * 9000, client=name) for _ in range(20)))
    assign_caseload(house.database, ann.person, [house.clients["ben1"], second], since=NOW)
    fills = {house.clients["ben1"]: 0, second: 0}
    found, rounds = [], 0
    while fills:
        page = ann.pull(
            after=40, fill=[{"client": client, "after": after} for client, after in fills.items()]
        )
        found += [entry["seq"] for entry in page["entries"]]
        fills = {fill["client"]: fill["after"] for fill in page["fill"] if fill["more"]}
        rounds += 1
    assert found == list(range(1, 41)) and rounds > 2


def test_another_epoch_is_answered_from_the_beginning(house: House, ann):
    ann.sync(note(ann))
    caseload = ann.pull()["caseload"]["version"]
    with house.database.writing() as session:
        session.execute(update(Organisation).values(epoch=str(uuid.uuid4())))
    reply = ann.sync(pull={"after": 1, "caseload": caseload, "fill": []})
    assert reply["epoch"] != ann.epoch
    assert [entry["seq"] for entry in reply["pull"]["entries"]] == [1]
    assert reply["pull"]["entries"][0]["body"] == {"text": "x"}
    assert reply["pull"]["caseload"] is not None


def test_a_cursor_beyond_the_head_is_answered_from_the_beginning(ann):
    ann.sync(note(ann))
    page = ann.pull(after=2)
    assert [entry["seq"] for entry in page["entries"]] == [1] and page["after"] == 1


@pytest.mark.parametrize("after", [-1, "1", True, None, 1.5, 2**53, [1]])
def test_a_cursor_that_is_none_is_refused(ann, after):
    answer = ann.post(ann.message([], pull={"after": after, "caseload": None, "fill": []}))
    assert (answer.status_code, answer.json["error"]["field"]) == (400, "pull.after")


def test_the_clients_and_entries_addresses(house: House, ann):
    ann.sync(note(ann, "first"), note(ann, "second"), note(ann, "of the other", client="ann2"))
    listed = ann.browser.get("/api/v1/clients").json
    assert listed == {
        "clients": [{"id": client} for client in sorted([house.clients["ann1"], house.clients["ann2"]])]
    }
    page = ann.browser.get(f"/api/v1/clients/{house.clients['ann1']}/entries").json
    assert [entry["body"]["text"] for entry in page["entries"]] == ["first", "second"]
    page = ann.browser.get(f"/api/v1/clients/{house.clients['ann1']}/entries?after=1").json
    assert [entry["body"]["text"] for entry in page["entries"]] == ["second"]
    assert ann.browser.get(f"/api/v1/clients/{house.clients['ann1']}/entries?after=x").status_code == 400


@pytest.mark.parametrize("client", ["ben1", "cleo1", "nobody"])
def test_a_client_who_may_not_be_seen_is_not_there(house: House, ann, client):
    house.clients["nobody"] = "00000000-0000-4000-8000-000000000000"
    answer = ann.browser.get(f"/api/v1/clients/{house.clients[client]}/entries")
    assert (answer.status_code, answer.json["error"]["code"]) == (404, "not_found")


@pytest.mark.parametrize("role", ["lead", "administrator"])
def test_a_role_alone_shows_no_clients(house: House, role):
    house.people["eve"] = house.add_person("eve", house.organisation, role)
    eve = house.phone("eve")
    assert eve.pull()["caseload"]["clients"] == []
    assert eve.browser.get(f"/api/v1/clients/{house.clients['ann1']}/entries").status_code == 404
