"""What an answer does to a device: only what it says, wholly or not at all."""

import json
from datetime import UTC, datetime

import pytest

from sync import device as rules
from sync.canonical import entry_hash
from sync.device import State, batch, belonging_to, request, save
from sync.errors import CanonicalError, SignInNeeded
from sync.messages import MAX_ITEMS, MAX_PUSH_BYTES, Fill, Verdict
from sync.replies import Caseload, Reply
from sync.store import FileStore, MemoryStore

DEVICE = "3b0b8c52-4b6f-4a77-8c0a-0d6a2f0e9b02"
CLIENT, OTHER = "6f1d3c2a-0b5e-4a57-9d7e-1f0f5a3b2c11", "6f1d3c2a-0b5e-4a57-9d7e-1f0f5a3b2c12"
ANN, BEN = "0c9d7f36-43a5-4a0e-8a3f-2a4f1d9f7e01", "0c9d7f36-43a5-4a0e-8a3f-2a4f1d9f7e02"
NOW = datetime(2026, 11, 25, 9, 40, tzinfo=UTC)
EPOCH, NEXT_EPOCH = "5f9a2d6e-7a1b-4b0c-9f11-0e0e6b1f3c44", "5f9a2d6e-7a1b-4b0c-9f11-0e0e6b1f3c45"


def entry(number: int, client: str = CLIENT, text: str = "x") -> dict:
    return {
        "id": f"019ab9e8-3adb-7000-8000-{number:012}",
        "kind": "note",
        "client": client,
        "body": {"text": text},
    }


def reply(*verdicts: Verdict, **facts) -> Reply:
    made = {"server_time": "", "person": ANN, "settings": {}, "epoch": EPOCH, "head": 10, "after": 5,
            "verdicts": verdicts, "entries": (), "more": False, "caseload": None, "fill": ()}  # fmt: skip
    return Reply(**made | facts)


def device(*numbers: int, **facts) -> State:
    state = State(DEVICE, ANN, epoch=EPOCH, after=5, clients=(CLIENT,), caseload="v1")
    for number in numbers:
        state = save(state, entry(number))
    return State(**{**vars(state), **facts})


def apply_reply(state: State, push: tuple, answer: Reply, asked_by: State | None = None) -> State:
    return rules.apply_reply(state, request(asked_by or state, push, "b", "n"), answer, NOW)


def stored(number: int, seq: int, client: str = CLIENT) -> dict:
    return entry(number, client) | {"device": "another", "device_seq": 1, "seq": seq, "received_at": ""}


def test_saving_counts_and_queues():
    state = device(1, 2)
    assert [item["device_seq"] for item in state.outbox.values()] == [1, 2]
    assert {item["device"] for item in state.outbox.values()} == {DEVICE}


def test_what_cannot_be_sent_cannot_be_saved():
    with pytest.raises(CanonicalError):
        save(device(), entry(1, text="a\x00b"))


@pytest.mark.parametrize("word", ["applied", "duplicate"])
def test_only_applied_and_duplicate_leave_the_outbox(word):
    state = device(1, 2)
    after = apply_reply(state, batch(state), reply(Verdict(entry(1)["id"], word, seq=7)))
    assert list(after.outbox) == [entry(2)["id"]]
    assert after.entries[entry(1)["id"]]["seq"] == 7


@pytest.mark.parametrize("word", ["waiting", "held", "clash", "later"])
def test_every_other_verdict_keeps_the_entry(word):
    state = device(1)
    after = apply_reply(state, batch(state), reply(Verdict(entry(1)["id"], word, code="c", message="m")))
    assert list(after.outbox) == [entry(1)["id"]]
    assert after.verdicts[entry(1)["id"]].verdict == word


def test_a_missing_verdict_leaves_the_item_pending():
    state = device(1, 2)
    after = apply_reply(state, batch(state), reply(Verdict(entry(2)["id"], "applied", seq=1)))
    assert list(after.outbox) == [entry(1)["id"]] and after.verdicts == {}


def test_a_verdict_for_something_not_sent_is_passed_over():
    state = device(1, 2)
    sent = batch(state, most=1)
    after = apply_reply(state, sent, reply(Verdict(entry(2)["id"], "applied", seq=1), Verdict(None, "held")))
    assert len(after.outbox) == 2


def test_held_items_are_not_sent_again_unless_asked():
    state = device(1, 2, verdicts={entry(1)["id"]: Verdict(entry(1)["id"], "held", code="c")})
    assert [item["id"] for item in batch(state)] == [entry(2)["id"]]
    assert len(batch(state, send_held=True)) == 2


