"""JSON without its traps."""

import json
import time

import pytest

from sync.errors import MessageError
from sync.strict_json import MAX_DEPTH, as_received, parse


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "malformed"),
        (b"{", "malformed"),
        (b'{"a":1}x', "malformed"),
        (b"{'a':1}", "malformed"),
        (b'"\xff"', "malformed"),
        (b"\xef\xbb\xbf{}", "malformed"),
        (b"NaN", "malformed"),
        (b"[Infinity]", "malformed"),
        (b"[-Infinity]", "malformed"),
        (b'{"a":1,"a":1}', "duplicate_key"),
        (b'{"a":{"b":1,"b":2}}', "duplicate_key"),
        (b"[" * (MAX_DEPTH + 1) + b"]" * (MAX_DEPTH + 1), "too_deep"),
        (b'{"a":' * 100_000, "too_deep"),
    ],
)
def test_what_is_refused(data, code):
    with pytest.raises(MessageError) as found:
        parse(data)
    assert found.value.code == code


def test_the_deepest_that_is_allowed():
    assert parse(b"[" * MAX_DEPTH + b"]" * MAX_DEPTH)


def test_brackets_inside_text_are_no_depth():
    text = "[" * 1000 + '\\"{'
    assert parse(json.dumps([text, "\\"]).encode()) == [text, "\\"]


def test_text_that_never_ends_is_scanned_once():
    started = time.process_time()
    with pytest.raises(MessageError):
        parse(b'"' + b'\\"' * 1_000_000)
    assert time.process_time() - started < 2


@pytest.mark.parametrize(
    "text", ["1.50", "1e309", "-0", "-0.0", "1E5", "123456789012345678901234567890", "36.80"]
)
def test_numbers_are_kept_as_typed(text):
    assert as_received(parse(f'{{"b":[{text}],"a":"\\u0000"}}'.encode())) == f'{{"b":[{text}],"a":"\\u0000"}}'


def test_what_was_received_is_kept_in_ascii_whatever_it_holds():
    value = parse('{"n":"Zoë 😀","s":"\\ud800"}'.encode())
    kept = as_received(value)
    assert kept.isascii() and json.loads(kept) == json.loads('{"n":"Zoë 😀","s":"\\ud800"}')


@pytest.mark.parametrize("ascii_only", [True, False])
def test_a_number_kept_as_typed_changes_nothing_around_it(ascii_only):
    value = {"b": ['é "\\\n😀', None, True, False, 0, -7, {}, []], "a": {"z": 1, "y": ""}}
    beside = parse(b'{"n":1.50}')["n"]
    plain = as_received(value, ascii_only)
    assert plain == json.dumps(value, ensure_ascii=ascii_only, separators=(",", ":"))
    assert as_received([value, beside], ascii_only) == f"[{plain},1.50]"
