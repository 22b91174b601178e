"""Readings that were in order are looked at once; everything else each time, and nothing of them is kept."""

import pytest

from tests.webapp.support import TEMPERATURE, entry_of, refusal_of
from webapp.schemas import check, remembered

FEVER = {**TEMPERATURE, "fields": {**TEMPERATURE["fields"], "temperature": "39.4"}}
ABSURD = {**TEMPERATURE, "fields": {**TEMPERATURE["fields"], "temperature": "99"}}


@pytest.fixture
def looks(monkeypatch) -> list[str]:
    """The kinds of the readings that were looked at, from a memory that is empty."""
    found, look = [], check._check_reading
    monkeypatch.setattr(remembered, "_in_order", set())
    monkeypatch.setattr(check, "_check_reading", lambda kind, body: found.append(kind) or look(kind, body))
    return found


def test_the_same_reading_is_looked_at_once(looks):
    assert [refusal_of(entry_of()) for _ in range(3)] == [None] * 3
    assert looks == ["temperature"]


def test_another_reading_is_looked_at(looks):
    assert [refusal_of(entry_of(body=body)) for body in (TEMPERATURE, FEVER, TEMPERATURE, FEVER)] == [
        None
    ] * 4
    assert looks == ["temperature"] * 2


def test_a_kind_does_not_speak_for_another(looks):
    assert refusal_of(entry_of()) is None
    assert refusal_of(entry_of(kind="pulse"))["verdict"] == "held"


def test_what_is_not_in_order_is_told_each_time(looks):
    entry = entry_of(body=ABSURD)
    first, again = refusal_of(entry), refusal_of(entry)
    assert first == again and first["code"] == "impossible"
    assert looks == ["temperature"] * 2 and not remembered._in_order


def test_nothing_of_a_reading_is_kept_and_never_more_than_so_many(looks, monkeypatch):
    monkeypatch.setattr(remembered, "MOST", 5)
    for tenth in range(12):
        fields = {**TEMPERATURE["fields"], "temperature": f"36.{tenth % 9 + 1}"}
        assert refusal_of(entry_of(body={**TEMPERATURE, "fields": fields})) is None
        assert len(remembered._in_order) <= 5
    assert {(type(each), len(each)) for each in remembered._in_order} == {(bytes, 16)}


@pytest.mark.parametrize("value", ["\ud800", object(), {1: "a key that is no text"}])
def test_what_has_no_canonical_text_is_not_remembered(value):
    digest = remembered.digest_of("temperature", {"fields": value})
    assert digest is None and not remembered.was_in_order(digest)
