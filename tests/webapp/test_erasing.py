"""Erasing a record: nothing of it is left, nothing of it comes back, everybody else's stays as it was."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select, text

from tests.webapp.support import House
from tests.webapp.support_audit import actions, check, rows
from webapp.storage import create_client, end_caseload
from webapp.storage.backup import restore, write_backup
from webapp.storage.devices import known_devices
from webapp.storage.erasing import NotErased, due_clients, erase_client, lines_of, set_hold, set_retention
from webapp.storage.erasing.due import years_after
from webapp.storage.models import Base, Client, Entry, Holding, Organisation

SECRETS = ("Zebulon", "hush-hush")


def fill(house: House, ann) -> None:
    """Eight of ann1 and ann2 in turn, and something of ann1 that stands aside."""
    details = {"set": {"name": "Zebulon Quackenbush"}, "seen": {"name": []}}
    mine = [ann.entry("details", details), ann.entry("note", {"text": "hush-hush"}), ann.entry(), ann.entry()]
    other = [ann.entry(client="ann2") for _ in mine]
    ann.sync(*[entry for pair in zip(mine, other, strict=True) for entry in pair])
    assert ann.verdict(ann.entry("note", {"text": "hush-hush", "wrong": 1}))["verdict"] == "held"
    fixed = ann.entry("note", {"text": "hush-hush"}, amends=mine[1]["id"], reason="misheard")
    assert ann.verdict(fixed)["verdict"] == "applied"


def erase(house: House, client: str = "ann1", ground: str = "request") -> int:
    with house.database.writing() as session:
        return erase_client(session, house.organisation, house.clients[client], ground, house.clock())


def everything(house: House) -> str:
    """All that lies in the database, as text."""
    with house.database.reading() as session:
        found = [row for table in Base.metadata.sorted_tables for row in session.execute(select(table))]
    return "\n".join(map(repr, found))


def test_nothing_is_left_but_ids_and_hashes(house: House, ann):
    fill(house, ann)
    kept = [entry["id"] for entry in ann.browser.get(entries_of(house, "ann1")).json["entries"]]
    assert all(word in everything(house) for word in SECRETS)
    assert erase(house) == 5
    left = everything(house)
    assert not any(word in left for word in SECRETS) and not any(own in left for own in kept)
    with house.database.reading() as session:
        assert session.get(Client, (house.organisation, house.clients["ann1"])) is None
        assert session.scalars(select(Holding)).all() == []
        seqs = session.scalars(select(Entry.seq).order_by(Entry.seq)).all()
        assert seqs == [2, 4, 6, 8] and session.get_one(Organisation, house.organisation).head == 9
    erased = rows(house)[-1]
    assert (erased.action, erased.reason, erased.count) == ("erased", "request", 5)
    assert check(house).fault is None


def entries_of(house: House, client: str) -> str:
    return f"/api/v1/clients/{house.clients[client]}/entries"


def test_cursors_pass_the_holes_and_numbers_go_on(house: House, ann):
    fill(house, ann)
    erase(house)
    for after, expected in ((0, [2, 4, 6, 8]), (3, [4, 6, 8]), (5, [6, 8]), (8, [])):
        page = ann.pull(after=after)
        assert [entry["seq"] for entry in page["entries"]] == expected
        assert (page["after"], page["more"]) == (9, False)
    assert ann.verdict(ann.entry(client="ann2"))["seq"] == 10


def test_a_device_that_comes_later_is_refused_and_nothing_is_kept(house: House, ann):
    late = ann.entry("note", {"text": "hush-hush"})
    sent = ann.entry("note", {"text": "hush-hush"})
    ann.sync(sent)
    erase(house)
    elsewhere = sent | {"client": house.clients["ann2"]}
    broken = ann.entry("note", {"text": "hush-hush\x00"})
    verdicts = ann.sync(late, sent, elsewhere, broken, ann.entry(client="ann2"))["verdicts"]
    assert [verdict.get("code") for verdict in verdicts] == ["erased"] * 4 + [None]
    assert {verdict["verdict"] for verdict in verdicts[:4]} == {"held"}
    assert "erased" in verdicts[0]["message"] and verdicts[0]["field"] == "client"
    assert "hush-hush" not in everything(house)
    with pytest.raises(ValueError, match="new id"):
        create_client(house.database, house.organisation, id=house.clients["ann1"])


def test_an_erased_entry_is_not_missing(house: House, ann):
    fill(house, ann)
    ann.sync(last_device_seq=ann.seq + 2)
    with house.database.reading() as session:
        before = known_devices(session, house.organisation, ann.person.id)
    erase(house)
    with house.database.reading() as session:
        assert known_devices(session, house.organisation, ann.person.id) == before
    assert before[0].missing[-1] == (ann.seq + 1, ann.seq + 2)


def test_a_legal_hold_stops_it(house: House, ann):
    fill(house, ann)
    with house.database.writing() as session:
        assert set_hold(session, house.organisation, house.clients["ann1"], True, house.clock())
    before = everything(house)
    with pytest.raises(NotErased, match="legal hold"):
        erase(house)
    assert everything(house) == before
    with house.database.writing() as session:
        set_hold(session, house.organisation, house.clients["ann1"], False, house.clock())
    assert erase(house) == 5
    assert actions(house)[-3:] == ["hold_set", "hold_lifted", "erased"]


def test_another_organisation_is_out_of_reach(house: House, ann):
    with pytest.raises(NotErased, match="no such client"):
        erase(house, "cleo1")


def test_due_is_who_is_on_no_caseload_and_was_kept_long_enough(house: House, ann):
    fill(house, ann)
    now = house.clock()

    def due(at):
        with house.database.reading() as session:
            return [row.client for row in due_clients(session, house.organisation, at)]

    end_caseload(house.database, ann.person, house.clients["ann1"], until=now)
    assert due(now + timedelta(days=4000)) == [], "nothing is due until the service says how long"
    with house.database.writing() as session:
        set_retention(session, house.organisation, 8, now)
    last = now.replace(year=now.year + 8)
    assert due(last - timedelta(seconds=1)) == []
    assert due(last) == [house.clients["ann1"]]


def test_years_are_those_of_the_calendar():
    leap = datetime(2024, 2, 29, 12, tzinfo=UTC)
    assert years_after(leap, 4) == datetime(2028, 2, 29, 12, tzinfo=UTC)
    assert years_after(leap, 1) == datetime(2025, 3, 1, 12, tzinfo=UTC)


def test_restoring_an_older_backup_brings_nobody_back(house: House, ann, tmp_path):
    fill(house, ann)
    write_backup(house.database, tmp_path / "older")
    erase(house)
    write_backup(house.database, tmp_path / "newer")
    assert "hush" not in (tmp_path / "erasures.jsonl").read_text()
    lines = (tmp_path / "erasures.jsonl").read_text().splitlines()
    assert [json.loads(line)["client"] for line in lines] == [house.clients["ann1"]]
    lose_what_the_database_knows(house)
    house.database.dispose()
    done = restore(house.database, tmp_path / "older", None, None)
    assert done.erased_again == 1
    assert not any(word in everything(house) for word in SECRETS)
    with house.database.reading() as session:
        assert lines_of(session) == lines
    ann.sign_in()
    ann.epoch = None
    assert ann.verdict(ann.entry())["code"] == "erased"
    assert ann.verdict(ann.entry(client="ann2"))["seq"] == 10
    assert check(house).fault is None


def lose_what_the_database_knows(house: House) -> None:
    """As if the disk were lost: only the files beside the backups still tell of the erasure."""
    with house.database.writing() as session:
        for table in ("erased_entries", "tombstones"):
            session.execute(text(f"DELETE FROM {table}"))


def test_the_commands_ask_twice_and_say_what_follows(house: House, ann, run):
    fill(house, ann)
    client = house.clients["ann1"]
    assert "kept for ever" in run("retention")[1]
    assert "due 8 years after" in run("retention", "--years", "8")[1]
    assert run("retention", "--years", "soon")[0] == 1
    assert run("hold", client, "on")[0] == 0
    assert "Nothing was erased" in run("erase", client, "--ground", "court")[2]
    assert "another id" in run("erase", client, "--ground", "court", "--confirm", house.clients["ann2"])[2]
    assert "legal hold" in run("erase", client, "--ground", "court", "--confirm", client)[2]
    run("hold", client, "off")
    done, told, _ = run("erase", client, "--ground", "court", "--confirm", client)
    assert done == 0 and f"{client}: erased, 5 entries." in told and "make a backup now" in told
    assert run("erase", client, "--ground", "court", "--confirm", client)[0] == 1
    assert run("erase", "Zebulon", "--ground", "court")[0] == 1
    assert "0 are due" in run("retention", "--list", "--years", "none")[1]
