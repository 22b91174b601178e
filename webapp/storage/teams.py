"""Teams of an organisation: making one, putting people in and taking them out, who is in which."""

import uuid
from dataclasses import dataclass, field
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.storage.audit import Event, record
from webapp.storage.locking import lock_counter
from webapp.storage.models import PARTS, Team, TeamMember, User
from webapp.storage.people import Person, person_in, person_of
from webapp.storage.refused import NotThere, Refused
from webapp.storage.rights import during

NO_TEAM = "There is no such team here."
TAKEN = "There is a team of this name already. Choose another name."
NOT_A_LEAD = "Only somebody with the role lead can lead a team."
NO_CLIENTS = "An administrator sees no clients and is in no team."


@dataclass
class TeamNow:
    """A team with whoever is in it now."""

    id: str
    name: str
    members: list[Person] = field(default_factory=list)
    leads: list[Person] = field(default_factory=list)


def make_team(session: Session, organisation: str, name: str, now: datetime, *, id: str | None = None) -> str:
    """Make a team; its id. Refused when the name is taken."""
    lock_counter(session, organisation)
    name = " ".join(name.split())
    taken = session.scalars(select(Team.name).where(Team.organisation_id == organisation))
    if name.casefold() in {each.casefold() for each in taken}:
        raise Refused(TAKEN, "name")
    team = Team(organisation_id=organisation, id=id or str(uuid.uuid4()), name=name, created_at=now)
    session.add(team)
    session.flush()
    record(session, organisation, now, Event("team_changed", "team", team.id, reason="made"))
    return team.id


def join_team(session: Session, organisation: str, team: str, person: str, part: str, now: datetime) -> None:
    """Put somebody in a team, as member or as lead; who is in it already stays."""
    lock_counter(session, organisation)
    _team(session, organisation, team)
    who = person_in(session, organisation, person)
    if who.role == "administrator":
        raise Refused(NO_CLIENTS, "person")
    if part == "lead" and who.role != "lead":
        raise Refused(NOT_A_LEAD, "part")
    if _open(session, organisation, team, person, part) is None:
        row = TeamMember(organisation_id=organisation, team_id=team, user_id=person, part=part, since=now)
        session.add(row)
        session.flush()
        joined = Event("team_changed", "team", team, person=person, reason=f"{part}_joined")
        record(session, organisation, now, joined)


def leave_team(session: Session, organisation: str, team: str, person: str, part: str, now: datetime) -> None:
    """Take somebody out of a team; the time they were in it stays on record."""
    lock_counter(session, organisation)
    _team(session, organisation, team)
    person_in(session, organisation, person)
    row = _open(session, organisation, team, person, part)
    if row is not None:
        row.until = now
        left = Event("team_changed", "team", team, person=person, reason=f"{part}_left")
        record(session, organisation, now, left)


def teams_of(session: Session, organisation: str, at: datetime) -> list[TeamNow]:
    """The teams of an organisation by name, with whoever is in them at a moment."""
    query = select(Team).where(Team.organisation_id == organisation).order_by(Team.name)
    teams = {team.id: TeamNow(team.id, team.name) for team in session.scalars(query)}
    rows = session.execute(
        select(TeamMember, User)
        .join(User, (User.organisation_id == TeamMember.organisation_id) & (User.id == TeamMember.user_id))
        .where(TeamMember.organisation_id == organisation, during(TeamMember, at))
        .order_by(User.display_name, User.id)
    )
    for row, user in rows:
        places = {"member": teams[row.team_id].members, "lead": teams[row.team_id].leads}
        places[row.part].append(person_of(user))
    return list(teams.values())


def _team(session: Session, organisation: str, team: str) -> Team:
    found = session.get(Team, (organisation, team))
    if found is None:
        raise NotThere(NO_TEAM, "team")
    return found


def _open(session: Session, organisation: str, team: str, person: str, part: str) -> TeamMember | None:
    if part not in PARTS:
        raise Refused(f"A part in a team is one of {', '.join(PARTS)}.", "part")
    return session.scalar(
        select(TeamMember).where(
            TeamMember.organisation_id == organisation,
            TeamMember.team_id == team,
            TeamMember.user_id == person,
            TeamMember.part == part,
            TeamMember.until.is_(None),
        )
    )
