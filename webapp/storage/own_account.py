"""What a person does about their own account: the password, the sessions, the devices."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, select, update
from sqlalchemy.orm import Session

from webapp.storage.attempts import attempt_key, take_try
from webapp.storage.audit import Event, record
from webapp.storage.database import Database
from webapp.storage.devices import Known, known_devices, revoke
from webapp.storage.locking import lock_counter
from webapp.storage.models import Device, PasswordLink, SignIn, SignInAttempts, User
from webapp.storage.passwords import hash_password, password_fits, why_unfit
from webapp.storage.people import Person, sign_in_name_of
from webapp.storage.refused import NotThere, Refused
from webapp.storage.signing_in import IDLE, open_session, sign_out_everywhere

# Our choice: a device that was not heard of for two weeks may be lost, or may hold what nobody else has.
SILENT_AFTER = timedelta(days=14)
WRONG_PASSWORD = "This is not your present password. Check it."
SAME_PASSWORD = "This is the password you have. Choose another."
NO_SESSION = "This session has ended already."
NO_DEVICE = "There is no such device of yours."
THIS_DEVICE = "This is the device you are using. Withdraw it from another one."
SHARED = "Somebody else uses this device too. An administrator can withdraw it."


@dataclass(frozen=True)
class OwnSession:
    """A session of a person: `id` names it among their own, `device` is the one it last synced from."""

    id: str
    created_at: datetime
    seen_at: datetime
    device: str | None
    here: bool


@dataclass(frozen=True)
class OwnDevice:
    """A device of a person; `silent` when it was not heard of for two weeks."""

    known: Known
    lacking: int
    silent: bool
    here: bool


def check_password(database: Database, person: Person, password: str, now: datetime) -> None:
    """Refused unless it is the person's password; Blocked after too many wrong ones."""
    key = attempt_key("own", person.id)
    with database.writing() as session:
        lock_counter(session, person.organisation)
        take_try(session, "own", key, now)
        kept = session.get_one(User, (person.organisation, person.id)).password_hash
    fits = password_fits(kept, password)
    with database.writing() as session:
        if fits:
            session.execute(delete(SignInAttempts).where(SignInAttempts.key == key))
        else:
            refused = Event("password_refused", "person", person.id, refused=True)
            record(session, person.organisation, now, refused)
    if not fits:
        raise Refused(WRONG_PASSWORD, "password")


def change_password(
    database: Database, person: Person, here: str, password: str, chosen: str, now: datetime
) -> str:
    """Take a new password for the one in use; every session ends, and the token of a new one is returned.

    `here` is the hash of the token of the session it is done in.
    """
    check_password(database, person, password, now)
    if chosen == password:
        raise Refused(SAME_PASSWORD, "chosen")
    kept = new_hash(database, person, chosen)
    with database.writing() as session:
        set_password(session, person, kept, now)
        device = session.scalar(select(SignIn.device_id).where(SignIn.token_hash == here))
        return open_session(session, person, now, device=device)


def new_hash(database: Database, person: Person, chosen: str) -> str:
    """The hash of a password that somebody chose; Refused when it is unfit. It takes its time."""
    with database.reading() as session:
        name = sign_in_name_of(session, person)
    unfit = why_unfit(chosen, [person.name, *person.name.split(), name, *name.split("@")])
    if unfit:
        raise Refused(unfit, "chosen")
    return hash_password(chosen)


def set_password(session: Session, person: Person, kept: str, now: datetime) -> None:
    """Keep a new hash, and end every session and every link to a new password."""
    record(session, person.organisation, now, Event("password_changed", "person", person.id))
    session.get_one(User, (person.organisation, person.id)).password_hash = kept
    end_links(session, person, now)
    sign_out_everywhere(session, person, now)


def end_links(session: Session, person: Person, now: datetime) -> None:
    """No link to a new password that was made for a person leads anywhere any more."""
    session.execute(
        update(PasswordLink)
        .where(
            PasswordLink.organisation_id == person.organisation,
            PasswordLink.user_id == person.id,
            PasswordLink.ended_at.is_(None),
        )
        .values(ended_at=now)
    )


def sessions_of(session: Session, person: Person, here: str, now: datetime) -> list[OwnSession]:
    """A person's sessions that are alive, the one used last in front."""
    return [
        OwnSession(_short(row), row.created_at, row.seen_at, row.device_id, row.token_hash == here)
        for row in _alive(session, person, now)
    ]


def end_session(session: Session, person: Person, own: str, now: datetime) -> None:
    """End one of a person's sessions; NotThere when there is none of that id."""
    record(session, person.organisation, now, Event("session_ended", "person", person.id))
    found = [row for row in _alive(session, person, now) if _short(row) == own]
    if not found:
        raise NotThere(NO_SESSION, "session")
    found[0].revoked_at = now


def devices_of(session: Session, person: Person, here: str, now: datetime) -> list[OwnDevice]:
    """A person's devices, the one heard of last in front."""
    using = session.scalar(select(SignIn.device_id).where(SignIn.token_hash == here))
    return [
        OwnDevice(
            each,
            each.lacking,
            each.revoked_at is None and now - each.last_sync_at > SILENT_AFTER,
            each.id == using,
        )
        for each in known_devices(session, person.organisation, person.id)
    ]


def name_device(session: Session, person: Person, device: str, name: str, now: datetime) -> None:
    """Call a device of a person by a name of theirs, or by its own again ("")."""
    record(session, person.organisation, now, Event("device_named", "device", device))
    row = session.get(Device, (person.organisation, person.id, device))
    if row is None:
        raise NotThere(NO_DEVICE, "device")
    row.own_name = name or None


def withdraw_own(session: Session, person: Person, here: str, device: str, now: datetime) -> None:
    """Withdraw a lost device of a person's own; not the one they are using, nor one that others use too."""
    lock_counter(session, person.organisation)
    users = session.scalars(
        select(Device.user_id).where(Device.organisation_id == person.organisation, Device.id == device)
    ).all()
    if person.id not in users:
        raise NotThere(NO_DEVICE, "device")
    if set(users) != {person.id}:
        raise Refused(SHARED, "device")
    if session.scalar(select(SignIn.device_id).where(SignIn.token_hash == here)) == device:
        raise Refused(THIS_DEVICE, "device")
    revoke(session, person.organisation, device, now)


def _alive(session: Session, person: Person, now: datetime) -> list[SignIn]:
    query = (
        select(SignIn)
        .where(
            SignIn.organisation_id == person.organisation,
            SignIn.user_id == person.id,
            SignIn.revoked_at.is_(None),
            SignIn.expires_at > now,
            SignIn.seen_at > now - IDLE,
        )
        .order_by(SignIn.seen_at.desc(), SignIn.token_hash)
    )
    return list(session.scalars(query))


def _short(row: SignIn) -> str:
    return row.token_hash[:16]
