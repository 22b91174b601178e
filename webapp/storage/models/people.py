"""Organisations, their users, and how a user stays signed in."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, CheckConstraint, ForeignKey, ForeignKeyConstraint, Index, String
from sqlalchemy.orm import Mapped, declared_attr, mapped_column

from webapp.storage.models.base import Base, Instant, uuid_type

# A lead is the clinical lead of one or more teams.
ROLES = ("therapist", "lead", "administrator")


class Organisation(Base):
    """An organisation, with the heads of its log and of its audit: the counters that number their rows."""

    __tablename__ = "organisations"

    id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    name: Mapped[str] = mapped_column(String(200))
    head: Mapped[int] = mapped_column(BigInteger, default=0)
    epoch: Mapped[str] = mapped_column(uuid_type())
    settings: Mapped[dict[str, Any]] = mapped_column(JSON, default=dict)
    created_at: Mapped[datetime] = mapped_column(Instant)
    retention_years: Mapped[int | None]
    audit_seq: Mapped[int] = mapped_column(BigInteger, default=0, server_default="0")
    audit_hash: Mapped[str] = mapped_column(String(64), default="0" * 64, server_default="0" * 64)


class User(Base):
    """A person who signs in. The sign-in name is unique over all organisations: it is all they type."""

    __tablename__ = "users"
    __table_args__ = (CheckConstraint(f"role IN {ROLES}", name="role"),)

    organisation_id: Mapped[str] = mapped_column(ForeignKey("organisations.id"), primary_key=True)
    id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    sign_in_name: Mapped[str] = mapped_column(String(200), unique=True)
    display_name: Mapped[str] = mapped_column(String(200))
    role: Mapped[str] = mapped_column(String(20))
    password_hash: Mapped[str] = mapped_column(String(255))
    active: Mapped[bool] = mapped_column(default=True)
    created_at: Mapped[datetime] = mapped_column(Instant)


class OfUser:
    """What a row that belongs to one user has in common; a further key tells a user's rows apart."""

    # In front of the key, as in every table.
    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True, sort_order=-1)
    user_id: Mapped[str] = mapped_column(uuid_type())

    @declared_attr.directive
    def __table_args__(cls) -> tuple[Any, ...]:
        return (
            ForeignKeyConstraint(["organisation_id", "user_id"], ["users.organisation_id", "users.id"]),
            Index(None, "organisation_id", "user_id"),
        )


class SignIn(OfUser, Base):
    """One signed-in session: only the hash of its token is kept, and the device that last synced by it."""

    __tablename__ = "sessions"

    token_hash: Mapped[str] = mapped_column(String(64), primary_key=True, unique=True)
    created_at: Mapped[datetime] = mapped_column(Instant)
    seen_at: Mapped[datetime] = mapped_column(Instant)
    expires_at: Mapped[datetime] = mapped_column(Instant)
    revoked_at: Mapped[datetime | None] = mapped_column(Instant)
    device_id: Mapped[str | None] = mapped_column(uuid_type())


class SignInAttempts(Base):
    """Failed sign-ins of one name or address, hashed. No organisation: the name may be nobody's."""

    __tablename__ = "sign_in_attempts"

    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    failures: Mapped[int] = mapped_column(default=0)
    last_at: Mapped[datetime] = mapped_column(Instant)
    blocked_until: Mapped[datetime | None] = mapped_column(Instant)
