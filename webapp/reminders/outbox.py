"""The outbox of reminders: each person has one waiting, whoever claims it sends it, then the next is put in.

A worker claims reminders for a short lease, sends them outside any transaction, and settles each. One that
dies leaves its lease to run out, and another sends again: under the same topic, so that the phone shows one.
Whoever touches a person's reminders for longer than a claim locks the row of their habits first.
"""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Select, or_, select
from sqlalchemy.orm import Session

from webapp.reminders.moments import Habits, Span, next_moment
from webapp.storage.models import Caseload, Due, Reminder, ReminderHabits
from webapp.storage.rights import during

WAITING, SENT, EMPTY, FAILED, NOBODY = "waiting", "sent", "empty", "failed", "nobody"
LEASE = timedelta(seconds=90)
# After each failed attempt; then it is given up until the next occasion.
PAUSES = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 30, 120, 240))
Owner = tuple[str, str]


@dataclass(frozen=True)
class Claimed:
    """A reminder that a worker holds until its lease ends; `sent_to` has it already."""

    organisation: str
    id: str
    user: str
    due_at: datetime
    attempts: int
    sent_to: tuple[str, ...]


def claim(
    session: Session, worker: str, now: datetime, most: int, lease: timedelta = LEASE
) -> list[Claimed]:
    """Take up to so many reminders whose time has come, the longest waiting first."""
    rows = session.scalars(
        select(Reminder)
        .where(
            Reminder.state == WAITING,
            Reminder.due_at <= now,
            or_(Reminder.lease_until.is_(None), Reminder.lease_until <= now),
        )
        .order_by(Reminder.due_at, Reminder.id)
        .limit(most)
        .with_for_update(skip_locked=True)
    ).all()
    for row in rows:
        row.lease_by, row.lease_until = worker, now + lease
    return [
        Claimed(row.organisation_id, row.id, row.user_id, row.due_at, row.attempts, tuple(row.sent_to))
        for row in rows
    ]


@dataclass(frozen=True)
class Outcome:
    """How sending went: a state and a code; `again_at` when it is to be tried once more."""

    state: str
    code: str | None = None
    sent_to: tuple[str, ...] = ()
    again_at: datetime | None = None
    tried: bool = True


def settle(
    session: Session, worker: str, settled: Sequence[tuple[Claimed, Outcome]], now: datetime
) -> None:
    """Write down how sending went and put in the next; nothing where the lease was lost to another worker."""
    owners = [(claimed.organisation, claimed.user) for claimed, _ in settled]
    habits = {(row.organisation_id, row.user_id): row for row in lock_habits(session, owners)}
    for claimed, outcome in settled:
        row = session.get(
            Reminder, (claimed.organisation, claimed.id), populate_existing=True, with_for_update=True
        )
        if row is not None and row.state == WAITING and row.lease_by == worker:
            _settle(session, row, habits.get((claimed.organisation, claimed.user)), outcome, now)


def _settle(
    session: Session, row: Reminder, habits: ReminderHabits | None, outcome: Outcome, now: datetime
) -> None:
    row.lease_by = row.lease_until = None
    row.sent_to, row.code = sorted({*row.sent_to, *outcome.sent_to}), outcome.code
    row.attempts += outcome.tried
    if outcome.again_at is not None:
        row.due_at = outcome.again_at
        return
    row.state, row.settled_at = outcome.state, now
    session.flush()
    if habits is not None:
        habits.reminded_at, habits.snoozed_until = now, None
        renew(session, habits, now)


def retry_at(attempts: int, now: datetime, asked: timedelta | None) -> datetime | None:
    """When to try again after so many failed attempts, no sooner than asked; None to give up."""
    if attempts >= len(PAUSES):
        return None
    return now + max(PAUSES[attempts], asked or timedelta())


def lock_habits(session: Session, owners: Iterable[Owner]) -> Sequence[ReminderHabits]:
    """The habits of some people, locked in one order for all."""
    found = []
    for organisation, user in sorted(set(owners)):
        row = session.get(
            ReminderHabits, (organisation, user), populate_existing=True, with_for_update=True
        )
        if row is not None:
            found.append(row)
    return found


def renew(session: Session, row: ReminderHabits, now: datetime) -> None:
    """Bring the one waiting reminder of somebody, whose habits are locked, to its right moment."""
    moment = next_moment(spans_of(session, row, now), habits_of(row), row.reminded_at)
    waiting = session.scalar(
        select(Reminder)
        .where(
            Reminder.organisation_id == row.organisation_id,
            Reminder.user_id == row.user_id,
            Reminder.state == WAITING,
        )
        .with_for_update()
    )
    if waiting is not None and (waiting.lease_until is not None or waiting.attempts):
        return  # It is being sent; what comes after is reckoned when that is settled.
    if waiting is not None and moment is None:
        waiting.state, waiting.settled_at = EMPTY, now
    elif waiting is not None and moment is not None:
        waiting.due_at = moment
    elif moment is not None:
        session.add(
            Reminder(
                organisation_id=row.organisation_id,
                id=str(uuid.uuid4()),
                user_id=row.user_id,
                due_at=moment,
                state=WAITING,
            )
        )
    session.flush()


def spans_of(session: Session, row: ReminderHabits, now: datetime) -> list[Span]:
    """What is or comes due among the clients somebody has to stay."""
    return [Span(*each) for each in session.execute(due_of(row, now, Due.from_on, Due.due_on, Due.known_at))]


def due_of(row: ReminderHabits, now: datetime, *columns: Any) -> Select[Any]:
    """The query for what is due among the clients somebody has to stay.

    The caseload in front and its clients looked up: joined, SQLite goes through everybody's due dates.
    """
    clients = select(Caseload.client_id).where(
        Caseload.organisation_id == row.organisation_id,
        Caseload.user_id == row.user_id,
        Caseload.emergency.is_(False),
        during(Caseload, now),
    )
    own = Due.organisation_id == row.organisation_id, Due.client_id.in_(clients)
    return select(*columns).where(*own)


def habits_of(row: ReminderHabits) -> Habits:
    """A row of habits as the pure rules take them."""
    return Habits(
        time.fromisoformat(row.at),
        ZoneInfo(row.zone),
        frozenset(int(day) for day in row.days),
        row.quiet_from,
        row.quiet_until,
        row.snoozed_until,
    )
