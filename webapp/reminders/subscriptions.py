"""The browsers that take push messages: put in by a button, ended by another or by their push service."""

import base64
import binascii
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from cryptography.hazmat.primitives.asymmetric import ec
from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from webapp.reminders.addresses import Target
from webapp.storage.audit import Event, record
from webapp.storage.models import Device, PushSubscription, User
from webapp.storage.people import Person

# One person's browsers: more than anybody carries, few enough that nobody turns us into a hammer.
MOST = 10


class BadKeys(ValueError):
    """The keys of a subscription are none; the text is a sentence."""


class TooMany(ValueError):
    """A person has as many browsers as they may have."""


@dataclass(frozen=True)
class Subscribed:
    """A browser that wants reminders: endpoint, its public key and its secret (RFC 8291), in base64url."""

    endpoint: str
    p256dh: str
    auth: str
    device: str


def hash_of_endpoint(endpoint: str) -> str:
    """What a subscription is found by."""
    return sha256(endpoint.encode()).hexdigest()


def check_keys(p256dh: str, auth: str) -> None:
    """Nothing for keys one can encrypt by; BadKeys otherwise."""
    try:
        point, secret = _decoded(p256dh), _decoded(auth)
        ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)
    except (ValueError, binascii.Error) as error:
        raise BadKeys("The keys of this subscription cannot be read. Switch reminders on again.") from error
    if len(point) != 65 or len(secret) != 16:
        raise BadKeys("The keys of this subscription cannot be read. Switch reminders on again.")


def _decoded(text: str) -> bytes:
    return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)


def add_subscription(session: Session, person: Person, new: Subscribed, now: datetime) -> None:
    """Have a browser reminded for one person; whoever used it before is no longer reminded there."""
    found = session.scalar(
        select(PushSubscription)
        .where(PushSubscription.endpoint_hash == hash_of_endpoint(new.endpoint))
        .with_for_update()
    )
    if found is None and len(live_targets(session, person.organisation, person.id)) >= MOST:
        raise TooMany
    same = found is not None and found.ended_at is None and found.user_id == person.id
    if found is not None and not (same and found.auth == new.auth and found.p256dh == new.p256dh):
        session.delete(found)
        session.flush()
        found = None
    if found is None:
        session.add(
            PushSubscription(
                organisation_id=person.organisation,
                endpoint_hash=hash_of_endpoint(new.endpoint),
                user_id=person.id,
                endpoint=new.endpoint,
                p256dh=new.p256dh,
                auth=new.auth,
                device_id=new.device,
                created_at=now,
            )
        )
    if not same:
        event = Event("reminders_on", "device", new.device, device=new.device)
        record(session, person.organisation, now, event)
    session.flush()


def remove_subscription(session: Session, person: Person, endpoint: str, now: datetime) -> bool:
    """End a browser's subscription at its person's wish; False when it was none of theirs."""
    row = session.get(
        PushSubscription, (person.organisation, hash_of_endpoint(endpoint)), with_for_update=True
    )
    if row is None or row.user_id != person.id or row.ended_at is not None:
        return False
    row.ended_at, row.ended_why = now, "unsubscribed"
    event = Event("reminders_off", "device", row.device_id, device=row.device_id)
    record(session, person.organisation, now, event)
    return True


def live_targets(session: Session, organisation: str, user: str) -> list[Target]:
    """The browsers of a person with an open account, those of withdrawn devices left out."""
    withdrawn = exists().where(
        Device.organisation_id == PushSubscription.organisation_id,
        Device.id == PushSubscription.device_id,
        Device.revoked_at.is_not(None),
    )
    rows = session.scalars(
        select(PushSubscription)
        .join(
            User,
            (User.organisation_id == PushSubscription.organisation_id)
            & (User.id == PushSubscription.user_id),
        )
        .where(
            PushSubscription.organisation_id == organisation,
            PushSubscription.user_id == user,
            PushSubscription.ended_at.is_(None),
            User.active,
            ~withdrawn,
        )
        .order_by(PushSubscription.created_at)
    )
    return [Target(row.endpoint_hash, row.endpoint, row.p256dh, row.auth) for row in rows]


def end_subscription(session: Session, organisation: str, hash: str, why: str, now: datetime) -> None:
    """End a subscription that its push service no longer takes messages for."""
    row = session.get(PushSubscription, (organisation, hash), with_for_update=True)
    if row is not None and row.ended_at is None:
        row.ended_at, row.ended_why = now, why


def note_sent(session: Session, organisation: str, hash: str, now: datetime) -> None:
    """Remember when a browser last got a message."""
    row = session.get(PushSubscription, (organisation, hash))
    if row is not None:
        row.last_sent_at = now
