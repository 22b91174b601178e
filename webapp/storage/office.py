"""What an administrator decides: accounts, caseloads, signing people out. Each act is one function here.

`actor` is whoever decides; everything named must be of the actor's organisation, or it is not there.
"""

import secrets
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from webapp.storage.caseload import add_to_caseload, take_off_caseload
from webapp.storage.database import Database
from webapp.storage.models import Caseload, Client, User
from webapp.storage.people import Person, change_active, create_user, normal_name, person_in, person_of
from webapp.storage.refused import NotThere, Refused
from webapp.storage.rights import ROLES_FOR, during, of
from webapp.storage.signing_in import sign_out_everywhere

NAME_TAKEN = "This sign-in name cannot be used. Choose another."
NAME_TOO_LONG = "This sign-in name is too long. Choose a shorter one."
NOT_YOURSELF = "You cannot close your own account. Another administrator can."
NO_CASELOAD = "An administrator sees no clients and has no caseload."
NO_CLIENT = "There is no such client here."
NOT_ON_IT = "This client is not on this caseload."
# Without letters that look or sound alike. 16 of 24: about 73 bits.
LETTERS = "abcdefghjkmnpqrstuvwxyz2"


@dataclass(frozen=True)
class Account:
    """An account as an administrator sees it."""

    person: Person
    sign_in_name: str
    active: bool


@dataclass(frozen=True)
class OnCaseload:
    """A client on somebody's caseload as an administrator sees it: a number, no name."""

    client: str
    since: datetime
    until: datetime | None
    emergency: bool


def accounts(session: Session, organisation: str) -> list[Account]:
    """Every account of an organisation, by name."""
    query = select(User).where(User.organisation_id == organisation).order_by(User.display_name, User.id)
    return [Account(person_of(user), user.sign_in_name, user.active) for user in session.scalars(query)]


def make_account(
    database: Database, actor: Person, name: str, sign_in_name: str, role: str
) -> tuple[Person, str]:
    """Make an account; the person and a passphrase that is shown this once."""
    # Brought to one form of each character it may have grown.
    if len(normal_name(sign_in_name)) > User.sign_in_name.type.length:
        raise Refused(NAME_TOO_LONG, "sign_in_name")
    passphrase = new_passphrase()
    try:
        # The hash takes its time, so it is made before any transaction.
        person = create_user(
            database,
            actor.organisation,
            sign_in_name=sign_in_name,
            display_name=" ".join(name.split()),
            role=role,
            password=passphrase,
        )
    except IntegrityError as error:
        raise Refused(NAME_TAKEN, "sign_in_name") from error
    return person, passphrase


def new_passphrase() -> str:
    """A passphrase made by chance, easy to read out: four groups of four letters."""
    return "-".join("".join(secrets.choice(LETTERS) for _ in range(4)) for _ in range(4))


def close_account(session: Session, actor: Person, person: str, now: datetime) -> None:
    """Close an account and end its sessions. Its devices keep, sealed, what they have not sent."""
    who = person_in(session, actor.organisation, person)
    if who.id == actor.id:
        raise Refused(NOT_YOURSELF, "person")
    change_active(session, who, False, now)
    sign_out_everywhere(session, who, now)


def reopen_account(session: Session, actor: Person, person: str, now: datetime) -> None:
    """Open a closed account again; its person signs in anew."""
    change_active(session, person_in(session, actor.organisation, person), True, now)


def sign_out_person(session: Session, actor: Person, person: str, now: datetime) -> None:
    """Sign somebody out everywhere."""
    sign_out_everywhere(session, person_in(session, actor.organisation, person), now)


def caseload_of(session: Session, actor: Person, person: str, now: datetime) -> list[OnCaseload]:
    """The clients on somebody's caseload now, by number."""
    who = person_in(session, actor.organisation, person)
    rows = session.scalars(
        select(Caseload).where(of(who), during(Caseload, now)).order_by(Caseload.client_id, Caseload.since)
    )
    return [OnCaseload(row.client_id, row.since, row.until, row.emergency) for row in rows]


def put_on_caseload(session: Session, actor: Person, person: str, client: str, now: datetime) -> None:
    """Put a client on somebody's caseload; one that is on it stays."""
    who = _with_caseload(session, actor, person)
    if session.get(Client, (actor.organisation, client)) is None:
        raise NotThere(NO_CLIENT, "client")
    add_to_caseload(session, who, [client], now)


def take_from_caseload(session: Session, actor: Person, person: str, client: str, now: datetime) -> None:
    """Take a client off somebody's caseload; what was recorded before is still taken afterwards."""
    who = person_in(session, actor.organisation, person)
    if not take_off_caseload(session, who, client, now):
        raise NotThere(NOT_ON_IT, "client")


def _with_caseload(session: Session, actor: Person, person: str) -> Person:
    who = person_in(session, actor.organisation, person)
    if who.role not in ROLES_FOR["write_client"]:
        raise Refused(NO_CASELOAD, "person")
    return who
