"""Valid requests spoilt at random: no failure of the server, no half effect, always words that help."""

import gzip
import json
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sync.messages import MAX_ITEMS
from tests.webapp.fuzz.amount import fuzzed
from tests.webapp.fuzz.nasty import IN_A_MESSAGE, IN_AN_ENTRY, Typed, spoil_bytes, spoil_value, written
from tests.webapp.support import NOW, PRESSURE

seeds = st.integers(0, 2**64 - 1)


@pytest.fixture(scope="module")
def phone(made):
    phone = made.phone("ann")
    phone.epoch = phone.sync()["epoch"]
    return phone


def good_entries(phone):
    """One of each sort: readings, words, a detail, a correction of what stands beside it."""
    reading, pressure = phone.entry(), phone.entry("blood_pressure", PRESSURE)
    note = phone.entry("note", {"text": "Rang twice. é😀"})
    detail = phone.entry("details", {"set": {"phone": "0123"}, "seen": {}})
    again = phone.entry("note", {"text": "Rang three times."}, amends=note["id"], reason="misheard")
    return [reading, pressure, note, detail, again]


def test_the_requests_that_are_spoilt_are_good_ones(phone, watch):
    reply = watch.sync(phone, json.dumps(phone.message(good_entries(phone))).encode())
    assert [verdict["verdict"] for verdict in reply["verdicts"]] == ["applied"] * 5


@fuzzed
@given(seed=seeds, packed=st.booleans())
def test_spoilt_bytes(phone, watch, seed, packed):
    chance = random.Random(seed)
    data = json.dumps(phone.message(good_entries(phone)), ensure_ascii=chance.random() < 0.5).encode()
    if packed:
        data = gzip.compress(data)
    spoilt = spoil_bytes(data, chance)
    watch.sync(phone, spoilt, headers={"Content-Encoding": "gzip"} if packed else {})


@fuzzed
@given(seed=seeds)
def test_a_spoilt_message(phone, watch, seed):
    chance = random.Random(seed)
    message = phone.message(good_entries(phone)[: chance.randrange(3)])
    for _ in range(chance.choice((1, 1, 2))):
        message = spoil_value(message, chance, IN_AN_ENTRY)
    data = written(spoil_last(message, chance)).encode()
    watch.sync(phone, data)


def spoil_last(message, chance):
    """Now and then something that no message may hold, at one of its ends."""
    if chance.random() < 0.3 and isinstance(message, dict):
        message = {**message, chance.choice(("push", "extra", "unsent")): chance.choice(IN_A_MESSAGE)}
    return message


@fuzzed
@given(seed=seeds)
def test_spoilt_entries_among_good_ones(phone, watch, seed):
    """The good ones are stored, whatever stands beside them."""
    chance = random.Random(seed)
    good = good_entries(phone)
    bad = [spoilt_entry(phone, chance) for _ in range(chance.randrange(1, 6))]
    push = [*good, *bad]
    chance.shuffle(push)
    reply = watch.sync(phone, written(phone.message(push)).encode())
    assert reply is not None and len(reply["verdicts"]) == len(push)
    ids = [entry["id"] for entry in good]
    taken = [verdict["verdict"] for verdict in reply["verdicts"] if verdict["id"] in ids]
    # What was spoilt may carry the id of nothing here: it is made from entries of its own.
    assert taken == ["applied"] * len(good)


def spoilt_entry(phone, chance):
    entry = chance.choice(good_entries(phone)[:4])
    for _ in range(chance.choice((1, 1, 2, 3))):
        entry = spoil_value(entry, chance, plain(IN_AN_ENTRY)) if isinstance(entry, dict) and entry else entry
    return typed_somewhere(entry, chance) if chance.random() < 0.95 else chance.choice(IN_AN_ENTRY)


def plain(values):
    return tuple(value for value in values if not isinstance(value, Typed))


def typed_somewhere(entry, chance):
    """Numbers as typed stand only at the outer keys: a copy through JSON would lose them."""
    if chance.random() < 0.2 and entry:
        numbers = [value for value in IN_AN_ENTRY if isinstance(value, Typed)]
        return entry | {chance.choice(list(entry)): chance.choice(numbers)}
    return entry


