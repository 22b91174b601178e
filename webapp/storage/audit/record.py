"""Writing to the audit, in the transaction of what is written down."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from webapp.circumstances import circumstances
from webapp.storage.audit.chain import Keys
from webapp.storage.audit.words import ACTIONS
from webapp.storage.locking import lock_counter
from webapp.storage.models import AuditRow, Organisation

# Our choice: what repeats itself, such as reading one client, is written down once in this time.
REPEATS = timedelta(minutes=15)


class NoAuditKey(RuntimeError):
    """Something was to be audited in a database that was opened without the service's secret."""


@dataclass(frozen=True)
class Event:
    """One thing that happened: a code of ACTIONS, what it happened to, and how it went. Ids and codes only.

    `id` is the record's, of kind `kind`; `person` the user it concerns, where that is not who did it.
    """

    action: str
    kind: str
    id: str | None = None
    person: str | None = None
    device: str | None = None
    refused: bool = False
    reason: str | None = None
    count: int | None = None


def record(session: Session, organisation: str, at: datetime, *events: Event) -> None:
    """Write events down within a writing session: they are kept if, and only if, what it does is."""
    if events:
        append_rows(session, lock_counter(session, organisation), at, events)


def record_once(session: Session, organisation: str, at: datetime, *events: Event) -> None:
    """The same, but nothing that this actor did to the same record within the last 15 minutes."""
    if events:
        locked = lock_counter(session, organisation)
        append_rows(session, locked, at, unrepeated(session, organisation, at, events))


def unrepeated(session: Session, organisation: str, at: datetime, events: Iterable[Event]) -> list[Event]:
    """Of some events of the current actor, those that were not written down a short while ago."""
    wanted = list(dict.fromkeys(events))
    seen = select(AuditRow.action, AuditRow.record_id, AuditRow.reason).where(
        AuditRow.organisation_id == organisation,
        AuditRow.actor_id == circumstances().actor,
        AuditRow.at > at - REPEATS,
        AuditRow.action.in_({event.action for event in wanted}),
    )
    known = {tuple(row) for row in session.execute(seen)} if wanted else set()
    return [event for event in wanted if (event.action, event.id, event.reason) not in known]


def append_rows(session: Session, locked: Organisation, at: datetime, events: Sequence[Event]) -> None:
    """Add a row for each event to the chain of an organisation whose row is locked."""
    if not events:
        return
    keys: Keys | None = session.info.get("audit_keys")
    if keys is None:
        raise NoAuditKey("open the database with the service's secret: Database(url, secret)")
    # As precise as the text that is sealed.
    moment = at.replace(microsecond=at.microsecond // 1000 * 1000)
    rows = []
    for event in events:
        row = _row(locked, keys, moment, event)
        locked.audit_seq, locked.audit_hash = row["seq"], row["hash"]
        rows.append(row)
    session.execute(insert(AuditRow.__table__), rows)


def _row(locked: Organisation, keys: Keys, at: datetime, event: Event) -> dict[str, Any]:
    assert event.action in ACTIONS, event.action
    around = circumstances()
    row = {
        "organisation_id": locked.id,
        "seq": locked.audit_seq + 1,
        "at": at,
        "actor_id": around.actor,
        "device_id": event.device,
        "action": event.action,
        "record_kind": event.kind,
        "record_id": event.id,
        "person_id": event.person,
        "outcome": "refused" if event.refused else "done",
        "reason": event.reason,
        "count": event.count,
        "request_id": around.request,
        "key_id": keys.id,
        "prev_hash": locked.audit_hash,
    }
    return row | {"hash": keys.seal(row)}
