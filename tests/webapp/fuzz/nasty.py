"""Values that have broken programs, and JSON with what no value can hold: double keys, numbers as typed."""

import json
import random
from typing import Any


class Typed(str):
    """Text that stands in the JSON as it is: a number as somebody typed it, or something that is no JSON."""


class Twice(list):
    """An object as pairs, so that a key may come twice."""


def written(value: Any) -> str:
    """The JSON of a value; text in plain characters, so that a lone surrogate travels as its escape."""
    if isinstance(value, Typed):
        return str(value)
    if isinstance(value, Twice):
        return "{" + ",".join(f"{json.dumps(key)}:{written(inner)}" for key, inner in value) + "}"
    if isinstance(value, dict):
        return written(Twice(value.items()))
    if isinstance(value, list | tuple):
        return "[" + ",".join(map(written, value)) + "]"
    return json.dumps(value)


def nested(levels: int) -> Any:
    """A list in a list in a list."""
    value: Any = 1
    for _ in range(levels):
        value = [value]
    return value


# What an entry may hold without making its message unreadable.
IN_AN_ENTRY: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2**31, 2**53 - 1, 2**53, -(2**53), 10**17, 10**40, "", " ", "\n", "0", "-0",
    "NaN", "Infinity", "1e309", "36.8", "36,8", "36.80000000000000000001", "٣٦٫٨", "９", "\x00", "a\x00b",
    "\ud800", "a\udfff", "\ud83d", "é😀", "👩‍👩‍👧‍👦", "مريم بنت خالد", "\u202eevil\u202c", "\ufeff", "\uffff",
    "x" * 5000, "x" * 20_001, "../../etc/passwd", "'; DROP TABLE entries; --",
    "<script>alert(1)</script>",
    "%s%n", "{{7*7}}", "2026-02-30T25:61:61.000Z", "2026-11-25T09:40:12Z", "9999-12-31T23:59:59.999Z",
    "0000-00-00T00:00:00.000Z", "0001-01-01T00:00:00.000Z", "١٩٦٠-٠١-٠١",
    "00000000-0000-0000-0000-000000000000",
    "019ab9e8-3adb-7000-8000-00000000000Z", "temperature", "note", "details", "a_kind_of_tomorrow",
    [], {}, [None], [[]], {"": ""}, {"é": 1}, {"a" * 300: 1}, {"\x00": 1}, {"__proto__": {"x": 1}},
    nested(10), nested(23), list(range(300)), {"fields": {}}, {"fields": None}, {"text": []},
    Typed("-0"), Typed("1e309"), Typed("-1E400"), Typed("1.0"), Typed("36.8"), Typed("0.1e1"),
    Typed("9" * 400), Typed("1" + "0" * 5000),
)  # fmt: skip
# What makes a whole message unreadable, wherever it stands.
IN_A_MESSAGE: tuple[Any, ...] = (
    Typed("NaN"), Typed("-Infinity"), Typed("01"), Typed("+1"), Typed(".5"), Typed("'x'"), Typed(""),
    Typed("undefined"), Typed('"\x01"'), Typed('"\\x"'), Typed('"'), nested(40),
    Typed("[" * 5000 + "]" * 5000), Twice([("a", 1), ("a", 2)]),
)  # fmt: skip


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in a value, the value itself left out."""
    if isinstance(value, dict):
        inner = list(value.items())
    elif isinstance(value, list):
        inner = list(enumerate(value))
    else:
        return []
    return [place for key, below in inner for place in ((*path, key), *places(below, (*path, key)))]


def spoil_value(value: Any, chance: random.Random, choices: tuple[Any, ...]) -> Any:
    """The value with something replaced, left out or added at one place."""
    value = json.loads(json.dumps(value))
    found = places(value)
    *way, last = chance.choice(found)
    at = value
    for key in way:
        at = at[key]
    act = chance.choice(("replace", "replace", "replace", "remove", "add"))
    if act == "replace":
        at[last] = chance.choice(choices)
    elif act == "remove":
        del at[last]
    elif isinstance(at, dict):
        at[chance.choice(("extra", "", "__proto__", "seq", "é", "x" * 300))] = chance.choice(choices)
    else:
        at.insert(0, chance.choice(choices))
    return value


def spoil_bytes(data: bytes, chance: random.Random) -> bytes:
    """The bytes with a few changed, lost, doubled or put in."""
    for _ in range(chance.choice((1, 1, 1, 2, 5))):
        start = chance.randrange(len(data) + 1)
        end = min(len(data), start + chance.choice((1, 1, 2, 8, 64)))
        put = chance.choice((
            b"", bytes([chance.randrange(256)]), b"\xff\xfe", b"\x00", b"\xed\xa0\x80", b"\xc0\xaf",
            b'"', b"{", b"]",
            b"\\u0000", b"\\ud800", b"9" * 30, b"e999", data[start:end] * 2,
        ))  # fmt: skip
        data = data[:start] + put + data[end:]
    return data
