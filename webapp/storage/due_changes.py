"""Noting that a client's due dates may have changed, in the transaction that changes them.

Reckoning them takes the client's whole record and is left to the workers of reminders: nobody waits for it,
and whatever ends a worker, the note stays until its due dates are stored.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from sqlalchemy import bindparam, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from webapp.storage.among import among
from webapp.storage.models import Client, DueChange
from webapp.storage.models.base import Instant


def note_due_changes(session: Session, organisation: str, clients: Iterable[str], at: datetime) -> None:
    """Note clients to be reckoned anew at a moment; it takes the place of one noted before."""
    wanted = set(clients)
    if wanted:
        note = _NOTES[session.get_bind().dialect.name]
        session.connection().execute(note, {"organisation": organisation, "clients": wanted, "at": at})


def _note(insert: Any) -> Any:
    # In order, so that two who note the same clients wait for each other instead of both.
    rows = (
        select(Client.organisation_id, Client.id, bindparam("at", type_=Instant))
        .where(Client.organisation_id == bindparam("organisation"), among(Client.id, "clients"))
        .order_by(Client.id)
    )
    note = insert(DueChange.__table__).from_select(["organisation_id", "client_id", "reckon_at"], rows)
    key = ["organisation_id", "client_id"]
    return note.on_conflict_do_update(index_elements=key, set_={"reckon_at": note.excluded.reckon_at})


_NOTES = {"postgresql": _note(postgresql.insert), "sqlite": _note(sqlite.insert)}
