"""Links by which somebody who forgot the password chooses a new one: made by an administrator, used once.

The token stands behind the # of the address, which no browser sends: no log, proxy or referrer sees it.
"""

import secrets
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.circumstances import acting
from webapp.storage.attempts import address_key, take_try
from webapp.storage.audit import Event, record
from webapp.storage.database import Database
from webapp.storage.locking import lock_counter
from webapp.storage.models import PasswordLink, User
from webapp.storage.own_account import end_links, new_hash, set_password
from webapp.storage.passkeys import remove_all
from webapp.storage.people import Person, person_in, person_of
from webapp.storage.refused import Refused
from webapp.storage.signing_in import token_hash

GOOD_FOR = timedelta(hours=24)
PATH = "/sign-in/new-password#"
CLOSED = "This account is closed. Open it again first."
NO_LINK = (
    "This link leads nowhere any more: it was used, or is older than a day, or there is a newer one. "
    "Ask for another."
)


def make_link(session: Session, actor: Person, person: str, now: datetime) -> str:
    """The address, from the host on, of a link for somebody; the links made before end."""
    who = person_in(session, actor.organisation, person)
    record(session, who.organisation, now, Event("link_made", "person", who.id))
    if not session.get_one(User, (who.organisation, who.id)).active:
        raise Refused(CLOSED, "person")
    end_links(session, who, now)
    token = secrets.token_urlsafe(32)
    session.add(
        PasswordLink(
            organisation_id=who.organisation,
            token_hash=token_hash(token),
            user_id=who.id,
            created_at=now,
            expires_at=now + GOOD_FOR,
        )
    )
    return PATH + token


def use_link(database: Database, token: str, chosen: str, address: str, now: datetime) -> None:
    """Take a new password by a link, which ends; so do all sessions, and the passkeys go.

    Refused for a link that leads nowhere and for an unfit password, after which the link is still good.
    Blocked after too many from one address.
    """
    with database.writing() as session:
        take_try(session, "link", address_key("link", address), now)
    person = _whose(database, token, now)
    if person is None:
        raise Refused(NO_LINK, "token")
    kept = new_hash(database, person, chosen)
    with database.writing() as session:
        taken = _take(session, person, token, kept, now)
    if not taken:
        raise Refused(NO_LINK, "token")


def _whose(database: Database, token: str, now: datetime) -> Person | None:
    """The person a link is for; one that leads nowhere any more is written down."""
    with database.writing() as session:
        row = session.execute(
            select(PasswordLink, User)
            .join(
                User,
                (User.organisation_id == PasswordLink.organisation_id) & (User.id == PasswordLink.user_id),
            )
            .where(PasswordLink.token_hash == token_hash(token))
        ).one_or_none()
        if row is None:
            return None
        link, user = row
        if user.active and link.ended_at is None and now < link.expires_at:
            return person_of(user)
        reason = "closed" if not user.active else "used" if link.ended_at is not None else "old"
        refused = Event("link_refused", "person", user.id, person=user.id, refused=True, reason=reason)
        record(session, user.organisation_id, now, refused)
    return None


def _take(session: Session, person: Person, token: str, kept: str, now: datetime) -> bool:
    lock_counter(session, person.organisation)
    link = session.get_one(PasswordLink, (person.organisation, token_hash(token)), populate_existing=True)
    # Of two at once the second finds it ended.
    if link.ended_at is not None:
        return False
    with acting(person.id):
        set_password(session, person, kept, now)
        remove_all(session, person, now)
    return True
