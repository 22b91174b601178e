"""Reading the audit: the newest rows about a client, by or about a person, since a moment."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, or_, select
from sqlalchemy.orm import Session

from sync.instants import write_instant
from webapp.storage.models import AuditRow, User
from webapp.storage.people import Person
from webapp.storage.rights import led_people, visible_clients

MOST_ROWS = 200


@dataclass(frozen=True)
class Wanted:
    """Which rows are asked for; `before` is the number of the last row that was seen."""

    client: str | None = None
    person: str | None = None
    since: datetime | None = None
    before: int | None = None


def find_rows(
    session: Session, organisation: str, wanted: Wanted, scope: ColumnElement[bool] | None = None
) -> list[AuditRow]:
    """The newest rows of an organisation that fit, the newest first; within a scope if there is one."""
    query = select(AuditRow).where(AuditRow.organisation_id == organisation)
    if scope is not None:
        query = query.where(scope)
    return list(session.scalars(_narrowed(query, wanted).order_by(AuditRow.seq.desc()).limit(MOST_ROWS)))


def of_team(session: Session, person: Person, at: datetime) -> ColumnElement[bool]:
    """What a lead may read: what they and their teams did, what concerned these, what concerned clients."""
    people = led_people(person, at)
    clients = session.scalars(visible_clients(person, at)).all()
    return or_(
        AuditRow.actor_id == person.id,
        AuditRow.actor_id.in_(people),
        AuditRow.person_id.in_(people),
        and_(AuditRow.record_kind == "client", AuditRow.record_id.in_(clients)),
    )


def _narrowed(query: Select[tuple[AuditRow]], wanted: Wanted) -> Select[tuple[AuditRow]]:
    if wanted.client is not None:
        query = query.where(AuditRow.record_kind == "client", AuditRow.record_id == wanted.client)
    if wanted.person is not None:
        query = query.where(or_(AuditRow.actor_id == wanted.person, AuditRow.person_id == wanted.person))
    if wanted.since is not None:
        query = query.where(AuditRow.at >= wanted.since)
    if wanted.before is not None:
        query = query.where(AuditRow.seq < wanted.before)
    return query


def row_json(row: AuditRow) -> dict[str, Any]:
    """A row as it travels."""
    return {
        "seq": row.seq,
        "at": write_instant(row.at),
        "actor": row.actor_id,
        "device": row.device_id,
        "action": row.action,
        "record": {"kind": row.record_kind, "id": row.record_id},
        "person": row.person_id,
        "outcome": row.outcome,
        "reason": row.reason,
        "count": row.count,
        "request": row.request_id,
    }


def names_of(session: Session, organisation: str) -> dict[str, str]:
    """The names of an organisation's people, for a page that shows who did something."""
    rows = session.execute(select(User.id, User.display_name).where(User.organisation_id == organisation))
    return {row.id: row.display_name for row in rows}
