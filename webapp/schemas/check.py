"""Checking one entry: envelope, kind, body, and what the clinical data asks of a reading."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from typing import Any

from marshmallow import Schema, ValidationError

from sync.instants import LONGEST_AHEAD, read_instant
from webapp.clinical import check_described, check_reading, described_kinds, measures, quick_check
from webapp.schemas.bodies import BODIES, OF_A_VISIT, past_day
from webapp.schemas.described import described_schemas
from webapp.schemas.envelope import EntrySchema
from webapp.schemas.quick_look import quick_look
from webapp.schemas.readings import reading_schemas
from webapp.schemas.remembered import digest_of, remember, was_in_order
from webapp.schemas.said import first_error

SCHEMAS: dict[str, type[Schema]] = {**BODIES, **described_schemas(), **reading_schemas()}
# The shape of a kind's body that this program writes and reads; a kind not named here is at 1.
VERSIONS: dict[str, int] = {kind: measure["schema"] for kind, measure in measures.items()}


@dataclass(frozen=True)
class Problem:
    """Why an entry cannot be taken: `later` (a newer server may) or `held` (not as it stands)."""

    verdict: str
    code: str
    field: str | None
    message: str


def check_entry(entry: Mapping[str, Any], author: str, now: datetime) -> Problem | None:
    """What is wrong with an entry, or None. `now` is the server's clock."""
    return (
        _check_schema(EntrySchema, entry)
        or _check_author(entry, author)
        or _check_moment(entry, now)
        or _check_known(entry)
        or _check_visit(entry)
        or _check_body(entry, now)
    )


def make_looks() -> None:
    """Make every schema's quick look now, and not when an entry first asks for it."""
    for schema in (EntrySchema, *SCHEMAS.values()):
        quick_look(schema)


def _check_schema(schema: type[Schema], value: Any) -> Problem | None:
    if quick_look(schema)(value):
        return None
    try:
        _made(schema).load(value)
    except ValidationError as error:
        path, code, message = first_error(error.messages)
        return Problem("held", code, _shown(path), str(message))
    return None


@cache
def _made(schema: type[Schema]) -> Schema:
    """One object of each schema: making one copies all its fields, loading with one changes nothing in it."""
    return schema()


def _shown(path: str) -> str | None:
    """A field path as forms name it: what stands under a reading's `fields` needs no prefix."""
    return path.removeprefix("fields.") or None


def _check_author(entry: Mapping[str, Any], author: str) -> Problem | None:
    if entry["author"] == author:
        return None
    return Problem(
        "held",
        "wrong_author",
        "author",
        "This was recorded by somebody else. Its author must sign in on this device to send it.",
    )


def _check_moment(entry: Mapping[str, Any], now: datetime) -> Problem | None:
    recorded = read_instant(entry["recorded_at"])
    if recorded - now <= LONGEST_AHEAD:
        return None
    return Problem(
        "held",
        "future_date",
        "recorded_at",
        "This lies more than a day ahead of the server's clock: the date of this device is wrong, or the "
        "server's. If it was this device's, set it right, record this again and withdraw this one. If not, "
        "tell whoever looks after Lintel in your service: nothing is lost, it goes again once that is right.",
    )


def _check_known(entry: Mapping[str, Any]) -> Problem | None:
    kind, version = entry["kind"], entry["schema"]
    if kind not in SCHEMAS:
        return Problem(
            "later",
            "unknown_kind",
            "kind",
            f'This server does not know entries of the kind "{kind}" yet. It stays on this device '
            "and is sent again after the server is updated.",
        )
    if version > VERSIONS.get(kind, 1):
        return Problem(
            "later",
            "newer_schema",
            "schema",
            "This was recorded by a newer version than this server knows. It stays on this device "
            "and is sent again after the server is updated.",
        )
    return None


def _check_visit(entry: Mapping[str, Any]) -> Problem | None:
    if entry["kind"] in OF_A_VISIT and entry["visit"] is None:
        return Problem(
            "held", "required", "visit", "This belongs to a visit but names none. Record it again."
        )
    return None


def _check_body(entry: Mapping[str, Any], now: datetime) -> Problem | None:
    if entry["voids"]:
        return None
    kind, body = entry["kind"], entry["body"]
    problem = _check_measured(kind, body) if kind in measures else _check_schema(SCHEMAS[kind], body)
    if problem is None and kind in described_kinds():
        problem = _check_described(entry)
    if problem is None:
        problem = _check_days(entry, now)
    return problem


def _check_measured(kind: str, body: dict[str, Any]) -> Problem | None:
    digest = digest_of(kind, body)
    if was_in_order(digest):
        return None
    problem = _check_schema(SCHEMAS[kind], body) or _check_reading(kind, body)
    if problem is None:
        remember(digest)
    return problem


def _check_reading(kind: str, body: dict[str, Any]) -> Problem | None:
    if quick_check(kind, body):
        return None
    found = check_reading(kind, body)
    for error in found["errors"]:
        return Problem("held", error["code"], error["field"], error["message"])
    for question in found["questions"]:
        return Problem(
            "held",
            "unconfirmed",
            question["field"],
            f"{question['message']} It was not confirmed: check it and record it again.",
        )
    return None


def _check_described(entry: Mapping[str, Any]) -> Problem | None:
    # By the day it was recorded: what was ahead then may have passed before the phone came home.
    recorded = read_instant(entry["recorded_at"]) + timedelta(minutes=entry["utc_offset"])
    for each in check_described(entry["kind"], dict(entry["body"]), recorded.date().isoformat()):
        return Problem("held", each["code"], each["field"] or None, each["message"])
    return None


def _latest_day(entry: Mapping[str, Any], now: datetime) -> date:
    """Today where it was recorded, by the later of two clocks: the server's may be the one behind."""
    moment = max(now, read_instant(entry["recorded_at"]))
    return (moment + timedelta(minutes=entry["utc_offset"])).date()


def _check_days(entry: Mapping[str, Any], now: datetime) -> Problem | None:
    found = past_day(entry["kind"], entry["body"])
    if found is None or found[1] <= _latest_day(entry, now):
        return None
    return Problem("held", "future_date", found[0], "This date lies in the future. Correct it.")
