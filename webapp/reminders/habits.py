"""What a person chooses about reminders: when, on which days, when not; later, once; a calendar or none."""

import secrets
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from hashlib import sha256

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.reminders.moments import FIRST_HABITS, next_working_moment
from webapp.reminders.outbox import SENT, habits_of, lock_habits, renew
from webapp.storage.audit import Event, record
from webapp.storage.models import Reminder, ReminderHabits, User
from webapp.storage.people import Person, person_of

# For how long a message that was sent can be asked for once more.
AGAIN_WITHIN = timedelta(hours=36)


@dataclass(frozen=True)
class Chosen:
    """When a person wants to be reminded: local time HH:MM, IANA zone, ISO weekdays, quiet days or none."""

    at: str
    zone: str
    days: str
    quiet_from: date | None = None
    quiet_until: date | None = None


def chosen_by(session: Session, person: Person) -> ReminderHabits | None:
    """What a person chose; None when they never did."""
    return session.get(ReminderHabits, (person.organisation, person.id))


def choose(session: Session, person: Person, chosen: Chosen, now: datetime) -> None:
    """Keep what a person chose, and bring their reminder to its new moment."""
    row = _own(session, person, now)
    row.at, row.zone, row.days = chosen.at, chosen.zone, chosen.days
    row.quiet_from, row.quiet_until = chosen.quiet_from, chosen.quiet_until
    session.flush()
    renew(session, row, now)


def remind_again(session: Session, reminder: str, now: datetime) -> date | None:
    """Remind once more on the next working day, by the number of a reminder that was just sent; which day.

    None for any other number, and for somebody who works on no day.
    """
    sent = session.scalar(
        select(Reminder).where(
            Reminder.id == reminder, Reminder.state == SENT, Reminder.settled_at > now - AGAIN_WITHIN
        )
    )
    rows = lock_habits(session, [(sent.organisation_id, sent.user_id)]) if sent else ()
    for row in rows:
        habits = habits_of(row)
        if habits.days:
            row.snoozed_until = habits.day_of(next_working_moment(habits, now))
            session.flush()
            renew(session, row, now)
            return row.snoozed_until
    return None


def make_calendar(session: Session, person: Person, names: bool, now: datetime) -> str:
    """Make the token of a new private calendar address; the one before leads nowhere from now on."""
    token = secrets.token_urlsafe(32)
    row = _own(session, person, now)
    row.calendar_hash, row.calendar_names = hash_of_token(token), names
    record(session, person.organisation, now, Event("calendar_made", "calendar", person.id))
    return token


def end_calendar(session: Session, person: Person, now: datetime) -> None:
    """Let the calendar's address lead nowhere."""
    row = _own(session, person, now)
    if row.calendar_hash is not None:
        row.calendar_hash, row.calendar_names = None, False
        record(session, person.organisation, now, Event("calendar_ended", "calendar", person.id))


def whose_calendar(session: Session, token: str) -> tuple[Person, ReminderHabits] | None:
    """Whose calendar a token opens; None for a token of nobody or of a closed account."""
    row = session.execute(
        select(ReminderHabits, User)
        .join(
            User,
            (User.organisation_id == ReminderHabits.organisation_id) & (User.id == ReminderHabits.user_id),
        )
        .where(ReminderHabits.calendar_hash == hash_of_token(token), User.active)
    ).one_or_none()
    return (person_of(row.User), row.ReminderHabits) if row else None


def hash_of_token(token: str) -> str:
    """What a calendar is found by."""
    return sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def _own(session: Session, person: Person, now: datetime) -> ReminderHabits:
    for row in lock_habits(session, [(person.organisation, person.id)]):
        return row
    row = ReminderHabits(
        organisation_id=person.organisation, user_id=person.id, reminded_at=now, **FIRST_HABITS
    )
    session.add(row)
    session.flush()
    return row