def test_batches_keep_to_the_limits():
    assert len(batch(device(*range(1, MAX_ITEMS + 5)))) == MAX_ITEMS
    state = State(DEVICE)
    for number in range(1, 40):
        state = save(state, entry(number, text="é" * 10_000))
    assert 0 < len(batch(state)) < MAX_PUSH_BYTES // 20_000
    alone = save(State(DEVICE), entry(1, text="x" * MAX_PUSH_BYTES))
    assert len(batch(alone)) == 1


def test_a_page_and_its_cursor_come_together():
    after = apply_reply(device(), (), reply(entries=(stored(9, 6),), after=6))
    assert (after.after, after.entries[entry(9)["id"]]["seq"]) == (6, 6)


def test_a_page_applied_twice_changes_nothing():
    once = apply_reply(device(), (), reply(entries=(stored(9, 6),), after=6))
    assert apply_reply(once, (), reply(entries=(stored(9, 6),), after=6)) == once


def test_a_stub_confirms_only_what_it_names():
    state = device(1)
    state = apply_reply(state, batch(state), reply(Verdict(entry(1)["id"], "applied", seq=6)))
    good = {"id": entry(1)["id"], "seq": 6, "hash": entry_hash(dict(state.entries[entry(1)["id"]]))}
    assert apply_reply(state, (), reply(entries=(good,))).entries[entry(1)["id"]]["seq"] == 6
    assert (
        entry(2)["id"] not in apply_reply(state, (), reply(entries=(good | {"id": entry(2)["id"]},))).entries
    )


def test_a_client_who_came_is_filled_until_done():
    state = apply_reply(device(), (), reply(caseload=Caseload("v2", (CLIENT, OTHER))))
    assert state.filling == {OTHER: 0}
    assert request(state, (), "b", "n").pull.fill == (Fill(OTHER, 0),)
    state = apply_reply(state, (), reply(fill=(Fill(OTHER, 3, True),)))
    assert state.filling == {OTHER: 3}
    assert apply_reply(state, (), reply(fill=(Fill(OTHER, 5, False),))).filling == {}


def test_the_first_caseload_needs_no_filling():
    state = apply_reply(State(DEVICE), (), reply(caseload=Caseload("v1", (CLIENT,))))
    assert state.filling == {} and state.clients == (CLIENT,)


def test_a_client_who_went_is_removed_and_its_unsent_entries_are_not():
    state = device(1, entries={entry(9)["id"]: stored(9, 4)})
    after = apply_reply(state, (), reply(caseload=Caseload("v2", ())))
    # While something about the client waits to be sent the record stays, as PROTOCOL.md says; then it goes.
    assert (list(after.entries), list(after.outbox)) == ([entry(9)["id"]], [entry(1)["id"]])
    sent = apply_reply(after, batch(after), reply(Verdict(entry(1)["id"], "applied", seq=7)))
    assert (dict(sent.entries), dict(sent.outbox)) == ({}, {})


def test_a_held_entry_alone_does_not_keep_the_record_of_a_client_who_went():
    state = device(1, entries={entry(9)["id"]: stored(9, 4)})
    held = reply(Verdict(entry(1)["id"], "held", code="not_found"), caseload=Caseload("v2", ()))
    after = apply_reply(state, batch(state), held)
    assert (dict(after.entries), list(after.outbox)) == ({}, [entry(1)["id"]])


def test_an_entry_sent_for_a_client_who_went_does_not_stay():
    state = device(1, caseload="v2", clients=())
    after = apply_reply(state, batch(state), reply(Verdict(entry(1)["id"], "applied", seq=7)))
    assert (dict(after.entries), dict(after.outbox)) == ({}, {})


def test_a_page_never_takes_the_place_of_an_unsent_twin():
    state = device(1)
    twin = stored(1, 6) | {"body": {"text": "somebody else's"}}
    after = apply_reply(state, (), reply(entries=(twin,)))
    assert after.outbox == state.outbox and after.entries == {}


def test_a_page_or_a_stub_that_brings_an_unsent_entry_back_settles_it():
    state = device(1, verdicts={entry(1)["id"]: Verdict(entry(1)["id"], "held", code="not_found")})
    mine = dict(state.outbox[entry(1)["id"]])
    stub = {"id": mine["id"], "seq": 6, "hash": entry_hash(mine)}
    for item in (mine | {"seq": 6, "received_at": ""}, stub):
        after = apply_reply(state, (), reply(entries=(item,)))
        assert (dict(after.outbox), dict(after.verdicts)) == ({}, {})
        assert after.entries[mine["id"]]["seq"] == 6


