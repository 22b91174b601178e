"""Appending to the log: the one way in, for a device's push and for everything else.

Every item is judged alone first (`examine`, given in). Then one transaction locks the organisation's
counter row, looks at what is already there, and numbers what is new. The lock is held until commit, so
numbers become visible in their own order and a reader who has seen n never finds a smaller one later.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.exc import DataError, IntegrityError
from sqlalchemy.orm import Session

from sync.canonical import canonical
from sync.messages import ENTRY_KEYS, Candidate, Verdict
from webapp.storage.database import Database
from webapp.storage.holding import hold
from webapp.storage.models import Entry, Organisation
from webapp.storage.people import Person
from webapp.storage.verdicts import judge, known_to

NOT_STORED = "The server could not store this entry. It is kept aside there; tell your support."
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
        return Batch(session, sender, candidates).append()


class Batch:
    """Examined items being appended within one writing session."""

    def __init__(self, session: Session, sender: Sender, candidates: list[Candidate]) -> None:
        self.session, self.sender, self.candidates = session, sender, candidates
        self.organisation = lock_counter(session, sender.person.organisation)
        self.head = self.organisation.head
        self.known = known_to(session, sender.person, candidates, sender.now)
        self.verdicts: dict[int, Verdict] = {}

    def append(self) -> list[Verdict]:
        """Append what is new, keep aside what cannot be taken; a verdict for each item, in order."""
        waiting = list(range(len(self.candidates)))
        # A correction may stand before its original in the batch: go round until nothing moves any more.
        while waiting:
            still = [index for index in waiting if not self._settle(index)]
            if len(still) == len(waiting):
                break
            waiting = still
        self.organisation.head = self.head
        verdicts = [self.verdicts[index] for index in range(len(self.candidates))]
        sender = self.sender
        hold(
            self.session,
            sender.person,
            sender.device,
            sender.now,
            zip(self.candidates, verdicts, strict=True),
        )
        return verdicts

    def _settle(self, index: int) -> bool:
        """Reach a verdict for one item; False when it still waits for another of the batch."""
        candidate = self.candidates[index]
        verdict = judge(candidate, self.known) or self._insert(candidate)
        self.verdicts[index] = verdict
        return verdict.verdict != "waiting"

    def _insert(self, candidate: Candidate) -> Verdict:
        seq = self.head + 1
        try:
            with self.session.begin_nested():
                self.session.execute(insert(Entry), entry_row(self.sender, seq, candidate))
        except (IntegrityError, DataError):
            return Verdict(candidate.id, "held", code="not_stored", message=NOT_STORED)
        self.head = seq
        self.known.add(candidate, seq)
        return Verdict(candidate.id, "applied", seq=seq)


def lock_counter(session: Session, organisation: str) -> Organisation:
    """The organisation's row, locked until commit without blocking rows that merely refer to it."""
    return session.scalars(
        select(Organisation)
        .where(Organisation.id == organisation)
        .with_for_update(key_share=True)
        .execution_options(populate_existing=True)
    ).one()


# A key of an entry -> the column it is kept in, where the two differ.
_COLUMNS = {"client": "client_id", "visit": "visit_id", "author": "author_id", "device": "device_id"}


def entry_row(sender: Sender, seq: int, candidate: Candidate) -> dict[str, Any]:
    """The columns of an examined entry under a number."""
    entry = candidate.entry or {}
    row = {_COLUMNS.get(key, key): entry[key] for key in ENTRY_KEYS}
    added = {"organisation_id": sender.person.organisation, "seq": seq, "hash": candidate.hash}
    return row | added | {"body": canonical(entry["body"]), "received_at": sender.now}
