"""Canonical JSON and the hash of an entry: the same bytes in Python and in the browser."""

import hashlib
import json
import re
from typing import Any

import msgspec

from sync.errors import CanonicalError
from sync.plain import SAFE_INTEGER, Plain

MAX_DEPTH = 24
SERVER_KEYS = frozenset({"seq", "received_at"})
_ENCODE = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode
_NOT_STORED = re.compile("[\x00\ud800-\udfff]")
_Plain = msgspec.defstruct("_Plain", [("value", Plain)])
_QUICK = msgspec.json.Encoder(order="sorted").encode


def canonical(value: Any) -> str:
    """The canonical text of a value: keys sorted, no spaces, characters unescaped, no floats."""
    return _canonical(value).decode()


def canonical_again(value: Any) -> str:
    """The canonical text of a value that has one for sure, as part of something that was looked at before."""
    return _QUICK(value).decode()


def canonical_entry(entry: dict[str, Any], plain: bool = False) -> bytes:
    """What of an entry is hashed: its canonical text in UTF-8, without what the server adds.

    `plain`: it was read as sync.plain has it, and need not be looked at once more for that.
    """
    if not SERVER_KEYS.isdisjoint(entry):
        entry = {key: value for key, value in entry.items() if key not in SERVER_KEYS}
    return (_written(entry) if plain else None) or _canonical(entry)


def entry_hash(entry: dict[str, Any]) -> str:
    """SHA-256 (hex) of an entry's canonical text, without what the server adds."""
    return hashlib.sha256(canonical_entry(entry)).hexdigest()


def _canonical(value: Any) -> bytes:
    # Nearly every value is quickly seen to be as it must. Of the rest the whole is looked at, for the words.
    return _quick(value) or _careful(value)


def _quick(value: Any) -> bytes | None:
    """The canonical text of a value that is surely as it must be; None says nothing."""
    try:
        # What is read as another value is not as it must be, a tuple as a list for instance; nor is what can
        # be read but not written.
        if msgspec.convert({"value": value}, _Plain).value != value:
            return None
    except (msgspec.ValidationError, TypeError, UnicodeEncodeError):
        return None
    return _written(value)


def _written(value: Any) -> bytes | None:
    """The canonical text of a value of plain parts; None where it is not surely that."""
    try:
        text = _QUICK(value)
    except (TypeError, UnicodeEncodeError):
        return None
    return text if text.isascii() and b"\\u0000" not in text else None


def _careful(value: Any) -> bytes:
    _check(value, "", 0)
    return _ENCODE(value).encode()


def _check(value: Any, path: str, depth: int) -> None:
    if depth > MAX_DEPTH:
        raise CanonicalError("too_deep", "This is nested too deeply. Record it again.", path or None)
    if isinstance(value, str):
        _check_text(value, path)
    elif isinstance(value, dict):
        for key, inner in value.items():
            _check_key(key, path)
            _check(inner, _join(path, key), depth + 1)
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            _check(inner, _join(path, str(index)), depth + 1)
    elif value is not None and not isinstance(value, bool):
        _check_number(value, path)


def _check_key(key: Any, path: str) -> None:
    # Python sorts by code point and JavaScript by UTF-16 unit: beyond ASCII they can differ.
    if not isinstance(key, str) or not key.isascii() or "\x00" in key:
        raise CanonicalError("bad_key", "A field name may hold plain ASCII letters only.", path or None)


def _check_text(text: str, path: str) -> None:
    if _NOT_STORED.search(text):
        raise CanonicalError(
            "bad_text",
            "This text holds a character that cannot be stored. Delete the odd character and save again.",
            path or None,
        )


def _check_number(value: Any, path: str) -> None:
    if not isinstance(value, int) or abs(value) > SAFE_INTEGER:
        raise CanonicalError(
            "not_exact",
            'A number must be a whole number, or a decimal written as text such as "36.8".',
            path or None,
        )


def _join(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name
