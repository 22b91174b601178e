"""Reading the log after a cursor, in pages, only what a person may see."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from sync.canonical import canonical
from sync.instants import write_instant
from sync.messages import PAGE_BYTES, PAGE_ENTRIES, Fill
from webapp.storage.caseload import visible_clients
from webapp.storage.models import Entry, Organisation
from webapp.storage.people import Person

# How many entries a page may run over so as not to cut a visit in two; our choice.
_VISIT_REST = 50


@dataclass
class Budget:
    """How much of a page is left, in bytes and in entries."""

    bytes: int = PAGE_BYTES
    entries: int = PAGE_ENTRIES

    def spend(self, size: int) -> None:
        """Take one entry of some size out of the page."""
        self.bytes -= size
        self.entries -= 1

    @property
    def left(self) -> bool:
        """Whether anything more fits."""
        return self.bytes > 0 and self.entries > 0


@dataclass
class Page:
    """Some entries in order of seq, the cursor after them, and whether more wait."""

    entries: list[dict[str, Any]] = field(default_factory=list)
    after: int = 0
    more: bool = False


def head_and_epoch(session: Session, organisation: str) -> tuple[int, str]:
    """The newest number of an organisation's log, and the log's epoch.

    Read it before a page: whatever commits in between then lies behind the cursor's end, never before it.
    """
    query = select(Organisation.head, Organisation.epoch).where(Organisation.id == organisation)
    row = session.execute(query).one()
    return row.head, row.epoch


def caseload_of(session: Session, person: Person, at: datetime) -> list[str]:
    """The ids of a person's clients at a moment, sorted."""
    return sorted(session.scalars(visible_clients(person, at)))


def caseload_version(clients: Iterable[str]) -> str:
    """A short name for one state of a caseload: equal for equal sets of clients."""
    return hashlib.sha256(canonical(sorted(clients)).encode()).hexdigest()[:16]


def main_page(
    session: Session,
    person: Person,
    at: datetime,
    after: int,
    head: int,
    budget: Budget,
    own_device: str | None,
) -> Page:
    """The next entries of all visible clients; the cursor also passes entries that are not visible."""
    query = _visible(person, at).where(Entry.seq > after, Entry.seq <= head)
    page = _page(session, query, budget, own_device, after)
    page.after = page.after if page.more else max(after, head)
    return page


def fill_page(session: Session, person: Person, at: datetime, fill: Fill, head: int, budget: Budget) -> Page:
    """The next entries of one client, whole, from wherever the device stands with it."""
    query = _visible(person, at).where(
        Entry.client_id == fill.client, Entry.seq > fill.after, Entry.seq <= head
    )
    page = _page(session, query, budget, None, fill.after)
    page.after = page.after if page.more else max(fill.after, head)
    return page


def entry_json(row: Entry) -> dict[str, Any]:
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


def _visible(person: Person, at: datetime) -> Select[tuple[Entry]]:
    return (
        select(Entry)
        .where(
            Entry.organisation_id == person.organisation,
            Entry.client_id.in_(visible_clients(person, at).correlate(None)),
        )
        .order_by(Entry.seq)
    )


def _page(
    session: Session, query: Select[tuple[Entry]], budget: Budget, own_device: str | None, after: int
) -> Page:
    page, visit = Page(after=after), None
    limit = max(budget.entries, 0) + _VISIT_REST + 1
    rows = session.scalars(query.limit(limit)).all()
    for row in rows:
        # A visit that was begun is finished on the same page, within reason.
        if not budget.left and (visit is None or row.visit_id != visit):
            page.more = True
            return page
        item, size = _item(row, own_device)
        page.entries.append(item)
        page.after, visit = row.seq, row.visit_id
        budget.spend(size)
    page.more = len(rows) == limit
    return page


def _item(row: Entry, own_device: str | None) -> tuple[dict[str, Any], int]:
    if own_device is not None and row.device_id == own_device:
        return {"id": row.id, "seq": row.seq, "hash": row.hash}, 150
    return entry_json(row), 400 + len(row.body.encode())
