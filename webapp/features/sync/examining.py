"""Looking at one pushed item alone: its hash, and whether it can be an entry. Never raises."""

import logging
from datetime import datetime
from typing import Any

from sync.canonical import entry_hash
from sync.errors import CanonicalError
from sync.messages import ENTRY_KEYS, MAX_PUSH_BYTES, Candidate, Verdict
from sync.shapes import is_uuid
from sync.strict_json import as_received
from webapp.errors import where
from webapp.schemas import check_entry
from webapp.storage import Person

log = logging.getLogger("lintel")
NOT_AN_ENTRY = "This is not an entry. It is kept aside on the server; tell your support."
TOO_LARGE = "This entry is too large to be taken. Shorten its texts and record it again."
UNEXPECTED = "The server could not check this entry. It is kept aside there; tell your support."


def examine(item: Any, person: Person, now: datetime) -> Candidate:
    """The candidate for an item, with the reason why it cannot be taken if there is one."""
    raw = as_received(item)
    if not isinstance(item, dict):
        return Candidate(raw, refusal=Verdict(None, "held", code="malformed", message=NOT_AN_ENTRY))
    own = item["id"] if is_uuid(item.get("id")) else None
    try:
        digest = entry_hash(item)
    except CanonicalError as error:
        refusal = Verdict(own, "held", code=error.code, field=_field(error.field), message=error.message)
        return Candidate(raw, own, refusal=refusal)
    refusal = _refusal(item, own, raw, person, now)
    return Candidate(raw, own, digest, None if refusal else item, refusal)


def _refusal(
    item: dict[str, Any], own: str | None, raw: str, person: Person, now: datetime
) -> Verdict | None:
    if len(raw) > MAX_PUSH_BYTES:
        return Verdict(own, "held", code="too_large", message=TOO_LARGE)
    try:
        problem = check_entry(item, person.id, now)
    # One entry the checks stumble over must not hold back the others of its batch.
    except Exception as error:
        log.error("examine", extra={"error": type(error).__name__, "where": where(error)})
        return Verdict(own, "held", code="not_checked", message=UNEXPECTED)
    if problem is None:
        return None
    return Verdict(own, problem.verdict, code=problem.code, field=problem.field, message=problem.message)


def _field(path: str | None) -> str | None:
    """A path in an entry as forms name it: without the body's own prefixes."""
    if path is None or path in ENTRY_KEYS:
        return path
    return path.removeprefix("body.").removeprefix("fields.")
