"""Clients and who may see them: one filter for every list, one function for every single client."""

import uuid
from collections.abc import Iterable
from datetime import UTC, datetime

from sqlalchemy import ColumnElement, Select, and_, or_, select
from sqlalchemy.orm import Session

from webapp.storage.database import Database
from webapp.storage.models import Caseload, Client
from webapp.storage.people import Person

FOREVER = datetime.max.replace(tzinfo=UTC)


def create_client(database: Database, organisation: str, *, id: str | None = None) -> str:
    """Make a client; its id. Everything else about a client is entries."""
    client = Client(organisation_id=organisation, id=id or str(uuid.uuid4()), created_at=datetime.now(UTC))
    with database.writing() as session:
        session.add(client)
    return client.id


def assign_caseload(
    database: Database, person: Person, clients: Iterable[str], *, since: datetime | None = None
) -> None:
    """Put clients on a person's caseload; those already on it stay as they are."""
    start = since or datetime.now(UTC)
    with database.writing() as session:
        already = set(session.scalars(visible_clients(person, start)))
        session.add_all(
            Caseload(organisation_id=person.organisation, user_id=person.id, client_id=client, since=start)
            for client in dict.fromkeys(clients)
            if client not in already
        )


def end_caseload(database: Database, person: Person, client: str, *, until: datetime | None = None) -> None:
    """Take a client off a person's caseload."""
    with database.writing() as session:
        row = session.scalar(
            select(Caseload).where(_of(person), Caseload.client_id == client, Caseload.until.is_(None))
        )
        if row is not None:
            row.until = until or datetime.now(UTC)


def visible_clients(person: Person, at: datetime) -> Select[tuple[str]]:
    """The query filter: ids of the clients on a person's caseload at a moment."""
    return select(Caseload.client_id).where(_of(person), _during(at)).distinct()


def may_see(session: Session, person: Person, client: str, at: datetime) -> bool:
    """Whether a person may see a client at a moment."""
    return session.scalar(visible_clients(person, at).where(Caseload.client_id == client)) is not None


def writable_until(session: Session, person: Person, clients: set[str], now: datetime) -> dict[str, datetime]:
    """Of some clients, those a person may write about, each with the moment up to which.

    Work recorded while a client was on the caseload and sent after the client left it is still taken.
    """
    rows = session.execute(
        select(Caseload.client_id, Caseload.until).where(
            _of(person), Caseload.client_id.in_(clients), Caseload.since <= now
        )
    )
    limits: dict[str, datetime] = {}
    for client, until in rows:
        limits[client] = max(limits.get(client, until or FOREVER), until or FOREVER)
    return limits


def _of(person: Person) -> ColumnElement[bool]:
    return and_(Caseload.organisation_id == person.organisation, Caseload.user_id == person.id)


def _during(at: datetime) -> ColumnElement[bool]:
    return and_(Caseload.since <= at, or_(Caseload.until.is_(None), Caseload.until > at))
