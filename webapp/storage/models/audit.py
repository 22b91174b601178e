"""Who did what, and when: rows that are only ever added, each sealed onto the one before."""

from datetime import datetime

from sqlalchemy import BigInteger, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from webapp.storage.models.base import Base, Instant, uuid_type


class AuditRow(Base):
    """One thing that happened: ids, codes and counts, nothing anybody typed, no reference to what may go."""

    __tablename__ = "audit"
    __table_args__ = (
        Index(None, "organisation_id", "actor_id", "at"),
        Index(None, "organisation_id", "record_id", "at"),
    )

    organisation_id: Mapped[str] = mapped_column(ForeignKey("organisations.id"), primary_key=True)
    seq: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    at: Mapped[datetime] = mapped_column(Instant)
    actor_id: Mapped[str | None] = mapped_column(uuid_type())
    device_id: Mapped[str | None] = mapped_column(uuid_type())
    action: Mapped[str] = mapped_column(String(40))
    record_kind: Mapped[str] = mapped_column(String(20))
    record_id: Mapped[str | None] = mapped_column(String(64))
    person_id: Mapped[str | None] = mapped_column(uuid_type())
    outcome: Mapped[str] = mapped_column(String(10))
    reason: Mapped[str | None] = mapped_column(String(64))
    count: Mapped[int | None] = mapped_column(BigInteger)
    request_id: Mapped[str | None] = mapped_column(String(32))
    key_id: Mapped[str] = mapped_column(String(16))
    prev_hash: Mapped[str] = mapped_column(String(64))
    hash: Mapped[str] = mapped_column(String(64))
