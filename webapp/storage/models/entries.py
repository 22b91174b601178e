"""The append-only log, what could not be taken into it, and the devices that write it."""

from datetime import datetime

from sqlalchemy import (
    BigInteger,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    LargeBinary,
    String,
    Text,
    UniqueConstraint,
)
from sqlalchemy.orm import Mapped, mapped_column

from webapp.storage.models.base import Base, Instant, uuid_type

# A key of an entry -> the column it is kept in, where the two differ.
COLUMNS = {"client": "client_id", "visit": "visit_id", "author": "author_id", "device": "device_id"}


class Device(Base):
    """A device as one user uses it, with what it last said about itself and what its user calls it."""

    __tablename__ = "devices"
    __table_args__ = (
        ForeignKeyConstraint(["organisation_id", "user_id"], ["users.organisation_id", "users.id"]),
    )

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    user_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    name: Mapped[str] = mapped_column(String(80))
    build: Mapped[str] = mapped_column(String(80))
    last_sync_at: Mapped[datetime] = mapped_column(Instant)
    unsent: Mapped[int] = mapped_column(BigInteger)
    last_device_seq: Mapped[int] = mapped_column(BigInteger)
    revoked_at: Mapped[datetime | None] = mapped_column(Instant)
    own_name: Mapped[str | None] = mapped_column(String(80))
    copied_at: Mapped[datetime | None] = mapped_column(Instant)


class Entry(Base):
    """One entry. `seq` orders the log by commit; the body is the canonical text that was hashed."""

    __tablename__ = "entries"
    __table_args__ = (
        ForeignKeyConstraint(["organisation_id", "client_id"], ["clients.organisation_id", "clients.id"]),
        ForeignKeyConstraint(["organisation_id", "author_id"], ["users.organisation_id", "users.id"]),
        ForeignKeyConstraint(["organisation_id", "amends"], ["entries.organisation_id", "entries.id"]),
        ForeignKeyConstraint(["organisation_id", "voids"], ["entries.organisation_id", "entries.id"]),
        UniqueConstraint("organisation_id", "seq"),
        Index(None, "organisation_id", "client_id", "seq"),
        Index(None, "organisation_id", "author_id", "device_id", "device_seq"),
    )

    organisation_id: Mapped[str] = mapped_column(ForeignKey("organisations.id"), primary_key=True)
    id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    seq: Mapped[int] = mapped_column(BigInteger)
    hash: Mapped[str] = mapped_column(String(64))
    kind: Mapped[str] = mapped_column(String(64))
    schema: Mapped[int]
    client_id: Mapped[str] = mapped_column(uuid_type())
    visit_id: Mapped[str | None] = mapped_column(uuid_type())
    author_id: Mapped[str] = mapped_column(uuid_type())
    device_id: Mapped[str] = mapped_column(uuid_type())
    device_seq: Mapped[int] = mapped_column(BigInteger)
    recorded_at: Mapped[str] = mapped_column(String(24))
    utc_offset: Mapped[int]
    amends: Mapped[str | None] = mapped_column(uuid_type())
    voids: Mapped[str | None] = mapped_column(uuid_type())
    reason: Mapped[str | None] = mapped_column(Text)
    body: Mapped[str] = mapped_column(Text)
    received_at: Mapped[datetime] = mapped_column(Instant)


class Holding(Base):
    """An item that was pushed and could not be taken: the bytes as they came, kept, with the reason."""

    __tablename__ = "holding"
    __table_args__ = (
        ForeignKeyConstraint(["organisation_id", "user_id"], ["users.organisation_id", "users.id"]),
        Index(None, "organisation_id", "entry_id"),
    )

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    user_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    raw_hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    entry_id: Mapped[str | None] = mapped_column(uuid_type())
    device_id: Mapped[str] = mapped_column(uuid_type())
    verdict: Mapped[str] = mapped_column(String(10))
    code: Mapped[str] = mapped_column(String(64))
    field: Mapped[str | None] = mapped_column(String(200))
    raw: Mapped[bytes] = mapped_column(LargeBinary)
    received_at: Mapped[datetime] = mapped_column(Instant)
    settled_at: Mapped[datetime | None] = mapped_column(Instant)
