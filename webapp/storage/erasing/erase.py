"""Taking a client's record out of a database for good, and leaving what keeps it out."""

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any

from sqlalchemy import Table, delete, insert, select
from sqlalchemy.orm import Session

from webapp.circumstances import circumstances
from webapp.storage.audit import Event, record
from webapp.storage.locking import lock_counter
from webapp.storage.models import Base, Client, Entry, ErasedEntry, Holding, Tombstone
from webapp.storage.models.erasure import hash_of

# On what ground, as a code: the audit and the tombstone keep no free text.
GROUNDS = {
    "retention": "the time it had to be kept is over",
    "request": "the person asked for it, and nothing obliges to keep it",
    "mistake": "it should never have been recorded here",
    "court": "a court or an authority ordered it",
}


class NotErased(Exception):
    """Nothing was erased; the text says why."""


def erase_client(session: Session, organisation: str, client: str, ground: str, at: datetime) -> int:
    """Erase a client within a writing session: entries, what stands aside, caseloads; how many entries.

    The numbers of other entries stay as they are: the log has holes from now on, and cursors pass them.
    """
    lock_counter(session, organisation)
    row = session.get(Client, (organisation, client))
    if row is None:
        raise NotErased("There is no such client. `retention --list` names those who are due.")
    if row.held_since is not None:
        raise NotErased("A legal hold is on this client's record. Lift it first: `hold CLIENT off`.")
    entries = list(_entries(session, organisation, client))
    holdings = list(_holdings(session, organisation, client))
    session.expunge(row)
    leave_tombstone(session, organisation, client, ground, at)
    aside = [_mark(held) for held in holdings if held.entry_id]
    leave_marks(session, organisation, client, [*entries, *aside])
    for held in holdings:
        session.delete(held)
    session.flush()
    for table, column in tables_about_clients():
        session.execute(
            delete(table).where(table.c.organisation_id == organisation, table.c[column] == client)
        )
    record(session, organisation, at, Event("erased", "client", client, reason=ground, count=len(entries)))
    return len(entries)


def tables_about_clients() -> Iterator[tuple[Table, str]]:
    """Every table whose rows belong to a client, with the column that says whose; those referred to last."""
    for table in reversed(Base.metadata.sorted_tables):
        for key in table.foreign_key_constraints:
            if key.referred_table is Client.__table__:
                yield table, next(name for name in key.column_keys if name != "organisation_id")
    yield Client.__table__, "id"


def leave_tombstone(session: Session, organisation: str, client: str, ground: str, at: datetime) -> None:
    """Remember that a client was erased."""
    session.add(
        Tombstone(
            organisation_id=organisation,
            client_id=client,
            erased_at=at,
            ground=ground,
            erased_by=circumstances().actor,
        )
    )


def leave_marks(session: Session, organisation: str, client: str, marks: Iterable[dict[str, Any]]) -> None:
    """Remember which entries there were, by the hash of their ids; those known already stay."""
    fresh = {mark["id_hash"]: mark for mark in marks}
    known = session.scalars(
        select(ErasedEntry.id_hash).where(
            ErasedEntry.organisation_id == organisation, ErasedEntry.client_id == client
        )
    )
    for own in known:
        fresh.pop(own, None)
    if fresh:
        both = {"organisation_id": organisation, "client_id": client}
        session.execute(insert(ErasedEntry.__table__), [{**mark, **both} for mark in fresh.values()])


def _entries(session: Session, organisation: str, client: str) -> Iterator[dict[str, Any]]:
    query = select(Entry.id, Entry.author_id, Entry.device_id, Entry.device_seq).where(
        Entry.organisation_id == organisation, Entry.client_id == client
    )
    for row in session.execute(query):
        yield {
            "id_hash": hash_of(row.id),
            "author_id": row.author_id,
            "device_id": row.device_id,
            "device_seq": row.device_seq,
        }


def _holdings(session: Session, organisation: str, client: str) -> Iterator[Holding]:
    """What stands aside about a client: the bytes name it, however they are broken otherwise."""
    for held in session.scalars(select(Holding).where(Holding.organisation_id == organisation)):
        if client.encode() in held.raw.lower():
            yield held


def _mark(held: Holding) -> dict[str, Any]:
    return {
        "id_hash": hash_of(str(held.entry_id)),
        "author_id": held.user_id,
        "device_id": held.device_id,
        "device_seq": None,
    }