@fuzzed
@given(seed=seeds)
def test_a_push_sent_twice_is_stored_once(phone, watch, seed):
    chance = random.Random(seed)
    data = written(phone.message([*good_entries(phone), spoilt_entry(phone, chance)])).encode()
    first, second = watch.sync(phone, data), watch.sync(phone, data)
    for one, two in zip(first["verdicts"], second["verdicts"], strict=True):
        again = {"applied": "duplicate"}.get(one["verdict"], one["verdict"])
        assert (two["verdict"], two.get("seq")) == (again, one.get("seq"))


AFTERS = (
    "0",
    "5",
    "-1",
    "00",
    "1e3",
    "9" * 15,
    "9" * 16,
    "٣",
    "",
    " ",
    "0x1",
    "1.0",
    "NaN",
    "%00",
    "a",
    "1&after=2",
)


@fuzzed
@given(seed=seeds)
def test_one_clients_entries(made, phone, watch, seed):
    chance = random.Random(seed)
    clients = (
        *made.clients.values(),
        phone.device,
        "x",
        "%00",
        "A" * 36,
        "00000000-0000-0000-0000-000000000000",
    )
    before = watch.rows()
    address = f"/api/v1/clients/{chance.choice(clients)}/entries?after={chance.choice(AFTERS)}"
    answer = phone.browser.get(address)
    assert watch.rows() == before
    if answer.status_code == 200:
        watch.fits("ClientEntries", answer.json)
    else:
        assert watch.error(answer) in ("malformed", "not_found")


WORDS = st.one_of(
    st.text(max_size=300), st.sampled_from(["ann@example.org", "\x00", "\ud7ff", "x" * 5000, "é😀"])
)


@fuzzed
@given(
    name=WORDS,
    password=WORDS,
    token=st.booleans(),
    fields=st.dictionaries(st.text(max_size=9), WORDS, max_size=2),
)
def test_a_sign_in_by_anything(made, watch, name, password, token, fields):
    stranger = made.phone("ann", sign_in=False)
    given_token = stranger.form_token() if token else "x"
    before = watch.rows()
    made.clock.forward(hours=1)  # or they were all too many
    data = {"name": name, "password": password, "csrf_token": given_token} | fields
    answer = stranger.browser.post("/sign-in", data=data)
    assert answer.status_code in (400, 401, 422, 429), answer.status_code
    assert watch.rows() == before
    assert stranger.browser.get("/api/v1/session").status_code == 401
    made.clock.moment = NOW


@pytest.mark.parametrize(("pull", "more"), [
    ({"after": 2**53 - 1}, {}),
    ({"after": 10**6}, {}),
    ({"after": 3}, {"epoch": "00000000-0000-4000-8000-0000000000ee"}),
    ({"after": 3}, {"epoch": "an epoch that never was"}),
    ({"after": 0, "caseload": "x" * 80}, {}),
    ({"after": 3, "fill": [{"client": "cleo1", "after": 0}]}, {}),
    ({"after": 3, "fill": [{"client": "ann1", "after": 2**53 - 1}]}, {}),
    ({"after": 3, "fill": [{"client": "ann1", "after": 0}] * 200}, {}),
])  # fmt: skip
def test_cursors_from_anywhere(made, phone, watch, pull, more):
    fill = [item | {"client": made.clients[item["client"]]} for item in pull.get("fill", [])]
    asked = {"after": 0, "caseload": None} | pull | {"fill": fill}
    reply = watch.sync(phone, json.dumps(phone.message([], pull=asked, **more)).encode())
    mine = {made.clients["ann1"], made.clients["ann2"]}
    assert set(reply["pull"]["caseload"]["clients"]) == mine
    assert {entry["client"] for entry in reply["pull"]["entries"] if "client" in entry} <= mine
    assert 0 <= reply["pull"]["after"] <= max(reply["head"], 0)


