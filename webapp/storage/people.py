"""Organisations and users: making them, finding them."""

import unicodedata
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from webapp.storage.audit import Event, record
from webapp.storage.database import Database
from webapp.storage.models import ROLES, Organisation, User
from webapp.storage.passwords import hash_password
from webapp.storage.refused import NotThere
from webapp.storage.switches import SWITCHES


@dataclass(frozen=True)
class Person:
    """Who is asking: a user with the organisation they belong to.

    `withdrawn`: they ask from a device that the service has withdrawn.
    """

    id: str
    organisation: str
    name: str
    role: str
    withdrawn: bool = False


def create_organisation(
    database: Database, name: str, *, id: str | None = None, settings: dict[str, Any] | None = None
) -> str:
    """Make an organisation; its id."""
    organisation = Organisation(
        id=id or str(uuid.uuid4()),
        name=name,
        head=0,
        epoch=str(uuid.uuid4()),
        settings=SWITCHES | (settings or {}),
        created_at=datetime.now(UTC),
    )
    with database.writing() as session:
        session.add(organisation)
    return organisation.id


def create_user(
    database: Database,
    organisation: str,
    *,
    sign_in_name: str,
    display_name: str,
    role: str,
    password: str,
    id: str | None = None,
) -> Person:
    """Make a user who can sign in; ValueError for an unknown role or an unfit password."""
    if role not in ROLES:
        raise ValueError(f"a role is one of {', '.join(ROLES)}")
    user = User(
        organisation_id=organisation,
        id=id or str(uuid.uuid4()),
        sign_in_name=normal_name(sign_in_name),
        display_name=display_name,
        role=role,
        password_hash=hash_password(password),
        active=True,
        created_at=datetime.now(UTC),
    )
    with database.writing() as session:
        record(session, organisation, user.created_at, Event("account_made", "person", user.id, reason=role))
        session.add(user)
    return person_of(user)


def set_active(database: Database, person: Person, active: bool) -> None:
    """Close a user's account, or open it again; a closed account ends every session at its next request."""
    with database.writing() as session:
        change_active(session, person, active, datetime.now(UTC))


def change_active(session: Session, person: Person, active: bool, now: datetime) -> None:
    """As `set_active`, within a transaction."""
    action = "account_opened" if active else "account_closed"
    record(session, person.organisation, now, Event(action, "person", person.id))
    session.get_one(User, (person.organisation, person.id)).active = active


def find_user(session: Session, sign_in_name: str) -> User | None:
    """The user with a sign-in name, however it was capitalised."""
    # PostgreSQL does not even compare it.
    if "\0" in sign_in_name:
        return None
    return session.scalar(select(User).where(User.sign_in_name == normal_name(sign_in_name)))


def person_in(session: Session, organisation: str, person: str) -> Person:
    """Somebody of an organisation by id; NotThere for anybody else."""
    user = session.get(User, (organisation, person))
    if user is None:
        raise NotThere("There is no such person here.", "person")
    return person_of(user)


def sign_in_name_of(session: Session, person: Person) -> str:
    """What a person types to sign in."""
    return session.get_one(User, (person.organisation, person.id)).sign_in_name


def normal_name(sign_in_name: str) -> str:
    """A sign-in name as it is compared: trimmed, case folded, one form of each character."""
    return unicodedata.normalize("NFKC", sign_in_name).strip().casefold()


def person_of(user: User | Row[Any]) -> Person:
    """The facts of a user, or of a row that has them, that the rest of the program needs."""
    return Person(id=user.id, organisation=user.organisation_id, name=user.display_name, role=user.role)
