"""Other ways in than a password: passkeys, the challenges they answer, links to choose a new password."""

from datetime import datetime

from sqlalchemy import BigInteger, ForeignKeyConstraint, Index, LargeBinary, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from webapp.storage.models.base import Base, Instant, uuid_type


class Passkey(Base):
    """A passkey of a user: its public key. `credential_hash` is the SHA-256 of the id it is found by."""

    __tablename__ = "passkeys"
    __table_args__ = (
        ForeignKeyConstraint(["organisation_id", "user_id"], ["users.organisation_id", "users.id"]),
        Index(None, "organisation_id", "user_id"),
    )

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    credential_hash: Mapped[str] = mapped_column(String(64), primary_key=True, unique=True)
    user_id: Mapped[str] = mapped_column(uuid_type())
    credential_id: Mapped[str] = mapped_column(Text)
    public_key: Mapped[bytes] = mapped_column(LargeBinary)
    sign_count: Mapped[int] = mapped_column(BigInteger)
    backed_up: Mapped[bool]
    name: Mapped[str] = mapped_column(String(80))
    created_at: Mapped[datetime] = mapped_column(Instant)
    last_used_at: Mapped[datetime | None] = mapped_column(Instant)


class PasskeyChallenge(Base):
    """A challenge that was given out, by its hash. No organisation: at sign-in nobody is known yet."""

    __tablename__ = "passkey_challenges"

    challenge_hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    user_id: Mapped[str | None] = mapped_column(uuid_type())
    expires_at: Mapped[datetime] = mapped_column(Instant, index=True)


class PasswordLink(Base):
    """A link by which somebody chooses a new password once: the hash of its token."""

    __tablename__ = "password_links"
    __table_args__ = (
        ForeignKeyConstraint(["organisation_id", "user_id"], ["users.organisation_id", "users.id"]),
        Index(None, "organisation_id", "user_id"),
    )

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    token_hash: Mapped[str] = mapped_column(String(64), primary_key=True, unique=True)
    user_id: Mapped[str] = mapped_column(uuid_type())
    created_at: Mapped[datetime] = mapped_column(Instant)
    expires_at: Mapped[datetime] = mapped_column(Instant)
    ended_at: Mapped[datetime | None] = mapped_column(Instant)
