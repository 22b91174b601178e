"""What devices handed in and is kept aside for a decision: how much, whose; taking it into the record.

Counts, people and devices, never content. An item that is taken is appended like any other push, with its
author, device and times as they were; only why it stood aside does not count any more.
"""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from sync import strict_json
from sync.messages import SETTLED, Verdict
from webapp.circumstances import acting
from webapp.storage.append import Examine, append_entries
from webapp.storage.audit import Event, record
from webapp.storage.database import Database
from webapp.storage.devices import set_revoked
from webapp.storage.handing_back import admit_proved, admit_vouched, offer_again
from webapp.storage.models import Device, Holding, User
from webapp.storage.people import Person, person_of
from webapp.storage.refused import NotThere, Refused
from webapp.storage.rights import can, led_people

CODE = "device_revoked"
# Handed back after a restore, by somebody who may not see the client; and what nothing proves.
PROVED, UNPROVED = "put_aside", "unproved"
CODES = (CODE, PROVED, UNPROVED)
AT_ONCE = 200
NOTHING = "Nothing is kept aside of this device."
NOT_YOURS = "Only a lead of this person's team, or an administrator, can have this taken."


@dataclass(frozen=True)
class Aside:
    """What one person's device handed in, for one reason: how many items, received from when to when."""

    device: str
    name: str
    person: Person
    count: int
    first_at: datetime
    last_at: datetime
    code: str = CODE


@dataclass(frozen=True)
class Admitted:
    """What became of it: how many are in the record now, and by code how many could not be taken."""

    taken: int
    refused: dict[str, int]


def set_aside(session: Session, organisation: str, code: str = CODE) -> list[Aside]:
    """What devices of an organisation handed in, that stands aside for a reason and nobody has had taken."""
    query = (
        select(
            Holding.device_id,
            func.max(func.coalesce(Device.own_name, Device.name)),
            User,
            func.count(),
            func.min(Holding.received_at),
            func.max(Holding.received_at),
        )
        .join(User, (User.organisation_id == Holding.organisation_id) & (User.id == Holding.user_id))
        .outerjoin(
            Device,
            (Device.organisation_id == Holding.organisation_id)
            & (Device.user_id == Holding.user_id)
            & (Device.id == Holding.device_id),
        )
        .where(*_waiting(organisation, code))
        .group_by(Holding.device_id, *User.__table__.columns)
        .order_by(func.min(Holding.received_at), Holding.device_id)
    )
    return [
        Aside(device, name or "a device", person_of(user), count, first, last, code)
        for device, name, user, count, first, last in session.execute(query)
    ]


def decidable(session: Session, actor: Person, now: datetime, code: str = CODE) -> list[Aside]:
    """Of what stands aside, what `actor` may have taken: a lead what people of their teams handed in."""
    if not can(session, actor, "admit_held", now):
        return []
    found = set_aside(session, actor.organisation, code)
    if actor.role == "administrator":
        return found
    led = set(session.scalars(led_people(actor, now)))
    return [each for each in found if each.person.id in led]


def admit(
    database: Database, actor: Person, device: str, examine: Examine, now: datetime, code: str = CODE
) -> list[Admitted]:
    """Have what a device handed in taken, person by person. Repeating it changes nothing.

    Of several people who used it a lead decides for those of their teams, and nothing is done to the rest.
    NotThere when nothing of it is kept aside, Refused when `actor` may not decide it. What cannot be taken
    for another reason stays aside as it came.
    """
    with database.reading() as session:
        if not any(each.device == device for each in set_aside(session, actor.organisation, code)):
            raise NotThere(NOTHING, "device")
        if not can(session, actor, "admit_held", now):
            raise Refused(NOT_YOURS, "device")
        found = [each for each in decidable(session, actor, now, code) if each.device == device]
    if not found:
        raise NotThere(NOTHING, "device")
    return [_admit(database, actor, each, examine, now) for each in found]


def allow_again(database: Database, organisation: str, device: str, now: datetime) -> bool:
    """Take a withdrawn device back into service; False for an unknown one.

    What it handed back with proof meanwhile stands aside here alone: it let go of that with its caseload.
    It is judged anew, as if it came now, and taken where its person may see the client.
    """
    if not set_revoked(database, organisation, device, None):
        return False
    with database.reading() as session:
        found = [each for each in set_aside(session, organisation, PROVED) if each.device == device]
    for aside in found:
        for raws in _batches(database, aside):
            offer_again(database, aside.person, device, [strict_json.parse(raw) for raw in raws], now)
    return True


def _admit(database: Database, actor: Person, aside: Aside, examine: Examine, now: datetime) -> Admitted:
    verdicts: list[Verdict] = []
    for raws in _batches(database, aside):
        items = [strict_json.parse(raw) for raw in raws]
        with acting(actor.id or None):
            verdicts += _take(database, aside, items, examine, now)
    taken = [verdict for verdict in verdicts if verdict.verdict in SETTLED]
    refused = Counter(verdict.code or verdict.verdict for verdict in verdicts if verdict not in taken)
    with database.writing() as session, acting(actor.id or None):
        event = Event("held_admitted", "device", aside.device, person=aside.person.id, count=len(taken))
        record(session, actor.organisation, now, event)
    return Admitted(len(taken), dict(refused))


def _take(
    database: Database, aside: Aside, items: list[Any], examine: Examine, now: datetime
) -> list[Verdict]:
    if aside.code == PROVED:
        return admit_proved(database, aside.person, aside.device, items, now)
    if aside.code == UNPROVED:
        return admit_vouched(database, aside.person, aside.device, items, now, examine)
    return append_entries(
        database, aside.person, items, examine=examine, device=aside.device, now=now, admitted=True
    )


def left_aside(done: list[Admitted]) -> int:
    """How many could not be taken and stay aside."""
    return sum(sum(each.refused.values()) for each in done)


def _waiting(organisation: str, code: str) -> tuple[ColumnElement[bool], ...]:
    return (
        Holding.organisation_id == organisation,
        Holding.code == code,
        Holding.settled_at.is_(None),
    )


def items_of(session: Session, aside: Aside) -> list[Any]:
    """What a device handed in for one reason, as it was recorded: originals before corrections."""
    return [strict_json.parse(raw) for raw in _raws(session, aside)]


def _batches(database: Database, aside: Aside) -> list[list[bytes]]:
    """The same as it came, in parts."""
    with database.reading() as session:
        raws = _raws(session, aside)
    return [raws[start : start + AT_ONCE] for start in range(0, len(raws), AT_ONCE)]


def _raws(session: Session, aside: Aside) -> list[bytes]:
    mine = (Holding.user_id == aside.person.id, Holding.device_id == aside.device)
    query = select(Holding.raw).where(*_waiting(aside.person.organisation, aside.code), *mine)
    return sorted(session.scalars(query), key=_number)


def _number(raw: bytes) -> tuple[int, bytes]:
    item = strict_json.parse(raw)
    number = item.get("device_seq") if isinstance(item, dict) else None
    return number if isinstance(number, int) else 0, raw
