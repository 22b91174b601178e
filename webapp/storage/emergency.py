"""Emergency access: one client's record for a short time, for a reason, and in sight of who answers for it.

Whoever asks brings name and date of birth; nothing is searched, listed or completed. A client who is not
there, one that fits twice, and one of another organisation are the same answer. Every try is counted.
"""

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import ColumnElement, and_, exists, or_, select
from sqlalchemy.orm import Session, aliased

from webapp.circumstances import acting
from webapp.storage.attempts import attempt_key, take_try
from webapp.storage.audit import Event, record
from webapp.storage.database import Database
from webapp.storage.finding import found_by
from webapp.storage.models import Caseload, EmergencyAccess, EmergencySeen, TeamMember, User
from webapp.storage.people import Person, person_of
from webapp.storage.refused import NotThere
from webapp.storage.rights import during, led_people, of

SHOWN_FOR = timedelta(days=30)


@dataclass(frozen=True)
class Asked:
    """What somebody brings who needs a record: a name as recorded, a date of birth (ISO), the reason."""

    name: str
    birth_date: str
    reason: str


@dataclass(frozen=True)
class Opened:
    """A client whose record is open, and until when (None: the client is on the caseload to stay)."""

    client: str
    until: datetime | None


@dataclass(frozen=True)
class Access:
    """An emergency access as a lead sees it."""

    id: str
    person: Person
    client: str
    since: datetime
    until: datetime | None
    reason: str
    seen_at: datetime | None


def open_in_emergency(
    database: Database, person: Person, asked: Asked, hours: int, now: datetime
) -> Opened | None:
    """Open the record of the one client who fits; None when none or several do. Blocked after many tries."""
    # A transaction of its own: the try counts whatever becomes of it.
    with database.writing() as session:
        key = attempt_key("emergency", f"{person.organisation}/{person.id}")
        take_try(session, "emergency", key, now)
    with database.writing() as session:
        found = found_by(session, person.organisation, asked.name, asked.birth_date)
        if len(found) != 1:
            return None
        return _already(session, person, found[0], now) or _open(
            session, person, found[0], asked.reason, now, now + timedelta(hours=hours)
        )


def _already(session: Session, person: Person, client: str, now: datetime) -> Opened | None:
    row = session.scalar(
        select(Caseload)
        .where(of(person), Caseload.client_id == client, during(Caseload, now))
        .order_by(Caseload.emergency)
        .limit(1)
    )
    return Opened(client, row.until) if row else None


def _open(
    session: Session, person: Person, client: str, reason: str, now: datetime, until: datetime
) -> Opened:
    key = {"organisation_id": person.organisation, "user_id": person.id, "client_id": client, "since": now}
    session.add(Caseload(**key, until=until, emergency=True))
    session.flush()
    session.add(EmergencyAccess(**key, id=str(uuid.uuid4()), reason=reason))
    with acting(person.id):
        record(session, person.organisation, now, Event("emergency_access", "client", client))
    return Opened(client, until)


def recent_accesses(session: Session, lead: Person, now: datetime) -> list[Access]:
    """The emergency accesses of the last 30 days that a lead answers for, the latest first."""
    rows = session.execute(
        select(EmergencyAccess, User, Caseload.until, EmergencySeen.seen_at)
        .join(User, and_(User.organisation_id == EmergencyAccess.organisation_id,
                         User.id == EmergencyAccess.user_id))
        .join(Caseload, and_(Caseload.organisation_id == EmergencyAccess.organisation_id,
                             Caseload.user_id == EmergencyAccess.user_id,
                             Caseload.client_id == EmergencyAccess.client_id,
                             Caseload.since == EmergencyAccess.since))
        .outerjoin(EmergencySeen, and_(EmergencySeen.organisation_id == EmergencyAccess.organisation_id,
                                       EmergencySeen.access_id == EmergencyAccess.id,
                                       EmergencySeen.user_id == lead.id))
        .where(EmergencyAccess.organisation_id == lead.organisation,
               EmergencyAccess.since > now - SHOWN_FOR, answers_for(lead, now))
        .order_by(EmergencyAccess.since.desc(), EmergencyAccess.id)
    )  # fmt: skip
    return [
        Access(row.id, person_of(user), row.client_id, row.since, until, row.reason, seen_at)
        for row, user, until, seen_at in rows
    ]


def mark_seen(session: Session, lead: Person, access: str, now: datetime) -> datetime:
    """Note that a lead has looked at an access; when they first did. NotThere for any but their own."""
    found = next((each for each in recent_accesses(session, lead, now) if each.id == access), None)
    if found is None:
        raise NotThere("There is no such emergency access here.")
    if found.seen_at is None:
        row = EmergencySeen(organisation_id=lead.organisation, access_id=access, user_id=lead.id, seen_at=now)
        session.add(row)
        session.flush()
        reviewed = Event("emergency_reviewed", "client", found.client, person=found.person.id)
        with acting(lead.id):
            record(session, lead.organisation, now, reviewed)
    return found.seen_at or now


def answers_for(lead: Person, now: datetime) -> ColumnElement[bool]:
    """Of a query over accesses: to clients of a lead's teams, then or since.

    A client of no team has no lead: then whoever leads the person who opened the record is shown it.
    """
    theirs, everybody, member = aliased(Caseload), aliased(Caseload), aliased(TeamMember)
    of_this_lead = exists().where(_held(theirs, now), theirs.user_id.in_(led_people(lead, now)))
    of_any_team = exists().where(
        _held(everybody, now),
        member.organisation_id == everybody.organisation_id,
        member.user_id == everybody.user_id,
        member.part == "member",
        during(member, now),
    )
    return or_(of_this_lead, and_(~of_any_team, EmergencyAccess.user_id.in_(led_people(lead, now))))


def _held(row: type[Caseload], now: datetime) -> ColumnElement[bool]:
    """The client of an access was on somebody's caseload to stay, at that moment or later."""
    return and_(
        row.organisation_id == EmergencyAccess.organisation_id,
        row.client_id == EmergencyAccess.client_id,
        row.emergency.is_(False),
        row.since <= now,
        or_(row.until.is_(None), row.until > EmergencyAccess.since),
    )
