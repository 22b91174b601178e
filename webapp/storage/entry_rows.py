"""Rows of the log as a database's driver takes them.

SQLAlchemy makes each value of each row ready by a call of its own, while they are stored and the log is
locked. Here that is done before the lock is taken, and once for what all rows of a push have in common.
"""

from collections.abc import Callable, Sequence
from itertools import chain
from operator import itemgetter
from typing import Any

from sqlalchemy import Dialect
from sqlalchemy.orm import Session

from sync.canonical import canonical_again
from sync.messages import ENTRY_KEYS, Candidate
from webapp.storage.models import Entry
from webapp.storage.sender import Sender

Row = tuple[Any, ...]
_AT_ONCE = 100
Ready = Callable[[Any], Any]
# A key of an entry -> the column it is kept in, where the two differ.
_COLUMNS = {"client": "client_id", "visit": "visit_id", "author": "author_id", "device": "device_id"}
_KEYS = [key for key in ENTRY_KEYS if key != "body"]
_OF_ALL = ("organisation_id", "received_at")
_ORDER = [*(_COLUMNS.get(key, key) for key in _KEYS), "body", "hash", *_OF_ALL, "seq"]
_values = itemgetter(*_KEYS)


class EntryRows:
    """Rows for what one sender pushes, and how they are stored, in the database of a session."""

    def __init__(self, session: Session, sender: Sender) -> None:
        self._session, self._dialect = session, session.get_bind().dialect
        self._ready = [_ready(self._dialect, name) for name in _ORDER[: len(_KEYS)]]
        of_all = {"organisation_id": sender.person.organisation, "received_at": sender.now}
        self._of_all = [_ready(self._dialect, name)(of_all[name]) for name in _OF_ALL]

    def of(self, candidate: Candidate) -> Row:
        """The row of an examined entry, but for its number."""
        entry = candidate.entry or {}
        own = [ready(value) for ready, value in zip(self._ready, _values(entry), strict=True)]
        return (*own, canonical_again(entry["body"]), candidate.hash, *self._of_all)

    def store(self, rows: Sequence[Row]) -> None:
        """Store rows, each with its number at its end; IntegrityError or DataError if one is refused."""
        connection = self._session.connection()
        whole = len(rows) - len(rows) % _AT_ONCE
        for first in range(0, whole, _AT_ONCE):
            values = tuple(chain.from_iterable(rows[first : first + _AT_ONCE]))
            connection.exec_driver_sql(_statement(self._dialect, _AT_ONCE), values)
        if whole < len(rows):
            connection.exec_driver_sql(_statement(self._dialect), list(rows[whole:]))


def _ready(dialect: Dialect, column: str) -> Ready:
    """What makes a value of a column ready for the driver."""
    stored: Ready | None = Entry.__table__.c[column].type.dialect_impl(dialect).bind_processor(dialect)
    return stored or _as_it_is


def _as_it_is(value: Any) -> Any:
    return value


def _statement(dialect: Dialect, rows: int = 1) -> str:
    place = "?" if dialect.paramstyle == "qmark" else "%s"
    columns = ", ".join(map(dialect.identifier_preparer.quote, _ORDER))
    row = f"({', '.join([place] * len(_ORDER))})"
    return f"INSERT INTO {Entry.__tablename__} ({columns}) VALUES {', '.join([row] * rows)}"
