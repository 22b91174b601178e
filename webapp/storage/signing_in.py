"""Signing in, staying signed in, signing out; and slowing down whoever guesses."""

import hashlib
import logging
import secrets
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Row, bindparam, delete, exists, or_, select, update
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from webapp.circumstances import acting
from webapp.storage.attempts import address_key, attempt_key, count_try, refuse_blocked
from webapp.storage.audit import Event, record, record_once
from webapp.storage.database import Database
from webapp.storage.models import Device, Organisation, SignIn, SignInAttempts, User
from webapp.storage.passwords import hash_password, needs_new_hash, password_fits
from webapp.storage.people import Person, find_user, normal_name, person_of

log = logging.getLogger("lintel")
# Our choices for field work: a working day without a sync, a week in all.
IDLE = timedelta(hours=12)
ABSOLUTE = timedelta(days=7)
TOUCH_EVERY = timedelta(minutes=1)
_TOKEN, _DEVICE = bindparam("token"), bindparam("device")
_DEVICE_WITHDRAWN = (
    exists()
    .where(
        Device.organisation_id == SignIn.organisation_id,
        Device.id == SignIn.device_id,
        Device.revoked_at.is_not(None),
    )
    .correlate(SignIn)
)
# Put together once: every request asks the first of them, every sync the second.
_WHO = (
    select(
        SignIn.seen_at,
        SignIn.expires_at,
        SignIn.revoked_at,
        User.id,
        User.organisation_id,
        User.display_name,
        User.role,
        User.active,
        _DEVICE_WITHDRAWN.label("withdrawn"),
    )
    .join(User, (User.organisation_id == SignIn.organisation_id) & (User.id == SignIn.user_id))
    .where(SignIn.token_hash == _TOKEN)
)
_USED_FROM = (
    update(SignIn.__table__)
    .where(
        SignIn.token_hash == _TOKEN,
        or_(SignIn.device_id.is_(None), SignIn.device_id != _DEVICE),
        ~_DEVICE_WITHDRAWN,
    )
    .values(device_id=_DEVICE)
)


def sign_in(database: Database, name: str, password: str, address: str, now: datetime) -> str | None:
    """A new session's token, None when name and password do not fit; Blocked after too many failures."""
    own = attempt_key("name", normal_name(name))
    keys = {"name": own, "address": address_key("address", address)}
    with database.reading() as session:
        refuse_blocked(session, keys.values(), now)
        user = find_user(session, name)
    # Hashing takes its time: outside any transaction.
    fits = password_fits(user.password_hash if user else None, password)
    if user is None or not fits or not user.active:
        _note_failure(database, user, keys, now)
        return None
    return _open_session(database, user, password, keys["name"], now)


def who_is(database: Database, token: str, now: datetime) -> Person | None:
    """The person a token belongs to, None when it is unknown, old, revoked or of a closed account.

    A session that was used from a device stays that device's: once it is withdrawn, so is its person there.
    """
    digest = token_hash(token)
    with database.reading() as session:
        row = session.connection().execute(_WHO, {"token": digest}).one_or_none()
    if row is None:
        return None
    if not _alive(row, now) or not row.active:
        _note_refusal(database, row, now)
        return None
    if now - row.seen_at >= TOUCH_EVERY:
        _touch(database, digest, now)
    return replace(person_of(row), withdrawn=row.withdrawn)


def _touch(database: Database, digest: str, now: datetime) -> None:
    try:
        with database.writing() as session:
            session.execute(update(SignIn).where(SignIn.token_hash == digest).values(seen_at=now))
    # A database that is full or busy can still be read; the next request tries again.
    except OperationalError as error:
        log.warning("session_not_touched", extra={"error": type(error.orig).__name__})


def note_use(session: Session, token_digest: str, device: str) -> None:
    """Remember from which device a session is used; one that is withdrawn cannot pass for another."""
    session.connection().execute(_USED_FROM, {"token": token_digest, "device": device})


def sign_out(database: Database, token: str, now: datetime) -> None:
    """End one session."""
    with database.writing() as session:
        row = session.scalar(select(SignIn).where(SignIn.token_hash == token_hash(token)))
        if row is not None and row.revoked_at is None:
            with acting(row.user_id):
                record(session, row.organisation_id, now, Event("signed_out", "person", row.user_id))
            row.revoked_at = now


def end_sessions(database: Database, person: Person, now: datetime) -> None:
    """End every session of a person, for instance after a new password."""
    with database.writing() as session:
        sign_out_everywhere(session, person, now)


def sign_out_everywhere(session: Session, person: Person, now: datetime) -> None:
    """As `end_sessions`, within a transaction; one that ended before keeps its time."""
    record(session, person.organisation, now, Event("sessions_ended", "person", person.id))
    session.execute(
        update(SignIn)
        .where(
            SignIn.organisation_id == person.organisation,
            SignIn.user_id == person.id,
            SignIn.revoked_at.is_(None),
        )
        .values(revoked_at=now)
    )


def organisation_of(session: Session, person: Person) -> Organisation:
    """The organisation a person belongs to."""
    return session.get_one(Organisation, person.organisation)


def token_hash(token: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


def _note_failure(database: Database, user: User | None, keys: dict[str, str], now: datetime) -> None:
    """Count a failed sign-in and, when the name is somebody's, write it down: whose, and nothing typed."""
    with database.writing() as session:
        if user is not None:
            reason = None if user.active else "closed"
            failed = Event("sign_in_failed", "person", user.id, person=user.id, refused=True, reason=reason)
            record(session, user.organisation_id, now, failed)
        for kind, key in keys.items():
            count_try(session, kind, key, now)


def _note_refusal(database: Database, row: Row[Any], now: datetime) -> None:
    """Write down that a session was tried that was ended or is of a closed account; not one that grew old."""
    reason = "closed" if not row.active else "revoked" if row.revoked_at is not None else None
    if reason is None:
        return
    refused = Event("session_refused", "person", row.id, refused=True, reason=reason)
    with database.writing() as session, acting(row.id):
        record_once(session, row.organisation_id, now, refused)


def _alive(row: Row[Any], now: datetime) -> bool:
    return row.revoked_at is None and now < row.expires_at and now - row.seen_at < IDLE


def _open_session(database: Database, user: User, password: str, name_key: str, now: datetime) -> str:
    better = hash_password(password) if needs_new_hash(user.password_hash) else None
    with database.writing() as session:
        token = open_session(session, person_of(user), now)
        if better:
            session.get_one(User, (user.organisation_id, user.id)).password_hash = better
        session.execute(delete(SignInAttempts).where(SignInAttempts.key == name_key))
    return token


def open_session(
    session: Session, person: Person, now: datetime, by: str | None = None, device: str | None = None
) -> str:
    """A new session's token, `by` what else than a password; the person's sessions that grew old go."""
    token = secrets.token_urlsafe(32)
    with acting(person.id):
        record(session, person.organisation, now, Event("signed_in", "person", person.id, reason=by))
    session.add(
        SignIn(
            organisation_id=person.organisation,
            token_hash=token_hash(token),
            user_id=person.id,
            created_at=now,
            seen_at=now,
            expires_at=now + ABSOLUTE,
            device_id=device,
        )
    )
    session.execute(
        delete(SignIn).where(
            SignIn.organisation_id == person.organisation,
            SignIn.user_id == person.id,
            SignIn.expires_at < now,
        )
    )
    return token
