"""Clients as the server knows them (an id; everything else is entries) and whose caseload they are on."""

from datetime import datetime

from sqlalchemy import ForeignKey, ForeignKeyConstraint, Index, text
from sqlalchemy.orm import Mapped, mapped_column

from webapp.storage.models.base import Base, Instant, uuid_type


class Client(Base):
    """A client of an organisation."""

    __tablename__ = "clients"

    organisation_id: Mapped[str] = mapped_column(ForeignKey("organisations.id"), primary_key=True)
    id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    created_at: Mapped[datetime] = mapped_column(Instant)
    held_since: Mapped[datetime | None] = mapped_column(Instant)


class Caseload(Base):
    """A client on a user's caseload from `since` until `until` (open when null).

    `emergency`: the user put the client there, for a short time.
    """

    __tablename__ = "caseload"
    __table_args__ = (
        ForeignKeyConstraint(["organisation_id", "user_id"], ["users.organisation_id", "users.id"]),
        ForeignKeyConstraint(["organisation_id", "client_id"], ["clients.organisation_id", "clients.id"]),
        Index(
            "ix_caseload_open",
            "organisation_id",
            "user_id",
            "client_id",
            unique=True,
            sqlite_where=text("until IS NULL"),
            postgresql_where=text("until IS NULL"),
        ),
    )

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    user_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    client_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    since: Mapped[datetime] = mapped_column(Instant, primary_key=True)
    until: Mapped[datetime | None] = mapped_column(Instant)
    emergency: Mapped[bool] = mapped_column(default=False)
