"""The canonical text: what is told from a quick look is what the careful look would have told."""

import json
from collections import OrderedDict, UserDict
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import IntEnum, StrEnum
from pathlib import Path
from types import MappingProxyType
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sync import canonical as module
from sync.canonical import MAX_DEPTH, SAFE_INTEGER, canonical
from sync.errors import CanonicalError

VECTORS = Path(__file__).resolve().parents[1] / "vectors" / "sync"


class Text(str):
    """A text that is more than one."""


class Named(StrEnum):
    """A text with a name."""

    ONE = "a"


class Numbered(IntEnum):
    """A number with a name."""

    ONE = 1


# What Python can hold and JSON cannot, or what only resembles a text, a number, a list or an object.
UNUSUAL = [
    (), (1, "a"), {1}, frozenset({"a"}), range(2), b"a", bytearray(b"a"), Decimal("1"), UUID(int=7), 1j,
    date(2026, 3, 4), datetime(2026, 3, 4, tzinfo=UTC), float("nan"), float("inf"), 1.0, object(), Text("a"),
    Named.ONE, Numbered.ONE, UserDict(a=1), MappingProxyType({"a": 1}), OrderedDict(b=1, a=2), {Text("a"): 1},
    {1: "a"}, {None: 1}, {True: 1}, {(1,): 1}, {b"a": 1}, {1.5: 1}, 10**30, -(10**30), 2**63, 2**64,
    SAFE_INTEGER + 1, -SAFE_INTEGER - 1, "\ud800", "a\udfff", "\x00", "\\u0000", {"é": 1},
    {"\ud800": 1}, {"\x00": 1},
]  # fmt: skip
LEAVES = st.one_of(
    st.none(), st.booleans(), st.integers(), st.integers(SAFE_INTEGER - 2, SAFE_INTEGER + 2), st.floats(),
    st.text(st.characters()), st.sampled_from(["\x00", "\ud800", "é", "\\u0000", "{[", "\u2028"]),
    st.sampled_from(UNUSUAL),
)  # fmt: skip
KEYS = st.one_of(st.text(st.characters(), max_size=4), st.sampled_from(["a", "b", "\x00", "é"]), st.just(1))
VALUES = st.recursive(
    LEAVES, lambda inner: st.one_of(st.lists(inner, max_size=5), st.dictionaries(KEYS, inner, max_size=5))
)


def told(value):
    try:
        return canonical(value)
    except CanonicalError as error:
        return error.code, error.field


def told_carefully(value):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "_quick", lambda _value: None)
        return told(value)


@given(VALUES)
def test_a_quick_look_tells_the_same(value):
    assert told(value) == told_carefully(value)


@pytest.mark.parametrize("value", UNUSUAL)
@pytest.mark.parametrize(
    "wrap", [lambda it: it, lambda it: [it], lambda it: {"a": it}, lambda it: [{"b": it}]]
)
def test_also_of_what_only_resembles_a_value(value, wrap):
    assert told(wrap(value)) == told_carefully(wrap(value))


@pytest.mark.parametrize("code", range(0x80))
def test_each_character_is_written_in_the_same_way(code):
    for value in (chr(code), f"a{chr(code)}b", {"a": [chr(code)]}, {chr(code): 1}):
        assert told(value) == told_carefully(value)


def test_the_quick_look_speaks_for_what_is_usual(monkeypatch):
    cases = json.loads((VECTORS / "entry_hash.json").read_text(encoding="utf-8"))["cases"]
    entries = [each["entry"] for each in cases if json.dumps(each["entry"], ensure_ascii=False).isascii()]
    monkeypatch.setattr(module, "_careful", None)
    assert entries and all(map(module.canonical_entry, entries))
    assert all(map(canonical, [{}, [], "a\n", "", 0, -1, SAFE_INTEGER, True, None, {"": [[{"a": 1}]]}]))


@pytest.mark.parametrize("wrap", [lambda inner: [inner], lambda inner: {"a": inner}])
@pytest.mark.parametrize("depth", [*range(1, 10), MAX_DEPTH - 1, MAX_DEPTH, MAX_DEPTH + 1, 5000])
def test_also_of_what_is_nested_deeply(wrap, depth):
    value = 1
    for _ in range(depth):
        value = wrap(value)
    found = told(value)
    assert found == told_carefully(value)
    assert isinstance(found, str) == (depth <= MAX_DEPTH)


def test_many_small_objects_side_by_side_are_not_deep():
    assert told([{}] * 100) == "[" + ",".join(["{}"] * 100) + "]" == told_carefully([{}] * 100)
