"""Other ways in than a password: passkeys, the challenges they answer, links to choose a new password."""

from datetime import datetime

from sqlalchemy import BigInteger, LargeBinary, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from webapp.storage.models.base import Base, Instant, uuid_type
from webapp.storage.models.people import OfUser


class Passkey(OfUser, Base):
    """A passkey of a user: its public key. `credential_hash` is the SHA-256 of the id it is found by."""

    __tablename__ = "passkeys"

    credential_hash: Mapped[str] = mapped_column(String(64), primary_key=True, unique=True)
    credential_id: Mapped[str] = mapped_column(Text)
    public_key: Mapped[bytes] = mapped_column(LargeBinary)
    sign_count: Mapped[int] = mapped_column(BigInteger)
    backed_up: Mapped[bool]
    name: Mapped[str] = mapped_column(String(80))
    created_at: Mapped[datetime] = mapped_column(Instant)
    last_used_at: Mapped[datetime | None] = mapped_column(Instant)


class PasskeyChallenge(Base):
    """A challenge that was given out, by its hash. No organisation: at sign-in nobody is known yet.

    `asked_by` is a hash of the address, or of the person whose new passkey it is for.
    """

    __tablename__ = "passkey_challenges"

    challenge_hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    user_id: Mapped[str | None] = mapped_column(uuid_type())
    expires_at: Mapped[datetime] = mapped_column(Instant, index=True)
    asked_by: Mapped[str | None] = mapped_column(String(64), index=True)


class PasswordLink(OfUser, Base):
    """A link by which somebody chooses a new password once: the hash of its token."""

    __tablename__ = "password_links"

    token_hash: Mapped[str] = mapped_column(String(64), primary_key=True, unique=True)
    created_at: Mapped[datetime] = mapped_column(Instant)
    expires_at: Mapped[datetime] = mapped_column(Instant)
    ended_at: Mapped[datetime | None] = mapped_column(Instant)
