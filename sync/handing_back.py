"""What a device hands back after the log was restored, looked at before it is judged: is it proved?"""

from collections.abc import Callable
from typing import Any

from sync.canonical import entry_hash
from sync.errors import CanonicalError
from sync.messages import ENTRY_KEYS, Candidate, Request, Returned
from sync.receipts import Receipts
from sync.shapes import is_uuid


def candidates_of(
    request: Request, receipts: Receipts, organisation: str, examine: Callable[[Any], Candidate]
) -> tuple[list[Candidate], set[str]]:
    """The items that are handed back, in order, and the hashes of those that a receipt proves.

    What is not proved is examined like a push.
    """
    candidates: list[Candidate] = []
    proved: set[str] = set()
    for group in request.returned:
        covered = set(group.covers) if _holds(group, receipts, organisation) else set()
        for item in group.entries:
            candidate = _proved(item, covered)
            if candidate is not None:
                proved.add(str(candidate.hash))
            candidates.append(candidate or examine(item))
    return candidates, proved


def _holds(group: Returned, receipts: Receipts, organisation: str) -> bool:
    return receipts.proves(group.receipt, organisation, group.covers)


def _proved(item: Any, covered: set[str]) -> Candidate | None:
    """The candidate for an item whose hash is among those covered."""
    found = as_it_stands(item) if covered else None
    return found if found and found.hash in covered else None


def as_it_stands(item: Any) -> Candidate | None:
    """The candidate for what was in a log before, its content not judged again; None for anything else."""
    if not isinstance(item, dict) or set(item) != set(ENTRY_KEYS):
        return None
    try:
        digest = entry_hash(item)
    except CanonicalError:
        return None
    if not (is_uuid(item["id"]) and is_uuid(item["client"])):
        return None
    return Candidate(item, item["id"], digest, item, about=item["client"])
