"""Clients and whose caseload they are on. Who may see what follows from it: see rights.py."""

import uuid
from collections.abc import Iterable
from datetime import UTC, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.storage.audit import Event, record
from webapp.storage.database import Database
from webapp.storage.due_changes import note_due_changes
from webapp.storage.locking import lock_counter
from webapp.storage.models import Caseload, Client, Tombstone
from webapp.storage.people import Person
from webapp.storage.rights import during, of


def create_client(database: Database, organisation: str, *, id: str | None = None) -> str:
    """Make a client; its id. Everything else about a client is entries."""
    client = Client(organisation_id=organisation, id=id or str(uuid.uuid4()), created_at=datetime.now(UTC))
    with database.writing() as session:
        if session.get(Tombstone, (organisation, client.id)) is not None:
            raise ValueError("the record of the client with this id was erased: a new client needs a new id")
        record(session, organisation, client.created_at, Event("client_made", "client", client.id))
        session.add(client)
    return client.id


def assign_caseload(
    database: Database, person: Person, clients: Iterable[str], *, since: datetime | None = None
) -> None:
    """Put clients on a person's caseload; those already on it to stay are left as they are."""
    with database.writing() as session:
        add_to_caseload(session, person, clients, since or datetime.now(UTC))


def add_to_caseload(session: Session, person: Person, clients: Iterable[str], start: datetime) -> None:
    """As `assign_caseload`, within a transaction."""
    # Two who put the same client there at once: the second finds it done.
    lock_counter(session, person.organisation)
    rows = select(Caseload.client_id).where(of(person), Caseload.until.is_(None))
    already = set(session.scalars(rows))
    fresh = [client for client in dict.fromkeys(clients) if client not in already]
    events = [Event("caseload_given", "client", client, person=person.id) for client in fresh]
    record(session, person.organisation, datetime.now(UTC), *events)
    session.add_all(
        Caseload(organisation_id=person.organisation, user_id=person.id, client_id=client, since=start)
        for client in fresh
    )
    session.flush()
    # Whoever has them from then on is to be reminded of them.
    note_due_changes(session, person.organisation, fresh, start)


def end_caseload(database: Database, person: Person, client: str, *, until: datetime | None = None) -> bool:
    """Take a client off a person's caseload, an emergency access included; False when it was not on it."""
    with database.writing() as session:
        return take_off_caseload(session, person, client, until or datetime.now(UTC))


def take_off_caseload(session: Session, person: Person, client: str, end: datetime) -> bool:
    """As `end_caseload`, within a transaction."""
    rows = session.scalars(
        select(Caseload).where(of(person), Caseload.client_id == client, during(Caseload, end))
    ).all()
    for row in rows:
        row.until = end
    if rows:
        event = Event("caseload_ended", "client", client, person=person.id)
        record(session, person.organisation, datetime.now(UTC), event)
    return bool(rows)
