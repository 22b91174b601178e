"""Noting that a client's due dates may have changed, in the transaction that changes them.

Reckoning them takes the client's whole record and is left to the workers of reminders: nobody waits for it,
and whatever ends a worker, the note stays until its due dates are stored.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from webapp.storage.models import DueChange

# A statement takes only so many values.
_AT_ONCE = 1000


def note_due_changes(session: Session, organisation: str, clients: Iterable[str], at: datetime) -> None:
    """Note clients to be reckoned anew at a moment; it takes the place of one noted before."""
    # In order, so that two who note the same clients wait for each other instead of both.
    rows = [
        {"organisation_id": organisation, "client_id": client, "reckon_at": at}
        for client in sorted(set(clients))
    ]
    key = ["organisation_id", "client_id"]
    for start in range(0, len(rows), _AT_ONCE):
        note = _insert(session)(DueChange).values(rows[start : start + _AT_ONCE])
        session.execute(
            note.on_conflict_do_update(index_elements=key, set_={"reckon_at": note.excluded.reckon_at})
        )


def _insert(session: Session) -> Any:
    return postgresql.insert if session.get_bind().dialect.name == "postgresql" else sqlite.insert
