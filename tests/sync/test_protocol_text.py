"""PROTOCOL.md says what the programs do: every code, every key, every limit."""

import ast
import re
from pathlib import Path

import pytest

import webapp.errors
from sync import messages, strict_json
from sync.canonical import MAX_DEPTH

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "sync" / "PROTOCOL.md").read_text("utf-8")
NAMED = set(re.findall(r"`([a-z_]+)`", TEXT))
# The calls that give an item its code, and which of their arguments it is.
GIVERS = {"Said": 0, "said": 0, "Problem": 1, "CanonicalError": 0, "_held": 1}
FOLDERS = ("sync", "webapp/storage", "webapp/schemas", "webapp/features/sync")
# Answers of other addresses than sync.
ELSEWHERE = {"bad_request", "forbidden", "invalid", "wrong_method"}


def codes_of_items() -> set[str]:
    """Every code the source gives to an item, read from the calls that make verdicts and problems."""
    found = set()
    for folder in FOLDERS:
        for path in (ROOT / folder).glob("*.py"):
            calls = [
                node for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, ast.Call)
            ]
            found |= {code for call in calls for code in codes_given(call)}
    return found


def codes_given(call: ast.Call) -> list[str]:
    name = call.func.id if isinstance(call.func, ast.Name) else ""
    place = GIVERS.get(name)
    given = [call.args[place]] if place is not None and len(call.args) > place else []
    given += [keyword.value for keyword in call.keywords if keyword.arg == "code" and name == "Verdict"]
    return [
        value.value for value in given if isinstance(value, ast.Constant) and isinstance(value.value, str)
    ]


def test_the_codes_are_found():
    assert {"future_date", "unconfirmed", "target_missing", "not_exact", "too_large"} <= codes_of_items()


@pytest.mark.parametrize("code", sorted(codes_of_items()))
def test_every_code_of_an_item_is_named(code):
    # The words of the clinical data are documented there.
    assert code in NAMED or code in (ROOT / "static/clinical/messages.json").read_text("utf-8")


@pytest.mark.parametrize("code", sorted(set(webapp.errors.CODES) - ELSEWHERE))
def test_every_error_of_a_request_is_named_with_its_status(code):
    status = webapp.errors.CODES[code][0]
    rows = [line for line in TEXT.splitlines() if line.startswith("| ") and f"`{code}`" in line]
    assert code == "not_found" or any(str(status) in row for row in rows)


@pytest.mark.parametrize("name", [*messages.ENTRY_KEYS, *messages.VERDICTS, "seq", "received_at"])
def test_every_key_and_verdict_is_named(name):
    assert name in NAMED


@pytest.mark.parametrize("limit", [messages.MAX_ITEMS, messages.MAX_PUSH_BYTES, messages.MAX_BODY_BYTES,
                                   messages.MAX_FILLS, messages.PAGE_ENTRIES, messages.PAGE_BYTES // 1024,
                                   MAX_DEPTH, strict_json.MAX_DEPTH])  # fmt: skip
def test_every_limit_is_named(limit):
    assert str(limit) in TEXT or f"{limit:,}" in TEXT
