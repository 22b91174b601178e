"""Pushing entries: what is stored, what is answered, what is kept aside."""

import json

import pytest
from sqlalchemy import select

from sync.canonical import entry_hash
from tests.webapp.support import NOW, TEMPERATURE, House, new_id
from webapp.storage import assign_caseload, end_caseload
from webapp.storage.models import Device, Entry, Holding, Organisation


def rows(house: House, model=Entry):
    with house.database.reading() as session:
        return session.scalars(select(model)).all()


def head(house: House) -> int:
    with house.database.reading() as session:
        return session.get_one(Organisation, house.organisation).head


def test_an_entry_is_stored_as_it_was_recorded(house: House, ann):
    entry = ann.entry()
    assert ann.verdict(entry) == {"id": entry["id"], "verdict": "applied", "seq": 1}
    [row] = rows(house)
    assert row.hash == entry_hash(entry)
    [stored] = house.phone("ann").pull()["entries"]
    assert stored == entry | {"seq": 1, "received_at": "2026-11-25T09:40:00.000Z"}
    assert entry_hash(stored) == entry_hash(entry)


def test_numbers_follow_each_other_within_an_organisation(house: House, ann):
    verdicts = ann.sync(*(ann.entry() for _ in range(5)))["verdicts"]
    assert [verdict["seq"] for verdict in verdicts] == [1, 2, 3, 4, 5]
    cleo = house.phone("cleo")
    assert cleo.verdict(cleo.entry())["seq"] == 1


def test_sending_again_changes_nothing(house: House, ann):
    batch = [ann.entry() for _ in range(3)]
    first = ann.sync(*batch)["verdicts"]
    again = ann.sync(*reversed(batch))["verdicts"]
    assert [verdict["verdict"] for verdict in again] == ["duplicate"] * 3
    assert [verdict["seq"] for verdict in reversed(again)] == [verdict["seq"] for verdict in first]
    assert len(rows(house)) == head(house) == 3


def test_the_same_entry_twice_in_one_push(house: House, ann):
    entry = ann.entry()
    verdicts = ann.sync(entry, entry)["verdicts"]
    assert [verdict["verdict"] for verdict in verdicts] == ["applied", "duplicate"]
    assert len(rows(house)) == 1


def test_the_order_of_keys_does_not_make_another_entry(ann):
    entry = ann.entry()
    ann.sync(entry)
    shuffled = dict(reversed(entry.items()))
    assert ann.verdict(shuffled)["verdict"] == "duplicate"


def test_the_same_id_with_other_content_clashes_and_both_are_kept(house: House, ann):
    entry = ann.entry()
    other = entry | {"body": {**TEMPERATURE, "fields": {"site": "oral", "temperature": "37.1"}}}
    ann.sync(entry)
    verdict = ann.verdict(other)
    assert (verdict["verdict"], verdict["code"]) == ("clash", "clash")
    assert "Both are kept" in verdict["message"]
    assert [json.loads(row.body)["fields"]["temperature"] for row in rows(house)] == ["36.8"]
    [kept] = rows(house, Holding)
    assert (kept.verdict, json.loads(kept.raw)) == ("clash", other)


def test_a_clash_within_one_push(ann):
    entry = ann.entry()
    verdicts = ann.sync(entry, entry | {"utc_offset": 60})["verdicts"]
    assert [verdict["verdict"] for verdict in verdicts] == ["applied", "clash"]


def test_a_bad_entry_never_holds_back_the_good_ones(house: House, ann):
    bad = ann.entry(body={"fields": {"site": "oral", "temperature": "99.9"}, "units": {}})
    good = [ann.entry() for _ in range(4)]
    verdicts = ann.sync(good[0], bad, good[1], 42, None, "x", [], good[2], {}, good[3])["verdicts"]
    assert [verdict["verdict"] for verdict in verdicts] == [
        "applied",
        "held",
        "applied",
        "held",
        "held",
        "held",
        "held",
        "applied",
        "held",
        "applied",
    ]
    assert [verdict["id"] for verdict in verdicts][3:7] == [None] * 4
    assert sorted(row.seq for row in rows(house)) == [1, 2, 3, 4]