def test_what_the_server_confirms_and_the_device_lacks_is_filled():
    state = device(clients=(CLIENT, OTHER), entries={entry(9)["id"]: stored(9, 4, OTHER)})
    lacking = {"id": entry(1)["id"], "seq": 6, "hash": "0" * 64}
    assert apply_reply(state, (), reply(entries=(lacking,))).filling == {CLIENT: 0, OTHER: 0}
    differing = {"id": entry(9)["id"], "seq": 4, "hash": "0" * 64}
    assert apply_reply(state, (), reply(entries=(differing,))).filling == {OTHER: 0}


def test_a_verdict_without_an_id_is_known_by_its_place():
    state = device(1, 2)
    verdicts = (Verdict(None, "held", code="malformed"), Verdict(entry(2)["id"], "applied", seq=6))
    after = apply_reply(state, batch(state), reply(*verdicts))
    assert list(after.held) == list(after.outbox) == [entry(1)["id"]]
    short = apply_reply(state, batch(state), reply(Verdict(None, "held", code="malformed")))
    assert (short.verdicts, len(short.outbox)) == ({}, 2)


def test_what_cannot_be_stored_yet_does_not_stand_in_the_way():
    state = device(1, 2, 3)
    stuck = reply(Verdict(entry(1)["id"], "waiting", code="target_missing"))
    state = apply_reply(state, batch(state, most=1), stuck)
    assert [item["id"] for item in batch(state, most=3)] == [entry(number)["id"] for number in (2, 3, 1)]


def test_what_was_saved_while_the_request_was_under_way_stays():
    state = device(1)
    push = batch(state)
    after = apply_reply(save(state, entry(2)), push, reply(Verdict(entry(1)["id"], "applied", seq=6)))
    assert (list(after.outbox), after.device_seq) == ([entry(2)["id"]], 2)


def test_a_new_epoch_offers_own_entries_again_and_forgets_the_rest():
    state = device(1)
    state = apply_reply(state, batch(state), reply(Verdict(entry(1)["id"], "applied", seq=6),
                                                   entries=(stored(9, 4),)))  # fmt: skip
    after = apply_reply(
        state, (), reply(epoch=NEXT_EPOCH, head=2, after=2, caseload=Caseload("v1", (CLIENT,)))
    )
    assert list(after.outbox) == [entry(1)["id"]] and "seq" not in after.outbox[entry(1)["id"]]
    assert (dict(after.entries), after.epoch, after.after, dict(after.filling)) == ({}, NEXT_EPOCH, 2, {})


def test_a_head_behind_the_cursor_is_taken_like_a_new_epoch():
    state = device(entries={entry(1)["id"]: entry(1) | {"device": DEVICE, "seq": 5}})
    after = apply_reply(state, (), reply(head=3, after=3))
    assert list(after.outbox) == [entry(1)["id"]]


def test_an_answer_for_somebody_else_changes_nothing():
    state = device(1)
    theirs = reply(
        Verdict(entry(1)["id"], "held", code="wrong_author"), person=BEN, caseload=Caseload("v", ())
    )
    with pytest.raises(SignInNeeded):
        apply_reply(state, batch(state), theirs)


def test_the_first_answer_says_whose_a_device_is():
    assert apply_reply(State(DEVICE), (), reply()).person == ANN
    assert belonging_to(State(DEVICE), BEN).person == BEN
    with pytest.raises(SignInNeeded):
        belonging_to(device(), BEN)


@pytest.mark.parametrize("name", ["former", "read_only"])
def test_a_file_store_keeps_former_ids_and_read_only_clients_and_reads_what_knew_none(tmp_path, name):
    path = tmp_path / "state.json"
    state = device(1, **{name: ("one", "two")})
    FileStore(path, state)
    assert FileStore(path, State("unused")).get() == state
    kept = json.loads(path.read_text("utf-8"))
    del kept[name]
    path.write_text(json.dumps(kept), "utf-8")
    assert FileStore(path, State("unused")).get() == device(1)


def test_a_file_store_keeps_the_last_whole_state(tmp_path, monkeypatch):
    path = tmp_path / "state.json"
    store = FileStore(path, device(1))
    with monkeypatch.context() as patch:
        patch.setattr("os.replace", lambda *_: (_ for _ in ()).throw(OSError("no power")))
        with pytest.raises(OSError):
            store.put(device(1, 2))
    assert FileStore(path, State("unused")).get() == device(1)
    store.put(device(1, 2))
    assert store.get() == device(1, 2)


def test_a_memory_store_gives_back_what_was_put():
    store = MemoryStore(device())
    store.put(device(1))
    assert store.get() == device(1)
