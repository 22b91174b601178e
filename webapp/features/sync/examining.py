"""Looking at one pushed item alone: its hash, and whether it can be an entry. Never raises."""

import logging
from datetime import datetime
from hashlib import sha256
from typing import Any

from sync.canonical import canonical_entry
from sync.errors import CanonicalError
from sync.messages import ENTRY_KEYS, MAX_PUSH_BYTES, Candidate, Verdict
from sync.shapes import is_uuid
from webapp.errors import where
from webapp.schemas import Problem, check_entry
from webapp.storage import Person

log = logging.getLogger("lintel")
LONGEST_PATH = 200
NOT_AN_ENTRY = "This is not an entry. It is kept aside on the server; tell your support."
TOO_LARGE = Problem(
    "held", "too_large", None, "This entry is too large to be taken. Shorten its texts and record it again."
)
UNEXPECTED = Problem(
    "held",
    "not_checked",
    None,
    "The server could not check this entry. It is kept aside there; tell your support.",
)


def examine(item: Any, person: Person, now: datetime, plain: bool = False) -> Candidate:
    """The candidate for an item, with the reason why it cannot be taken if there is one.

    `plain`: it was read as sync.plain has it.
    """
    if not isinstance(item, dict):
        return Candidate(item, refusal=Verdict(None, "held", code="malformed", message=NOT_AN_ENTRY))
    try:
        text = canonical_entry(item, plain)
    except CanonicalError as error:
        return _refused(item, None, Problem("held", error.code, error.field, error.message))
    problem = TOO_LARGE if len(text) > MAX_PUSH_BYTES else _problem(item, person, now)
    digest = sha256(text).hexdigest()
    if problem is not None:
        return _refused(item, digest, problem)
    return Candidate(item, item["id"], digest, item, about=item["client"])


def _problem(item: dict[str, Any], person: Person, now: datetime) -> Problem | None:
    try:
        return check_entry(item, person.id, now)
    # One entry the checks stumble over must not hold back the others of its batch.
    except Exception as error:
        log.error("examine", extra={"error": type(error).__name__, "where": where(error)})
        return UNEXPECTED


def _refused(item: dict[str, Any], digest: str | None, problem: Problem) -> Candidate:
    own, about = (item[key] if is_uuid(item.get(key)) else None for key in ("id", "client"))
    field = _field(problem.field)
    refusal = Verdict(own, problem.verdict, code=problem.code, field=field, message=problem.message)
    return Candidate(item, own, digest, refusal=refusal, about=about)


def _field(path: str | None) -> str | None:
    """A path in an entry as forms name it: without the body's own prefixes, and no longer than is kept."""
    if path is None or path in ENTRY_KEYS:
        return path
    return path.removeprefix("body.").removeprefix("fields.")[:LONGEST_PATH]
