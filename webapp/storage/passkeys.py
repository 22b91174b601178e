"""Passkeys: the challenges they answer, the public keys that are kept, signing in with one.

What an authenticator answered is verified by the caller (webapp/features/accounts/ceremonies.py).
"""

import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from webapp.circumstances import acting
from webapp.storage.attempts import Blocked, address_key, attempt_key
from webapp.storage.audit import Event, record
from webapp.storage.database import Database
from webapp.storage.locking import lock_counter
from webapp.storage.models import Passkey, PasskeyChallenge, SignInAttempts, User
from webapp.storage.people import Person, person_of
from webapp.storage.refused import NotThere, Refused
from webapp.storage.signing_in import open_session

ANSWER_WITHIN = timedelta(minutes=5)
# How many challenges one address, or one person who is signed in, may have unanswered at a time. Our choice:
# an open page of sign-in has two, and a whole service may stand behind one address in the morning.
MOST_OF_ADDRESS, MOST_OF_PERSON = 200, 20
MOST_PASSKEYS = 20
NO_PASSKEY = "There is no such passkey of yours."
TOO_MANY = "You have 20 passkeys. Remove one that you do not use any more."
KNOWN_ALREADY = "This passkey is in use already."


@dataclass(frozen=True)
class NewPasskey:
    """What a verified registration leaves: ids in base64url, the public key in COSE's form."""

    credential_id: str
    public_key: bytes
    sign_count: int
    backed_up: bool


@dataclass(frozen=True)
class Found:
    """A passkey with whose it is and whether that account is open."""

    person: Person
    active: bool
    public_key: bytes


def hash_of_challenge(challenge: bytes) -> str:
    """What is kept of a challenge."""
    return hashlib.sha256(challenge).hexdigest()


def hash_of_credential(credential_id: str) -> str:
    """What a passkey is found by: the hash of its id in base64url."""
    return hashlib.sha256(credential_id.encode()).hexdigest()


def keep_challenge(database: Database, challenge: bytes, asked_by: Person | str, now: datetime) -> None:
    """Remember a challenge for five minutes: for a person's new passkey, or for a sign-in from an address.

    Blocked while whoever asks has too many that are still to be answered; those that grew old are removed.
    """
    person = asked_by if isinstance(asked_by, Person) else None
    key = attempt_key("person", person.id) if person else address_key("challenge", str(asked_by))
    with database.writing() as session:
        session.execute(delete(PasskeyChallenge).where(PasskeyChallenge.expires_at <= now))
        _refuse_too_many(session, key, MOST_OF_PERSON if person else MOST_OF_ADDRESS, now)
        session.add(
            PasskeyChallenge(
                challenge_hash=hash_of_challenge(challenge),
                user_id=person.id if person else None,
                expires_at=now + ANSWER_WITHIN,
                asked_by=key,
            )
        )


def _refuse_too_many(session: Session, key: str, most: int, now: datetime) -> None:
    """Blocked until the oldest goes. Requests at the same moment may pass together: a few more do no harm."""
    mine = PasskeyChallenge.asked_by == key
    count, oldest = session.execute(
        select(func.count(), func.min(PasskeyChallenge.expires_at)).where(mine)
    ).one()
    if count >= most:
        raise Blocked(int((oldest - now).total_seconds()) + 1)


def take_challenge(database: Database, challenge: bytes, person: Person | None, now: datetime) -> bool:
    """Whether a challenge was given out for this and not answered before; it is used up by asking."""
    own = PasskeyChallenge.challenge_hash == hash_of_challenge(challenge)
    with database.writing() as session:
        row = session.execute(
            delete(PasskeyChallenge)
            .where(own)
            .returning(PasskeyChallenge.user_id, PasskeyChallenge.expires_at)
        ).one_or_none()
    return row is not None and row.user_id == (person.id if person else None) and now < row.expires_at


def passkeys_of(session: Session, person: Person) -> list[Passkey]:
    """A person's passkeys, the oldest first."""
    query = (
        select(Passkey)
        .where(Passkey.organisation_id == person.organisation, Passkey.user_id == person.id)
        .order_by(Passkey.created_at, Passkey.credential_hash)
    )
    return list(session.scalars(query))


def add_passkey(database: Database, person: Person, made: NewPasskey, name: str, now: datetime) -> None:
    """Keep a new passkey of a person; Refused when it is known already or they have too many."""
    row = Passkey(
        organisation_id=person.organisation,
        credential_hash=hash_of_credential(made.credential_id),
        user_id=person.id,
        credential_id=made.credential_id,
        public_key=made.public_key,
        sign_count=made.sign_count,
        backed_up=made.backed_up,
        name=name,
        created_at=now,
    )
    try:
        with database.writing() as session:
            record(session, person.organisation, now, Event("passkey_added", "person", person.id))
            if len(passkeys_of(session, person)) >= MOST_PASSKEYS:
                raise Refused(TOO_MANY, "name")
            session.add(row)
    except IntegrityError as error:
        raise Refused(KNOWN_ALREADY, "name") from error


def remove_passkey(session: Session, person: Person, own: str, now: datetime) -> None:
    """Remove one of a person's passkeys by the hash of its id."""
    record(session, person.organisation, now, Event("passkey_removed", "person", person.id))
    found = [row for row in passkeys_of(session, person) if row.credential_hash == own]
    if not found:
        raise NotThere(NO_PASSKEY, "passkey")
    session.delete(found[0])


def remove_all(session: Session, person: Person, now: datetime) -> None:
    """Remove every passkey of a person."""
    for row in passkeys_of(session, person):
        record(session, person.organisation, now, Event("passkey_removed", "person", person.id))
        session.delete(row)


def find_passkey(database: Database, credential_id: str) -> Found | None:
    """The passkey with an id, whoever's it is."""
    with database.reading() as session:
        row = session.execute(
            select(Passkey, User)
            .join(User, (User.organisation_id == Passkey.organisation_id) & (User.id == Passkey.user_id))
            .where(Passkey.credential_hash == hash_of_credential(credential_id))
        ).one_or_none()
    if row is None:
        return None
    return Found(person_of(row.User), row.User.active, row.Passkey.public_key)


def note_refused(database: Database, person: Person, reason: str, now: datetime) -> None:
    """Write down why an answer for somebody's account was refused."""
    refused = Event("passkey_refused", "person", person.id, person=person.id, refused=True, reason=reason)
    with database.writing() as session:
        record(session, person.organisation, now, refused)


def sign_in_by_passkey(
    database: Database, credential_id: str, sign_count: int, address: str, now: datetime
) -> str | None:
    """A new session's token after an answer was verified; None when the passkey was just removed.

    A count that did not grow means that there may be a copy: it is written down and nobody is shut out,
    because some authenticators that share a passkey between devices do not count.
    """
    found = find_passkey(database, credential_id)
    if found is None or not found.active:
        return None
    person = found.person
    with database.writing() as session, acting(person.id):
        lock_counter(session, person.organisation)
        row = session.get(
            Passkey, (person.organisation, hash_of_credential(credential_id)), populate_existing=True
        )
        if row is None:
            return None
        if (sign_count or row.sign_count) and sign_count <= row.sign_count:
            back = Event("passkey_counted_back", "person", person.id)
            record(session, person.organisation, now, back)
        row.sign_count, row.last_used_at = max(sign_count, row.sign_count), now
        own_tries = address_key("passkey", address)
        session.execute(delete(SignInAttempts).where(SignInAttempts.key == own_tries))
        return open_session(session, person, now, by="passkey")