def test_ten_thousand_entries_in_one_push(phone, watch):
    [entry] = [phone.entry("note", {"text": "x"})]
    many = [entry | {"id": entry["id"][:-6] + f"{0xF00000 + number:06x}"} for number in range(10_000)]
    assert watch.sync(phone, json.dumps(phone.message(many)).encode()) is None
    verdicts = watch.sync(phone, json.dumps(phone.message(many[:MAX_ITEMS])).encode())["verdicts"]
    assert [verdict["verdict"] for verdict in verdicts] == ["applied"] * MAX_ITEMS
    assert watch.sync(phone, json.dumps(phone.message([])).encode())["verdicts"] == []


def test_a_note_of_a_megabyte(phone, watch):
    large, small = phone.entry("note", {"text": "é" * 500_000}), phone.entry("note", {"text": "x"})
    assert watch.sync(phone, json.dumps(phone.message([large, small])).encode()) is None
    [alone] = watch.sync(phone, json.dumps(phone.message([large])).encode())["verdicts"]
    assert (alone["verdict"], alone["code"]) == ("held", "too_large")


@pytest.mark.parametrize(("text", "code"), [
    ("👩‍👩‍👧‍👦😀", None), ("مريم بنت خالد", None), ("a\u202eb", None), ("a\u0301", None),
    ("a\x00b", "bad_text"), ("a\ud800", "bad_text"), ("x" * 20_001, "too_long"),
])  # fmt: skip
def test_texts_are_stored_as_they_are_or_held_with_a_reason(phone, watch, text, code):
    entry = phone.entry("note", {"text": text})
    [verdict] = watch.sync(phone, written(phone.message([entry])).encode())["verdicts"]
    assert verdict.get("code") == code
    if code is None:
        fill = [{"client": entry["client"], "after": verdict["seq"] - 1}]
        found = phone.pull(after=verdict["seq"], fill=fill)["entries"]
        assert entry["body"] in [one.get("body") for one in found]


@pytest.mark.parametrize(("value", "code"), [
    ("36.8", None), ("36.80", "not_canonical"), ("-0", "not_canonical"), ("1e309", "not_a_number"),
    ("NaN", "not_a_number"), (Typed("1e309"), "not_exact"), (Typed("-0"), "not_exact"),
    (Typed("36.8"), "not_exact"),
    (36, "wrong_type"), ([], "wrong_type"), ("٣٦٫٨", "not_canonical"), ("36,8", "not_canonical"),
])  # fmt: skip
def test_a_temperature_typed_oddly(phone, watch, value, code):
    entry = phone.entry()
    entry["body"] = entry["body"] | {"fields": {"site": "oral", "temperature": value}}
    [verdict] = watch.sync(phone, written(phone.message([entry])).encode())["verdicts"]
    assert (verdict.get("code"), verdict["verdict"]) == (code, "held" if code else "applied")


@pytest.mark.parametrize(("changes", "verdict", "code"), [
    ({"kind": "a_kind_of_tomorrow"}, "later", "unknown_kind"),
    ({"schema": 99}, "later", "newer_schema"),
    ({"extra": 1}, "held", "unknown_field"),
    ({"amends": "019ab9e8-3adb-7000-8000-0000000fffff", "reason": "x"}, "waiting", "target_missing"),
    ({"voids": "019ab9e8-3adb-7000-8000-0000000fffff", "reason": "x", "body": {}},
     "waiting", "target_missing"),
    ({"client": "019ab9e8-3adb-7000-8000-0000000fffff"}, "held", "not_found"),
    ({"author": "019ab9e8-3adb-7000-8000-0000000fffff"}, "held", "wrong_author"),
    ({"recorded_at": "2031-01-01T00:00:00.000Z"}, "held", "future_date"),
])  # fmt: skip
def test_references_and_versions_that_are_not_there(phone, watch, changes, verdict, code):
    [told] = watch.sync(phone, json.dumps(phone.message([phone.entry() | changes])).encode())["verdicts"]
    assert (told["verdict"], told["code"]) == (verdict, code)
