"""Reading the log in SQL, only what a person may see. sync/pages.py makes pages of it."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from sync.instants import write_instant
from sync.pages import Stored
from webapp.storage.models import Entry, Holding, Organisation
from webapp.storage.people import Person
from webapp.storage.rights import own_clients, visible_clients

# Rows of plain columns: making an object of the model of each takes longer than reading it.
_ENTRY = Entry.__table__.columns


@dataclass(frozen=True)
class SqlView:
    """What a person may read at a moment, within one reading session."""

    session: Session
    person: Person
    at: datetime

    def head_and_epoch(self) -> tuple[int, str]:
        """The newest number of the organisation's log, and the log's epoch."""
        query = select(Organisation.head, Organisation.epoch).where(
            Organisation.id == self.person.organisation
        )
        row = self.session.execute(query).one()
        return row.head, row.epoch

    def clients(self) -> list[str]:
        """The ids of the person's clients, sorted."""
        return sorted(self.session.scalars(visible_clients(self.person, self.at)))

    def read_only(self) -> list[str]:
        """Those of the person's clients who are somebody else's to write about, sorted."""
        if self.person.role != "lead":
            return []
        own = set(self.session.scalars(own_clients(self.person, self.at)))
        return [client for client in self.clients() if client not in own]

    def entries(self, after: int, head: int, limit: int, client: str | None = None) -> Iterator[Stored]:
        """The first entries after a number, of all the person's clients or of one; made as they are read."""
        visible = visible_clients(self.person, self.at).correlate(None)
        query = select(*_ENTRY).where(
            _ENTRY.organisation_id == self.person.organisation,
            _ENTRY.client_id.in_(visible),
            _ENTRY.seq > after,
            _ENTRY.seq <= head,
        )
        if client is not None:
            query = query.where(_ENTRY.client_id == client)
        with self.session.connection().execute(query.order_by(_ENTRY.seq).limit(limit)) as rows:
            yield from map(_stored, rows)

    def taken_elsewhere(self, device: str, after: int, upto: int) -> list[Stored]:
        """Own entries from a device that were held when it sent them, and came from somewhere else since."""
        held = select(Holding.entry_id).where(
            Holding.organisation_id == self.person.organisation,
            Holding.user_id == self.person.id,
            Holding.device_id == device,
            Holding.verdict == "held",
        )
        query = select(*_ENTRY).where(
            _ENTRY.organisation_id == self.person.organisation,
            _ENTRY.id.in_(held),
            _ENTRY.author_id == self.person.id,
            _ENTRY.device_id == device,
            _ENTRY.seq > after,
            _ENTRY.seq <= upto,
        )
        return list(map(_stored, self.session.execute(query.order_by(_ENTRY.seq))))


def _stored(row: Row[Any]) -> Stored:
    size = 400 + len(row.body.encode())
    return Stored(row.id, row.seq, row.hash, row.device_id, row.visit_id, size, lambda: entry_json(row))


def entry_json(row: Row[Any] | Entry) -> dict[str, Any]:
    """An entry as it travels, with what the server added."""
    return {
        "id": row.id,
        "kind": row.kind,
        "schema": row.schema,
        "client": row.client_id,
        "visit": row.visit_id,
        "recorded_at": row.recorded_at,
        "utc_offset": row.utc_offset,
        "author": row.author_id,
        "device": row.device_id,
        "device_seq": row.device_seq,
        "amends": row.amends,
        "voids": row.voids,
        "reason": row.reason,
        "body": json.loads(row.body),
        "seq": row.seq,
        "received_at": write_instant(row.received_at),
    }


def entries_of(session: Session, organisation: str, client: str) -> list[dict[str, Any]]:
    """Every entry of one client in order; whoever calls has checked that the client may be seen."""
    rows = session.scalars(
        select(Entry)
        .where(Entry.organisation_id == organisation, Entry.client_id == client)
        .order_by(Entry.seq)
    )
    return [entry_json(row) for row in rows]
