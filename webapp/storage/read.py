"""Reading the log in SQL, only what a person may see. sync/pages.py makes pages of it."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cache, partial
from operator import itemgetter
from typing import Any

import msgspec
from sqlalchemy import Row, Select, bindparam, select
from sqlalchemy.orm import Session

from sync.instants import write_instant
from sync.messages import ENTRY_KEYS
from sync.pages import Stored
from webapp.storage.models import Entry, Holding, Organisation
from webapp.storage.models.entries import COLUMNS
from webapp.storage.people import Person
from webapp.storage.rights import AT, anybody, asking, own_clients, visible_clients

# Rows of plain columns: making an object of the model of each takes longer than reading it. They stand in the
# order of the keys with which an entry travels, so that these need only be put beside them.
_ENTRY = Entry.__table__.columns
_KEYS = (*ENTRY_KEYS, "seq", "received_at")
_ORDER = [*(COLUMNS.get(key, key) for key in _KEYS), "hash"]
_OF_A_PAGE = itemgetter(*map(_ORDER.index, ("id", "seq", "hash", "device_id", "visit_id", "body")))


@dataclass(frozen=True)
class SqlView:
    """What a person may read at a moment, within one reading session."""

    session: Session
    person: Person
    at: datetime

    def head_and_epoch(self) -> tuple[int, str]:
        """The newest number of the organisation's log, and the log's epoch."""
        row = self.session.connection().execute(_HEAD, {"organisation": self.person.organisation}).one()
        return row.head, row.epoch

    def clients(self) -> list[str]:
        """The ids of the person's clients, sorted."""
        query = _clients(self.person.role, self.person.withdrawn)
        return sorted(self.session.connection().scalars(query, asking(self.person, self.at)))

    def read_only(self) -> list[str]:
        """Those of the person's clients who are somebody else's to write about, sorted."""
        if self.person.role != "lead":
            return []
        own = set(self.session.scalars(own_clients(self.person, self.at)))
        return [client for client in self.clients() if client not in own]

    def entries(self, after: int, head: int, limit: int, client: str | None = None) -> Iterator[Stored]:
        """The first entries after a number, of all the person's clients or of one; made as they are read."""
        query = _entries(self.person.role, self.person.withdrawn, client is not None)
        span = {"after": after, "upto": head, "limit": limit} | ({"client": client} if client else {})
        with self.session.connection().execute(query, asking(self.person, self.at) | span) as rows:
            yield from map(_stored, rows)

    def taken_elsewhere(self, device: str, after: int, upto: int) -> list[Stored]:
        """Own entries from a device that were held when it sent them, and came from somewhere else since."""
        span = {"device": device, "after": after, "upto": upto}
        return list(
            map(_stored, self.session.connection().execute(_ELSEWHERE, asking(self.person, self.at) | span))
        )


# Put together once, as in rights.py.
_HEAD = select(Organisation.head, Organisation.epoch).where(Organisation.id == bindparam("organisation"))
_LOG = (
    select(*(_ENTRY[column] for column in _ORDER))
    .where(
        _ENTRY.organisation_id == bindparam("organisation"),
        _ENTRY.seq > bindparam("after"),
        _ENTRY.seq <= bindparam("upto"),
    )
    .order_by(_ENTRY.seq)
)
_DEVICE, _PERSON = bindparam("device"), bindparam("person")
_ELSEWHERE = _LOG.where(
    _ENTRY.id.in_(
        select(Holding.entry_id).where(
            Holding.organisation_id == bindparam("organisation"),
            Holding.user_id == _PERSON,
            Holding.device_id == _DEVICE,
            Holding.verdict == "held",
        )
    ),
    _ENTRY.author_id == _PERSON,
    _ENTRY.device_id == _DEVICE,
)


@cache
def _clients(role: str, withdrawn: bool) -> Select[tuple[str]]:
    return visible_clients(anybody(role, withdrawn), AT)


@cache
def _entries(role: str, withdrawn: bool, of_one: bool) -> Select[Any]:
    query = _LOG.where(_ENTRY.client_id.in_(_clients(role, withdrawn).correlate(None)))
    if of_one:
        query = query.where(_ENTRY.client_id == bindparam("client"))
    return query.limit(bindparam("limit"))


def _stored(row: Row[Any]) -> Stored:
    own, seq, digest, device, visit, text = _OF_A_PAGE(row)
    # The body is JSON already, and travels as it is kept: neither read nor written again.
    body = text.encode()
    whole = partial(_travelling, row, msgspec.Raw(body))
    return Stored(own, seq, digest, device, visit, 400 + len(body), whole)


def entry_json(entry: Entry) -> dict[str, Any]:
    """An entry as it travels, with what the server added."""
    return _travelling([getattr(entry, column) for column in _ORDER], json.loads(entry.body))


def _travelling(values: Iterable[Any], body: Any) -> dict[str, Any]:
    entry = dict(zip(_KEYS, values, strict=False))  # the hash is no part of it
    entry["body"], entry["received_at"] = body, write_instant(entry["received_at"])
    return entry


def entries_of(session: Session, organisation: str, client: str) -> list[dict[str, Any]]:
    """Every entry of one client in order; whoever calls has checked that the client may be seen."""
    rows = session.scalars(
        select(Entry)
        .where(Entry.organisation_id == organisation, Entry.client_id == client)
        .order_by(Entry.seq)
    )
    return [entry_json(row) for row in rows]
