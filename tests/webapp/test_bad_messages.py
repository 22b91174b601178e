"""Messages that cannot be used as a whole: each gets an error in words, and nothing of it is taken."""

import gzip
import json

import pytest
from sqlalchemy import select

from sync.messages import MAX_BODY_BYTES, MAX_ITEMS
from tests.webapp.support import House
from webapp.storage.models import Entry, Holding


def error_of(answer) -> tuple[int, str]:
    assert answer.content_type == "application/json"
    error = answer.json["error"]
    assert set(error) == {"code", "field", "message"}
    assert error["message"].endswith(".") and len(error["message"].split()) >= 4
    return answer.status_code, error["code"]


def taken(house: House) -> list:
    with house.database.reading() as session:
        return [*session.scalars(select(Entry)), *session.scalars(select(Holding))]


@pytest.fixture
def good(ann) -> bytes:
    return json.dumps(ann.message([ann.entry()])).encode()


@pytest.mark.parametrize(
    ("spoil", "expected"),
    [
        (lambda data: data[:-1], (400, "malformed")),
        (lambda data: data + b"}", (400, "malformed")),
        (lambda data: b"", (400, "malformed")),
        (lambda data: b"<html>", (400, "malformed")),
        (lambda data: data.replace(b'"test"', b'"te\xffst"'), (400, "malformed")),
        (lambda data: data.replace(b'"36.8"', b"NaN"), (400, "malformed")),
        (lambda data: data.replace(b'"36.8"', b"Infinity"), (400, "malformed")),
        (lambda data: data.replace(b'"build"', b'"protocol": 1, "build"'), (400, "duplicate_key")),
        (lambda data: data.replace(b'"temperature": "36.8"', b'"site": "oral"'), (400, "duplicate_key")),
        (lambda data: data.replace(b'"36.8"', b"[" * 10_000 + b"]" * 10_000), (400, "too_deep")),
        (lambda data: b"[" * 3_000_000, (400, "too_deep")),
        (lambda data: b"[]", (400, "malformed")),
        (lambda data: data.replace(b'"protocol": 1', b'"protocol": 2'), (426, "protocol")),
        (lambda data: data.replace(b'"protocol": 1', b'"protocol": "1"'), (400, "malformed")),
        (lambda data: data.replace(b'"protocol": 1', b'"protocol": 1e309'), (400, "malformed")),
        (lambda data: data.replace(b'"push"', b'"pusch"'), (400, "malformed")),
    ],
)
def test_a_spoilt_message(house: House, ann, good, spoil, expected):
    assert error_of(ann.post(spoil(good))) == expected
    assert taken(house) == []
    assert ann.post(good).status_code == 200


def test_ten_megabytes_are_refused_before_they_are_read(house: House, ann, monkeypatch):
    monkeypatch.setattr("sync.strict_json.parse", lambda _: pytest.fail("it was parsed"))
    assert error_of(ann.post(b"[" + b" " * 10_000_000)) == (413, "too_large")


def test_ten_megabytes_without_a_length_are_refused_too(house: House, ann):
    import io

    answer = ann.browser.post(
        "/api/v1/sync", input_stream=io.BytesIO(b" " * 10_000_000), content_type="application/json",
        headers={"X-CSRFToken": ann.csrf}, environ_overrides={"wsgi.input_terminated": True})  # fmt: skip
    assert error_of(answer) == (413, "too_large")


@pytest.mark.parametrize(
    "content_type",
    ["text/plain", "application/x-www-form-urlencoded", "", "text/json", "multipart/form-data"],
)
def test_only_json_is_taken(house: House, ann, good, content_type):
    assert error_of(ann.post(good, content_type=content_type)) == (415, "wrong_type")


def test_json_with_a_charset_is_json(ann, good):
    assert ann.post(good, content_type="application/json; charset=utf-8").status_code == 200


def test_a_gzip_body_is_unpacked(house: House, ann, good):
    answer = ann.post(gzip.compress(good), headers={"Content-Encoding": "gzip"})
    assert answer.json["verdicts"][0]["verdict"] == "applied"


@pytest.mark.parametrize(
    ("spoil", "expected"),
    [
        (lambda packed: packed[:-1], (400, "bad_gzip")),
        (lambda packed: packed[:30], (400, "bad_gzip")),
        (lambda packed: packed[:20] + b"\x00\x00\x00" + packed[23:], (400, "bad_gzip")),
        (lambda packed: packed + b"more", (400, "bad_gzip")),
        (lambda packed: b"", (400, "bad_gzip")),
        (lambda packed: b"not gzip at all", (400, "bad_gzip")),
        (lambda packed: gzip.compress(b" " * (MAX_BODY_BYTES + 1)), (413, "too_large")),
        (lambda packed: gzip.compress(gzip.compress(b" " * 100_000_000)), (400, "malformed")),
    ],
)
def test_a_damaged_or_swollen_gzip_body(house: House, ann, good, spoil, expected):
    answer = ann.post(spoil(gzip.compress(good)), headers={"Content-Encoding": "gzip"})
    assert error_of(answer) == expected
    assert taken(house) == []


def test_another_compression_is_refused(ann, good):
    assert error_of(ann.post(good, headers={"Content-Encoding": "br"})) == (415, "wrong_encoding")


def test_a_bomb_is_never_unpacked_whole(ann):
    import tracemalloc

    bomb = gzip.compress(b" " * 200_000_000)
    tracemalloc.start()
    answer = ann.post(bomb, headers={"Content-Encoding": "gzip"})
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert error_of(answer) == (413, "too_large")
    assert peak < 5 * MAX_BODY_BYTES


def test_more_entries_than_a_push_may_hold_are_too_many(house: House, ann):
    assert error_of(ann.post(ann.message([ann.entry()] * (MAX_ITEMS + 1)))) == (413, "too_many")
    assert taken(house) == []
    verdicts = ann.sync(*(ann.entry() for _ in range(MAX_ITEMS)))["verdicts"]
    assert [verdict["verdict"] for verdict in verdicts] == ["applied"] * MAX_ITEMS


def test_more_than_half_a_megabyte_of_entries_is_too_large(house: House, ann):
    notes = [ann.entry("note", {"text": "x" * 19_000}) for _ in range(28)]
    assert error_of(ann.post(ann.message(notes))) == (413, "too_large")
    assert {verdict["verdict"] for verdict in ann.sync(*notes[:27])["verdicts"]} == {"applied"}


def test_an_entry_too_large_by_itself_is_held_and_kept(house: House, ann):
    huge = ann.entry("note", {"text": "x" * 1_000_000})
    verdict = ann.verdict(huge)
    assert (verdict["verdict"], verdict["code"]) == ("held", "too_large")
    [kept] = taken(house)
    assert json.loads(kept.raw) == huge


def test_a_device_name_is_cleaned_not_refused(ann):
    assert ann.sync(device_name="Ann's\u0000 phone\n\u202e") is not None


def test_no_answer_names_a_field_the_sender_made_up(ann):
    verdict = ann.verdict(ann.entry() | {"x" * 5000: 1})
    assert (verdict["verdict"], verdict["code"]) == ("held", "unknown_field")
    assert len(verdict["field"]) <= 200