def test_what_was_held_is_kept_once_as_it_came(house: House, ann):
    held = ann.entry(body={"fields": {"site": "oral", "temperature": "99.9"}, "units": {}})
    text = json.dumps(ann.message([held])).replace('"99.9"', "99.90")
    for _ in range(3):
        assert ann.post(text).json["verdicts"][0]["verdict"] == "held"
    [kept] = rows(house, Holding)
    assert b'"temperature":99.90' in kept.raw
    assert (kept.entry_id, kept.user_id, kept.device_id) == (held["id"], ann.person.id, ann.device)


def test_a_held_entry_is_taken_once_its_reason_is_gone(house: House, ann):
    ours = ann.entry(client="ben1")
    assert ann.verdict(ours)["code"] == "not_found"
    assign_caseload(house.database, ann.person, [house.clients["ben1"]], since=NOW)
    assert ann.verdict(ours)["verdict"] == "applied"
    [kept] = rows(house, Holding)
    assert kept.settled_at == NOW


@pytest.mark.parametrize("client", ["ben1", "cleo1", "nobody"])
def test_other_peoples_clients_are_not_told_from_none_at_all(house: House, ann, client):
    house.clients["nobody"] = "00000000-0000-4000-8000-000000000000"
    verdict = ann.verdict(ann.entry(client=client))
    assert (verdict["verdict"], verdict["code"], verdict["field"]) == ("held", "not_found", "client")
    assert rows(house) == []


def test_an_author_must_be_the_one_who_is_signed_in(house: House, ann):
    verdict = ann.verdict(ann.entry(author=house.people["ben"].id))
    assert (verdict["verdict"], verdict["code"], verdict["field"]) == ("held", "wrong_author", "author")


def test_work_recorded_before_the_caseload_ended_is_still_taken(house: House, ann):
    before, after = ann.entry(), ann.entry(recorded_at="2026-11-25T09:39:00.001Z")
    end_caseload(house.database, ann.person, house.clients["ann1"], until=NOW.replace(minute=39))
    verdicts = ann.sync(before, after)["verdicts"]
    assert [verdict["verdict"] for verdict in verdicts] == ["applied", "held"]
    assert verdicts[1]["code"] == "not_found"


def test_a_correction_names_its_original(house: House, ann):
    entry = ann.entry()
    amendment = ann.entry(amends=entry["id"], reason="misread")
    withdrawal = ann.entry(voids=amendment["id"], reason="wrong client", body={})
    verdicts = ann.sync(entry, amendment, withdrawal)["verdicts"]
    assert [verdict["verdict"] for verdict in verdicts] == ["applied"] * 3
    assert (
        ann.verdict(ann.entry(voids=withdrawal["id"], reason="it was right", body={}))["verdict"] == "applied"
    )


def test_a_correction_before_its_original_waits_and_is_then_taken(ann):
    entry = ann.entry()
    amendment = ann.entry(amends=entry["id"], reason="misread")
    verdict = ann.verdict(amendment)
    assert (verdict["verdict"], verdict["code"], verdict["field"]) == ("waiting", "target_missing", "amends")
    assert ann.verdict(entry)["verdict"] == "applied"
    assert ann.verdict(amendment)["verdict"] == "applied"


def test_within_one_push_the_order_does_not_matter(ann):
    first = ann.entry()
    second = ann.entry(amends=first["id"], reason="misread")
    third = ann.entry(voids=second["id"], reason="twice", body={})
    verdicts = ann.sync(third, second, first)["verdicts"]
    assert [verdict["verdict"] for verdict in verdicts] == ["applied"] * 3
    assert [verdict["seq"] for verdict in verdicts] == [3, 2, 1]


