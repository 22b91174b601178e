"""Reassessments that are due, who wants to be reminded of them and where, and the reminders to send."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, ForeignKeyConstraint, Index, String, Text, text
from sqlalchemy.orm import Mapped, mapped_column

from webapp.storage.models.base import Base, Instant, uuid_type
from webapp.storage.models.people import OfUser

_OF_CLIENT = (["organisation_id", "client_id"], ["clients.organisation_id", "clients.id"])
_WAITING = text("state = 'waiting'")


class DueChange(Base):
    """A client whose due dates are to be reckoned anew at a moment.

    That is now, written in the transaction that may change them, or when somebody who is away comes back.
    """

    __tablename__ = "due_changes"
    __table_args__ = (ForeignKeyConstraint(*_OF_CLIENT),)

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    client_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    reckon_at: Mapped[datetime] = mapped_column(Instant, index=True)


class Due(Base):
    """A reassessment of a client by a rule: from which day it is sensible, by which it is due.

    `known_at`: when this due day came to be known.
    """

    __tablename__ = "due"
    __table_args__ = (ForeignKeyConstraint(*_OF_CLIENT),)

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    client_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    rule: Mapped[str] = mapped_column(String(64), primary_key=True)
    from_on: Mapped[date]
    due_on: Mapped[date]
    known_at: Mapped[datetime] = mapped_column(Instant)


class ReminderHabits(OfUser, Base):
    """When a user wants to be reminded: local time, time zone, working days as digits (1 is Monday).

    Quiet from one day through another. The calendar is found by the hash of its token; it names clients only
    if that was chosen.
    """

    __tablename__ = "reminder_habits"

    user_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    at: Mapped[str] = mapped_column(String(5))
    zone: Mapped[str] = mapped_column(String(64))
    days: Mapped[str] = mapped_column(String(7))
    quiet_from: Mapped[date | None]
    quiet_until: Mapped[date | None]
    snoozed_until: Mapped[date | None]
    reminded_at: Mapped[datetime | None] = mapped_column(Instant)
    calendar_hash: Mapped[str | None] = mapped_column(String(64), unique=True)
    calendar_names: Mapped[bool] = mapped_column(default=False)


class PushSubscription(OfUser, Base):
    """Where one browser of a user takes push messages (RFC 8030) and the keys that only it can read by."""

    __tablename__ = "push_subscriptions"

    endpoint_hash: Mapped[str] = mapped_column(String(64), primary_key=True, unique=True)
    endpoint: Mapped[str] = mapped_column(Text)
    p256dh: Mapped[str] = mapped_column(String(100))
    auth: Mapped[str] = mapped_column(String(40))
    device_id: Mapped[str] = mapped_column(uuid_type())
    created_at: Mapped[datetime] = mapped_column(Instant)
    ended_at: Mapped[datetime | None] = mapped_column(Instant)
    ended_why: Mapped[str | None] = mapped_column(String(20))
    last_sent_at: Mapped[datetime | None] = mapped_column(Instant)


class Reminder(OfUser, Base):
    """A reminder to send at a moment: one waiting a user. What it says is looked up when it is sent.

    `sent_to`: hashes of the endpoints that have it already. A lease is a worker's claim for a short time.
    """

    __tablename__ = "reminders"
    __table_args__ = (
        ForeignKeyConstraint(["organisation_id", "user_id"], ["users.organisation_id", "users.id"]),
        Index(
            "ix_reminders_waiting",
            "organisation_id",
            "user_id",
            unique=True,
            sqlite_where=_WAITING,
            postgresql_where=_WAITING,
        ),
        Index("ix_reminders_due", "due_at", sqlite_where=_WAITING, postgresql_where=_WAITING),
    )

    id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    due_at: Mapped[datetime] = mapped_column(Instant)
    state: Mapped[str] = mapped_column(String(10))
    attempts: Mapped[int] = mapped_column(BigInteger, default=0)
    sent_to: Mapped[list[Any]] = mapped_column(JSON, default=list)
    lease_by: Mapped[str | None] = mapped_column(uuid_type())
    lease_until: Mapped[datetime | None] = mapped_column(Instant)
    settled_at: Mapped[datetime | None] = mapped_column(Instant)
    code: Mapped[str | None] = mapped_column(String(40))


class WorkerBeat(Base):
    """A worker of reminders, when it was last heard of, and what it did since it began."""

    __tablename__ = "worker_beats"

    id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    started_at: Mapped[datetime] = mapped_column(Instant)
    beat_at: Mapped[datetime] = mapped_column(Instant)
    counts: Mapped[dict[str, Any]] = mapped_column(JSON)
