"""Teams: who is in one, who leads one, from when until when."""

from datetime import datetime

from sqlalchemy import (
    CheckConstraint,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    String,
    UniqueConstraint,
    text,
)
from sqlalchemy.orm import Mapped, mapped_column

from webapp.storage.models.base import Base, Instant, uuid_type

PARTS = ("member", "lead")


class Team(Base):
    """A team of an organisation."""

    __tablename__ = "teams"
    __table_args__ = (UniqueConstraint("organisation_id", "name"),)

    organisation_id: Mapped[str] = mapped_column(ForeignKey("organisations.id"), primary_key=True)
    id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    name: Mapped[str] = mapped_column(String(200))
    created_at: Mapped[datetime] = mapped_column(Instant)


class TeamMember(Base):
    """A user's part in a team, from `since` until `until` (open when null); a lead may be a member too."""

    __tablename__ = "team_members"
    __table_args__ = (
        ForeignKeyConstraint(["organisation_id", "team_id"], ["teams.organisation_id", "teams.id"]),
        ForeignKeyConstraint(["organisation_id", "user_id"], ["users.organisation_id", "users.id"]),
        CheckConstraint(f"part IN {PARTS}", name="part"),
        Index(
            "ix_team_members_open",
            "organisation_id",
            "user_id",
            "team_id",
            "part",
            unique=True,
            sqlite_where=text("until IS NULL"),
            postgresql_where=text("until IS NULL"),
        ),
    )

    organisation_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    team_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    user_id: Mapped[str] = mapped_column(uuid_type(), primary_key=True)
    part: Mapped[str] = mapped_column(String(10), primary_key=True)
    since: Mapped[datetime] = mapped_column(Instant, primary_key=True)
    until: Mapped[datetime | None] = mapped_column(Instant)
