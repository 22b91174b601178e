"""JSON without its traps."""

import json
import time
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sync import strict_json
from sync.errors import MessageError
from sync.strict_json import MAX_DEPTH, as_received, parse

VECTORS = Path(__file__).resolve().parents[1] / "vectors" / "sync"
LEAVES = st.one_of(
    st.none(), st.booleans(), st.integers(), st.integers(2**53 - 2, 2**53 + 1), st.floats(),
    st.text(st.characters()),
    st.sampled_from(["\x00", "\ud800", "é", "😀", "\\", "{[", "\u2028", "\x7f", "\x1f\b\f\t"]),
)  # fmt: skip
VALUES = st.recursive(
    LEAVES, lambda inner: st.one_of(st.lists(inner), st.dictionaries(st.text(st.characters()), inner))
)
FORMS = st.fixed_dictionaries(
    {"ensure_ascii": st.booleans(), "separators": st.sampled_from([(",", ":"), (",", ":"), (", ", ": ")])}
)
PIECES = st.sampled_from(
    [b"", b'"a":1,', b"1,", b"0", b"-0", b".5", b"e1", b'"', b"\\", b"/", b"\\u0000", b"\\/", b"\xed\xa0\x80"]
    + [b"\xff", b"\xc0\x80", b"\xef\xbb\xbf", b"\x00", b"\n", b" ", b"[", b"]", b"{", b"}", b"NaN", b","]
)


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


@st.composite
def messages(draw):
    """JSON in one of the forms in which it is written, often with a piece put in or cut out."""
    data = json.dumps(draw(VALUES), **draw(FORMS)).encode("utf-8", "surrogatepass")
    if draw(st.booleans()):
        start = draw(st.integers(0, len(data)))
        data = data[:start] + draw(PIECES) + data[start + draw(st.integers(0, 3)) :]
    return data


def told(data):
    try:
        return repr(parse(data))
    except MessageError as error:
        return error.code, error.message


def told_carefully(data):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(strict_json, "_quick", lambda _data: None)
        return told(data)


@settings(max_examples=300)
@given(messages())
@example(b'{"a":1,"a":1}')
@example(b'{"a":{"b":[1],"b":[1]}}')
@example(b'[-0,1.0,1e2,123456789012345678,9007199254740992]')
@example(b'["\xed\xa0\x80"]')
@example(b'["\\ud800"]')
@example(b"1" * 5000)
def test_a_quick_look_tells_the_same(data):
    assert told(data) == told_carefully(data)


@pytest.mark.parametrize("opening", [b"[", b'{"a":'])
def test_also_of_what_is_nested_deeply(opening):
    closing = b"]" if opening == b"[" else b"}"
    for depth in range(1, MAX_DEPTH + 3):
        data = opening * depth + b"1" + closing * depth
        assert told(data) == told_carefully(data)
        assert (told(data)[0] == "too_deep") == (depth > MAX_DEPTH)


@pytest.mark.parametrize("number", [2**53 - 1, 2**53, 10**16, 10**17 - 1, 10**17, 10**30])
def test_also_of_numbers_at_the_limits(number):
    for text in (f"{number}", f"-{number}", f"[{number}]", f'{{"a":{number}}}'):
        assert told(text.encode()) == told_carefully(text.encode())


def test_the_quick_look_speaks_for_what_is_usual(monkeypatch):
    cases = json.loads((VECTORS / "entry_hash.json").read_text(encoding="utf-8"))["cases"]
    message = {"push": [each["entry"] for each in cases], "pull": {"after": 0, "fill": [], "caseload": None}}
    monkeypatch.setattr(strict_json, "_careful", None)
    data = json.dumps(message, ensure_ascii=False, separators=(",", ":")).encode()
    assert not data.isascii()
    assert parse(data) == message
