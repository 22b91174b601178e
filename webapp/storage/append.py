"""Appending to the log: the one way in, for a device's push and for everything else.

Every item is judged alone first (`examine`, given in). Then one transaction locks the organisation's
counter row, looks at what is already there, and numbers what is new. The lock is held until commit, so
numbers become visible in their own order and a reader who has seen n never finds a smaller one later.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.exc import DataError, IntegrityError
from sqlalchemy.orm import Session

from sync.canonical import canonical
from sync.messages import Candidate, Verdict
from webapp.storage.database import Database
from webapp.storage.holding import hold
from webapp.storage.models import Entry, Organisation
from webapp.storage.people import Person
from webapp.storage.verdicts import Known, judge, known_to

Examine = Callable[[Any, Person, datetime], Candidate]


@dataclass(frozen=True)
class Sender:
    """Who sends, from which device, at what moment by the server's clock."""

    person: Person
    device: str
    now: datetime


def append_entries(
    database: Database,
    person: Person,
    items: Iterable[Any],
    *,
    examine: Examine,
    device: str,
    now: datetime | None = None,
) -> list[Verdict]:
    """Take what can be taken of some items; a verdict for each, in order. Repeating it changes nothing."""
    sender = Sender(person, device, now or datetime.now(UTC))
    candidates = [examine(item, person, sender.now) for item in items]
    if not candidates:
        return []
    with database.writing() as session:
        return append(session, sender, candidates)


def append(session: Session, sender: Sender, candidates: list[Candidate]) -> list[Verdict]:
    """Append examined items within a writing session."""
    organisation = lock_counter(session, sender.person.organisation)
    known = known_to(session, sender.person, candidates, sender.now)
    verdicts: dict[int, Verdict] = {}
    waiting = list(enumerate(candidates))
    # A correction may stand before its original in the batch: go round until nothing moves any more.
    while waiting:
        still = [
            pair for pair in waiting if not _settle(session, sender, organisation, known, pair, verdicts)
        ]
        if len(still) == len(waiting):
            break
        waiting = still
    for index, candidate in enumerate(candidates):
        hold(session, sender.person, sender.device, candidate, verdicts[index], sender.now)
    return [verdicts[index] for index in range(len(candidates))]


def lock_counter(session: Session, organisation: str) -> Organisation:
    """The organisation's row, locked until commit without blocking rows that merely refer to it."""
    return session.scalars(
        select(Organisation)
        .where(Organisation.id == organisation)
        .with_for_update(key_share=True)
        .execution_options(populate_existing=True)
    ).one()


def _settle(
    session: Session,
    sender: Sender,
    organisation: Organisation,
    known: Known,
    pair: tuple[int, Candidate],
    verdicts: dict[int, Verdict],
) -> bool:
    """Reach a verdict for one item; False when it still waits for another of the batch."""
    index, candidate = pair
    verdict = judge(candidate, known)
    if verdict is None:
        verdict = _insert(session, sender, organisation, candidate)
        if verdict.verdict == "applied":
            known.add(candidate, verdict.seq)
    verdicts[index] = verdict
    return verdict.verdict != "waiting"


def _insert(session: Session, sender: Sender, organisation: Organisation, candidate: Candidate) -> Verdict:
    seq = organisation.head + 1
    try:
        with session.begin_nested():
            session.add(entry_row(sender, seq, candidate))
    except (IntegrityError, DataError):
        return Verdict(
            candidate.id,
            "held",
            code="not_stored",
            message="The server could not store this entry. It is kept aside there; tell your support.",
        )
    organisation.head = seq
    session.flush()
    return Verdict(candidate.id, "applied", seq=seq)


def entry_row(sender: Sender, seq: int, candidate: Candidate) -> Entry:
    """The row of an examined entry under a number."""
    entry = candidate.entry or {}
    return Entry(
        organisation_id=sender.person.organisation,
        id=candidate.id,
        seq=seq,
        hash=candidate.hash,
        kind=entry["kind"],
        schema=entry["schema"],
        client_id=entry["client"],
        visit_id=entry["visit"],
        author_id=entry["author"],
        device_id=entry["device"],
        device_seq=entry["device_seq"],
        recorded_at=entry["recorded_at"],
        utc_offset=entry["utc_offset"],
        amends=entry["amends"],
        voids=entry["voids"],
        reason=entry["reason"],
        body=canonical(entry["body"]),
        received_at=sender.now,
    )
