"""Rows of the log as a database's driver takes them.

SQLAlchemy makes each value of each row ready by a call of its own, while they are stored and the log is
locked. Here that is done before the lock is taken, and once for what all rows of a push have in common.
"""

from collections.abc import Callable, Sequence
from itertools import chain
from operator import itemgetter
from typing import Any

from sqlalchemy.orm import Session

from sync.canonical import canonical_again
from sync.messages import ENTRY_KEYS, Candidate
from webapp.storage.models import Entry
from webapp.storage.models.entries import COLUMNS
from webapp.storage.sender import Sender

Row = tuple[Any, ...]
Ready = Callable[[Any], Any]
# With each statement SQLite is given Python lets its other threads go on, and may wait long for its own turn.
# PostgreSQL takes twice as long to plan so many values as to store row after row by one plan.
_ROWS_A_STATEMENT = {"sqlite": 100, "postgresql": 1}
_KEYS = [key for key in ENTRY_KEYS if key != "body"]


class EntryRows:
    """Rows for what one sender pushes, and how they are stored, in the database of a session."""

    def __init__(self, session: Session, sender: Sender) -> None:
        self._session, self._dialect = session, session.get_bind().dialect
        ready = {key: self._ready(COLUMNS.get(key, key)) for key in _KEYS}
        self._made = [(key, make) for key, make in ready.items() if make]
        as_they_are = [key for key, make in ready.items() if not make]
        self._values = itemgetter(*as_they_are)
        of_all = {"organisation_id": sender.person.organisation, "received_at": sender.now}
        self._of_all = [self._stored(column, value) for column, value in of_all.items()]
        own = [COLUMNS.get(key, key) for key in (*as_they_are, *(key for key, _ in self._made))]
        self._columns = [*own, "body", "hash", *of_all, "seq"]

    def of(self, candidate: Candidate) -> Row:
        """The row of an examined entry, but for its number."""
        entry = candidate.entry or {}
        made = [ready(entry[key]) for key, ready in self._made]
        body = canonical_again(entry["body"])
        return (*self._values(entry), *made, body, candidate.hash, *self._of_all)

    def store(self, rows: Sequence[Row]) -> None:
        """Store rows, each with its number at its end; IntegrityError or DataError if one is refused."""
        connection, many = self._session.connection(), _ROWS_A_STATEMENT[self._dialect.name]
        whole = len(rows) - len(rows) % many if many > 1 else 0
        for first in range(0, whole, many):
            values = tuple(chain.from_iterable(rows[first : first + many]))
            connection.exec_driver_sql(self._statement(many), values)
        if whole < len(rows):
            connection.exec_driver_sql(self._statement(), list(rows[whole:]))

    def _ready(self, column: str) -> Ready | None:
        """What makes a value of a column ready for the driver; None where it is as it stands."""
        kind = Entry.__table__.c[column].type.dialect_impl(self._dialect)
        made: Ready | None = kind.bind_processor(self._dialect)
        return made

    def _stored(self, column: str, value: Any) -> Any:
        make = self._ready(column)
        return make(value) if make else value

    def _statement(self, rows: int = 1) -> str:
        place = "?" if self._dialect.paramstyle == "qmark" else "%s"
        columns = ", ".join(map(self._dialect.identifier_preparer.quote, self._columns))
        row = f"({', '.join([place] * len(self._columns))})"
        return f"INSERT INTO {Entry.__tablename__} ({columns}) VALUES {', '.join([row] * rows)}"
