"""Emergency access: what a client is found by, who opened a record and why, which lead has seen it."""

from datetime import datetime

from sqlalchemy import ForeignKeyConstraint, Index, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from webapp.storage.models.base import Base, Instant, uuid_type


class ClientKey(Base):
    """One way to name a client exactly: the hash of a name with a date of birth, nothing readable."""

    __tablename__ = "client_keys"
    __table_args__ = (
        ForeignKeyConstraint(["organisation_id", "client_id"], ["clients.organisation_id", "clients.id"]),
        Index(None, "organisation_id", "client_id"),
    )

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    client_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)


class EmergencyAccess(Base):
    """An opening of a record in an emergency; the row of the caseload that it made says until when."""

    __tablename__ = "emergency_access"
    __table_args__ = (
        ForeignKeyConstraint(
            ["organisation_id", "user_id", "client_id", "since"],
            ["caseload.organisation_id", "caseload.user_id", "caseload.client_id", "caseload.since"],
            name="fk_emergency_access_caseload",
        ),
        Index(None, "organisation_id", "since"),
    )

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    user_id: Mapped[str] = mapped_column(uuid_type())
    client_id: Mapped[str] = mapped_column(uuid_type())
    since: Mapped[datetime] = mapped_column(Instant)
    reason: Mapped[str] = mapped_column(Text)


class EmergencySeen(Base):
    """A lead has looked at an emergency access."""

    __tablename__ = "emergency_seen"
    __table_args__ = (
        ForeignKeyConstraint(
            ["organisation_id", "access_id"], ["emergency_access.organisation_id", "emergency_access.id"]
        ),
        ForeignKeyConstraint(["organisation_id", "user_id"], ["users.organisation_id", "users.id"]),
    )

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    access_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    user_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    seen_at: Mapped[datetime] = mapped_column(Instant)
