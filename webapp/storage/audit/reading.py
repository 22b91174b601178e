"""Reading the audit: the newest rows about a client, by or about a person, since a moment."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, and_, not_, or_, select
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


@dataclass(frozen=True)
class Shown:
    """A row as somebody may read it; `unnamed` when it is not for them which client somebody asked for."""

    row: AuditRow
    unnamed: bool

    @property
    def record_id(self) -> str | None:
        """The number of what the row is about, unless it is not told."""
        return None if self.unnamed else self.row.record_id


def find_rows(session: Session, organisation: str, wanted: Wanted) -> list[AuditRow]:
    """The newest rows of an organisation that fit, the newest first."""
    return list(session.scalars(_newest(_narrowed(_of(organisation), wanted))))


def rows_for_lead(session: Session, person: Person, wanted: Wanted, at: datetime) -> list[Shown]:
    """The newest rows that fit of what a lead may read, the newest first.

    That is what they and their teams did, what concerned these, what concerned their clients. When one of
    them asked for a client who is none of the lead's and was refused, the lead reads that, and no number:
    it may be another team's client. Nor are such rows found by the number.
    """
    people = led_people(person, at)
    clients = session.scalars(visible_clients(person, at)).all()
    about_client = AuditRow.record_kind == "client"
    theirs = or_(
        AuditRow.actor_id == person.id,
        AuditRow.actor_id.in_(people),
        AuditRow.person_id.in_(people),
        and_(about_client, AuditRow.record_id.in_(clients)),
    )
    strange = and_(about_client, AuditRow.outcome == "refused", AuditRow.record_id.not_in(clients))
    query = _narrowed(_of(person.organisation).where(theirs), wanted)
    if wanted.client is not None:
        query = query.where(not_(strange))
    return [Shown(row, unnamed) for row, unnamed in session.execute(_newest(query.add_columns(strange)))]


def _of(organisation: str) -> Select[tuple[AuditRow]]:
    return select(AuditRow).where(AuditRow.organisation_id == organisation)


def _newest(query: Select[Any]) -> Select[Any]:
    return query.order_by(AuditRow.seq.desc()).limit(MOST_ROWS)


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


def row_json(shown: Shown) -> dict[str, Any]:
    """A row as it travels."""
    row = shown.row
    return {
        "seq": row.seq,
        "at": write_instant(row.at),
        "actor": row.actor_id,
        "device": row.device_id,
        "action": row.action,
        "record": {"kind": row.record_kind, "id": shown.record_id},
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