def test_a_correction_of_a_held_entry_waits_for_it(ann):
    held = ann.entry(body={"fields": {"site": "oral", "temperature": "99.9"}, "units": {}})
    ann.sync(held)
    verdict = ann.verdict(ann.entry(amends=held["id"], reason="typo"))
    assert (verdict["verdict"], verdict["code"]) == ("waiting", "target_held")


@pytest.mark.parametrize("other", [{"client": "ann2"}, {"kind": "note", "body": {"text": "x"}}])
def test_a_correction_of_another_client_or_kind_is_held(ann, other):
    entry = ann.entry()
    ann.sync(entry)
    verdict = ann.verdict(ann.entry(amends=entry["id"], reason="misread", **other))
    assert (verdict["verdict"], verdict["code"]) == ("held", "wrong_target")


def test_entries_of_another_organisation_cannot_be_corrected_nor_found_out(house: House, ann):
    cleo = house.phone("cleo")
    theirs = cleo.entry()
    cleo.sync(theirs)
    assert ann.verdict(ann.entry(amends=theirs["id"], reason="x"))["code"] == "target_missing"
    mine = ann.entry(id=theirs["id"])
    assert ann.verdict(mine)["verdict"] == "applied"


def test_both_amendments_of_one_entry_are_kept(house: House, ann):
    entry = ann.entry()
    twice = [ann.entry(amends=entry["id"], reason=f"reading {number}") for number in (1, 2)]
    verdicts = ann.sync(entry, *twice)["verdicts"]
    assert [verdict["verdict"] for verdict in verdicts] == ["applied"] * 3


def test_an_item_the_checks_stumble_over_is_set_aside_alone(house: House, ann, monkeypatch):
    bad, good = ann.entry(), ann.entry()

    def stumble(entry, *_):
        if entry["id"] == bad["id"]:
            raise RuntimeError("a fault of ours")

    monkeypatch.setattr("webapp.features.sync.examining.check_entry", stumble)
    verdicts = ann.sync(bad, good)["verdicts"]
    assert [(verdict["verdict"], verdict.get("code")) for verdict in verdicts] == [
        ("held", "not_checked"), ("applied", None)]  # fmt: skip
    [kept] = rows(house, Holding)
    assert json.loads(kept.raw) == bad


def test_an_item_the_database_refuses_is_set_aside_alone(house: House, ann, monkeypatch):
    bad, good = ann.entry(kind="note", body={"text": "x"}), ann.entry()
    monkeypatch.setattr("webapp.features.sync.examining.check_entry", lambda *_: None)
    # As if a check had let through what a constraint does not: an author who does not exist.
    bad["author"] = new_id()
    verdicts = ann.sync(bad, good)["verdicts"]
    assert [(verdict["verdict"], verdict.get("code"), verdict.get("seq")) for verdict in verdicts] == [
        ("held", "not_stored", None), ("applied", None, 1)]  # fmt: skip


def test_a_push_that_fails_as_a_whole_leaves_nothing_behind(house: House, ann, monkeypatch):
    monkeypatch.setattr("webapp.storage.append.hold", lambda *_: 1 / 0)
    answer = ann.post(ann.message([ann.entry(), ann.entry()]))
    assert (answer.status_code, answer.json["error"]["code"]) == (500, "server_error")
    assert (rows(house), head(house)) == ([], 0)


def test_the_device_and_what_it_says_of_itself_are_noted(house: House, ann):
    ann.sync(ann.entry(), unsent=7, last_device_seq=12)
    [device] = rows(house, Device)
    assert (
        device.id,
        device.user_id,
        device.name,
        device.unsent,
        device.last_device_seq,
        device.last_sync_at,
    ) == (ann.device, ann.person.id, "A phone", 7, 12, NOW)


def test_an_empty_push_is_an_answer_too(ann):
    assert ann.sync()["verdicts"] == []


def test_a_device_clock_that_is_years_behind_is_taken_as_it_is(house: House, ann):
    assert ann.verdict(ann.entry(recorded_at="1970-01-01T00:00:00.000Z"))["verdict"] == "applied"
    assert rows(house)[0].recorded_at == "1970-01-01T00:00:00.000Z"
