"""What is left of a client whose record was erased: ids and hashes, so that nothing of it comes back."""

import hashlib
from datetime import datetime

from sqlalchemy import BigInteger, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.storage.models.base import Base, Instant, uuid_type


class Tombstone(Base):
    """A client who was erased: when, on what ground, by whom (null: at the command line)."""

    __tablename__ = "tombstones"

    organisation_id: Mapped[str] = mapped_column(ForeignKey("organisations.id"), primary_key=True)
    client_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    erased_at: Mapped[datetime] = mapped_column(Instant)
    ground: Mapped[str] = mapped_column(String(40))
    erased_by: Mapped[str | None] = mapped_column(uuid_type())


class ErasedEntry(Base):
    """An entry that is no more: the hash of its id, and which number of which device it was."""

    __tablename__ = "erased_entries"
    __table_args__ = (Index(None, "organisation_id", "author_id", "device_id"),)

    organisation_id: Mapped[str] = mapped_column(ForeignKey("organisations.id"), primary_key=True)
    id_hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    client_id: Mapped[str] = mapped_column(uuid_type())
    author_id: Mapped[str | None] = mapped_column(uuid_type())
    device_id: Mapped[str | None] = mapped_column(uuid_type())
    device_seq: Mapped[int | None] = mapped_column(BigInteger)


def hash_of(own: str) -> str:
    """What is kept of an entry's id."""
    return hashlib.sha256(own.encode()).hexdigest()
