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
from webapp.schemas import check_entry
from webapp.storage import Person

log = logging.getLogger("lintel")
LONGEST_PATH = 200
NOT_AN_ENTRY = "This is not an entry. It is kept aside on the server; tell your support."
TOO_LARGE = "This entry is too large to be taken. Shorten its texts and record it again."
UNEXPECTED = "The server could not check this entry. It is kept aside there; tell your support."


def examine(item: Any, person: Person, now: datetime) -> Candidate:
    """The candidate for an item, with the reason why it cannot be taken if there is one."""
    if not isinstance(item, dict):
        return Candidate(item, refusal=_held(None, "malformed", NOT_AN_ENTRY))
    own = item["id"] if is_uuid(item.get("id")) else None
    about = item["client"] if is_uuid(item.get("client")) else None
    try:
        text = canonical_entry(item)
    except CanonicalError as error:
        refusal = _held(own, error.code, error.message, _field(error.field))
        return Candidate(item, own, refusal=refusal, about=about)
    too_large = _held(own, "too_large", TOO_LARGE) if len(text) > MAX_PUSH_BYTES else None
    refusal = too_large or _refusal(item, own, person, now)
    return Candidate(item, own, sha256(text).hexdigest(), None if refusal else item, refusal, about)


def _refusal(item: dict[str, Any], own: str | None, person: Person, now: datetime) -> Verdict | None:
    try:
        problem = check_entry(item, person.id, now)
    # One entry the checks stumble over must not hold back the others of its batch.
    except Exception as error:
        log.error("examine", extra={"error": type(error).__name__, "where": where(error)})
        return _held(own, "not_checked", UNEXPECTED)
    if problem is None:
        return None
    field = _field(problem.field)
    return Verdict(own, problem.verdict, code=problem.code, field=field, message=problem.message)


def _held(own: str | None, code: str, message: str, field: str | None = None) -> Verdict:
    return Verdict(own, "held", code=code, field=field, message=message)


def _field(path: str | None) -> str | None:
    """A path in an entry as forms name it: without the body's own prefixes, and no longer than is kept."""
    if path is None or path in ENTRY_KEYS:
        return path
    return path.removeprefix("body.").removeprefix("fields.")[:LONGEST_PATH]
