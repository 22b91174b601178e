"""Appending to the log: the one way in, for a device's push and for everything else.

Every item is judged alone first (`examine`, given in). Then one transaction locks the organisation's
counter row, looks at what is already there, and numbers what is new (the rules are in sync/server.py).
The lock is held until commit, so numbers become visible in their own order and a reader who has seen n
never finds a smaller one later.
"""

from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import text
from sqlalchemy.exc import DataError, IntegrityError
from sqlalchemy.orm import Session

from sync.judging import Known
from sync.messages import Candidate, Verdict
from sync.server import Batch, Judged
from webapp.storage.audit.pushes import audit_push
from webapp.storage.copies import note_copies
from webapp.storage.database import Database
from webapp.storage.due_changes import note_due_changes
from webapp.storage.entry_rows import EntryRows, Row
from webapp.storage.finding import DETAILS, renew_keys
from webapp.storage.holding import hold
from webapp.storage.known import known_to
from webapp.storage.locking import lock_counter
from webapp.storage.people import Person
from webapp.storage.sender import Sender

Examine = Callable[[Any, Person, datetime], Candidate]
# What else belongs into the transaction, given the verdicts that it reaches.
Also = Callable[[Session, list[Verdict]], None]


def append_entries(
    database: Database,
    person: Person,
    items: Iterable[Any],
    *,
    examine: Examine,
    device: str,
    now: datetime | None = None,
    admitted: bool = False,
    also: Also | None = None,
) -> list[Verdict]:
    """Take what can be taken of some items; a verdict for each, in order. Repeating it changes nothing.

    `admitted`: whoever acts has them taken, although the device is withdrawn. `also` is done with them, if
    there are any: all of it or none, and again if they have to be.
    """
    sender = Sender(person, device, now or datetime.now(UTC), admitted)
    return append_candidates(database, sender, [examine(item, person, sender.now) for item in items], also)


def append_candidates(
    database: Database, sender: Sender, candidates: list[Candidate], also: Also | None = None
) -> list[Verdict]:
    """The same for items that were looked at."""
    if not candidates:
        return []
    try:
        return _append(database, sender, candidates, SqlLog, also)
    except (IntegrityError, DataError):
        return _append(database, sender, candidates, CarefulLog, also)


def _append(
    database: Database, sender: Sender, candidates: list[Candidate], make: type["SqlLog"], also: Also | None
) -> list[Verdict]:
    with database.writing() as session:
        log = make(session, sender, candidates)
        verdicts = Batch(log, candidates, sender.proved).append()
        audit_push(session, log.organisation, sender, list(zip(candidates, verdicts, strict=True)))
        log.store()
        taken = _taken(candidates, verdicts)
        organisation = sender.person.organisation
        if sender.proved is None:
            note_copies(session, sender, taken)
        renew_keys(session, organisation, {each["client"] for each in taken if each["kind"] == DETAILS})
        note_due_changes(session, organisation, {each["client"] for each in taken}, sender.now)
        if also is not None:
            also(session, verdicts)
    return verdicts


def _taken(candidates: Sequence[Candidate], verdicts: Sequence[Verdict]) -> list[dict[str, Any]]:
    both = zip(candidates, verdicts, strict=True)
    return [each.entry for each, verdict in both if verdict.verdict == "applied" and each.entry]


class SqlLog:
    """The log of the sender's organisation within one writing session, its counter row locked.

    Entries are stored together, much quicker than one by one. When the database refuses any of them
    nothing of the batch is stored, and a CarefulLog does it all again.
    """

    def __init__(self, session: Session, sender: Sender, candidates: Iterable[Candidate]) -> None:
        self._make_ready(session, sender, candidates)
        self.organisation = lock_counter(session, sender.person.organisation)

    def _make_ready(self, session: Session, sender: Sender, candidates: Iterable[Candidate]) -> None:
        """What can be done before the lock is taken, for which others may wait."""
        self._session, self._sender = session, sender
        self._entries, self._taken = EntryRows(session, sender), list[Row]()
        self._rows = {each.hash: self._entries.of(each) for each in candidates if each.entry}

    @property
    def head(self) -> int:
        """The newest number."""
        return self.organisation.head

    @head.setter
    def head(self, head: int) -> None:
        self.organisation.head = head

    def known(self, candidates: Sequence[Candidate]) -> Known:
        """What the verdicts of a batch depend on."""
        return known_to(self._session, self._sender, candidates)

    def insert(self, seq: int, candidate: Candidate) -> bool:
        """Take an examined entry down for `store`."""
        self._taken.append((*self._rows[candidate.hash], seq))
        return True

    def store(self) -> None:
        """Store what was taken down; IntegrityError or DataError when the database refuses any of it."""
        if not self._taken:
            return
        self._entries.store(self._taken)
        if self._session.get_bind().dialect.name == "postgresql":
            # Many rows travel as a pipeline, and after one PostgreSQL (seen with 15.18) starts no clock for
            # idle transactions: a worker that stopped before its commit would hold the counter for ever.
            self._session.execute(text("SELECT 1"))

    def hold(self, judged: Sequence[Judged]) -> None:
        """Keep aside what could not be taken."""
        # What changed of the organisation's row is written once, together with what its audit adds.
        with self._session.no_autoflush:
            hold(self._session, self._sender.person, self._sender.device, self._sender.now, judged)


class CarefulLog(SqlLog):
    """The same, storing each entry by itself: one that the database refuses takes nothing else with it."""

    def insert(self, seq: int, candidate: Candidate) -> bool:
        """Store an examined entry; False when the database refuses it."""
        try:
            with self._session.begin_nested():
                self._entries.store([(*self._rows[candidate.hash], seq)])
        except (IntegrityError, DataError):
            return False
        return True
