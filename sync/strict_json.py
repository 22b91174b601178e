"""JSON without its traps: no duplicate keys, no NaN, no depth bombs, numbers kept as they were typed."""

import json
import re
from itertools import accumulate
from typing import Any, NoReturn

import msgspec

from sync.errors import MessageError
from sync.plain import Plain

MAX_DEPTH = 32
_LONGEST_INTEGER = 17
_READ = msgspec.json.Decoder(Plain).decode
_WRITE = msgspec.json.Encoder().encode
_ENCODERS = {ascii: json.JSONEncoder(ensure_ascii=ascii, separators=(",", ":")) for ascii in (True, False)}
# A string counts as one even when it never ends, so that no input makes this scan twice.
_STRINGS = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*(?:"|\\?\Z)', re.DOTALL)
_NO_BRACKETS = re.compile(r"[^\[\]{}]+")
_STEPS = {"[": 1, "{": 1, "]": -1, "}": -1}


class Inexact:
    """A number that is not a safe integer, kept as it was typed so that nothing is lost by reading it."""

    def __init__(self, text: str) -> None:
        self.text = text

    def __repr__(self) -> str:
        return f"Inexact({self.text!r})"


def parse(data: bytes) -> Any:
    """The value in some bytes of JSON; MessageError when they are not the JSON we accept."""
    return parse_known(data)[0]


def parse_known(data: bytes) -> tuple[Any, bool]:
    """The same, and whether all of the value is surely as sync.plain has it."""
    value = _quick(data)
    return (_careful(data), False) if value is None else (value, True)


def _quick(data: bytes) -> Any:
    """The value in bytes that are surely the JSON we accept, as nearly all are; None says nothing."""
    try:
        value = _READ(data)
    except msgspec.DecodeError:
        return None
    # What is written as it came, byte for byte, names no key twice and has no number in another form.
    return value if _WRITE(value) == data else None


def _careful(data: bytes) -> Any:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise MessageError("malformed", "The message is not UTF-8 text.") from error
    refuse_depth(text)
    try:
        return json.loads(
            text, object_pairs_hook=_object, parse_constant=_constant, parse_float=Inexact, parse_int=_integer
        )
    except ValueError as error:
        raise MessageError("malformed", "The message is not complete, well-formed JSON.") from error


def refuse_depth(text: str) -> None:
    """Refuse text nested deeper than anything we write, before a parser recurses into it."""
    brackets = _NO_BRACKETS.sub("", _outside_strings(text))
    if max(accumulate(map(_STEPS.__getitem__, brackets)), default=0) > MAX_DEPTH:
        raise MessageError("too_deep", "The message is nested too deeply.")


def _outside_strings(text: str) -> str:
    # Where nothing is escaped, every other piece between quotation marks lies outside: common, and quick.
    if "\\" not in text:
        return "".join(text.split('"')[::2])
    return _STRINGS.sub("", text)


def as_received(value: Any, ascii_only: bool = True) -> str:
    """The value as JSON with keys in the order they came and numbers as typed, for safe keeping."""
    try:
        return _ENCODERS[ascii_only].encode(value)
    except TypeError:  # an Inexact in it, which no encoder can write as it was typed
        return _pieces(value, ascii_only)


def _pieces(value: Any, ascii_only: bool) -> str:
    if isinstance(value, Inexact):
        return value.text
    if isinstance(value, dict):
        pairs = (f"{_text(key, ascii_only)}:{_pieces(inner, ascii_only)}" for key, inner in value.items())
        return "{" + ",".join(pairs) + "}"
    if isinstance(value, list):
        return "[" + ",".join(_pieces(inner, ascii_only) for inner in value) + "]"
    return _text(value, ascii_only)


def size_of(value: Any) -> int:
    """How many bytes a value takes as JSON in UTF-8 without spaces."""
    try:
        return len(_WRITE(value))
    except (TypeError, UnicodeEncodeError, OverflowError):  # an Inexact in it, or what is no text
        return len(as_received(value, ascii_only=False).encode("utf-8", "surrogatepass"))


def _text(value: Any, ascii_only: bool) -> str:
    return json.dumps(value, ensure_ascii=ascii_only)


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise MessageError("duplicate_key", "The message names a field twice.")
    return found


def _constant(_name: str) -> NoReturn:
    raise MessageError("malformed", "The message holds a number that is not a number (NaN or Infinity).")


def _integer(text: str) -> int | Inexact:
    return int(text) if len(text) <= _LONGEST_INTEGER and text != "-0" else Inexact(text)
