"""Who may do what, in one place: `can` for every action, `visible_clients` for everything that is read.

A therapist sees the clients on the caseload. A lead also sees those of the people in the teams they lead, but
writes only about those on their own caseload. An administrator manages and sees no client. Whoever asks from
a withdrawn device sees nothing. Nobody reaches another organisation: it stands in every condition.
"""

from collections.abc import Iterable
from datetime import UTC, datetime

from sqlalchemy import ColumnElement, Select, and_, exists, false, or_, select, true
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from webapp.storage.models import Caseload, Client, TeamMember
from webapp.storage.people import Person

FOREVER = datetime.max.replace(tzinfo=UTC)
Moment = datetime | InstrumentedAttribute[datetime]

# Action -> the roles that have it at all. Those on a client ask the caseload as well.
ROLES_FOR = {
    "read_client": {"therapist", "lead"},
    "write_client": {"therapist", "lead"},
    "open_in_emergency": {"therapist", "lead"},
    "review_emergencies": {"lead"},
    "manage": {"administrator"},
}


def can(session: Session, person: Person, action: str, at: datetime, client: str | None = None) -> bool:
    """Whether a person may do something at a moment, about a client where the action is about one."""
    if person.withdrawn or person.role not in ROLES_FOR[action]:
        return False
    if client is None:
        return True
    filters = {"read_client": visible_clients, "write_client": own_clients}
    return session.scalar(filters[action](person, at).where(Client.id == client)) is not None


def visible_clients(person: Person, at: datetime) -> Select[tuple[str]]:
    """The query filter: ids of the clients a person may see at a moment."""
    if person.withdrawn or person.role not in ROLES_FOR["read_client"]:
        return _clients(person).where(false())
    seen = on_caseload(person, at)
    if person.role == "lead":
        seen = or_(seen, in_teams_led_by(person, Client.id, at, at))
    return _clients(person).where(seen)


def own_clients(person: Person, at: datetime) -> Select[tuple[str]]:
    """Ids of the clients on a person's own caseload at a moment."""
    return _clients(person).where(on_caseload(person, at))


def on_caseload(person: Person, at: datetime, emergency: bool | None = None) -> ColumnElement[bool]:
    """Of a query over clients: those on a person's own caseload at a moment."""
    own = and_(of(person), Caseload.client_id == Client.id, during(Caseload, at))
    kind = true() if emergency is None else Caseload.emergency == emergency
    return exists().where(own, kind).correlate(Client)


def in_teams_led_by(
    person: Person, client: ColumnElement[str] | InstrumentedAttribute[str], at: Moment, now: datetime
) -> ColumnElement[bool]:
    """Whether a client was, at a moment, a client of a team that a person leads now.

    What somebody opened in an emergency makes nobody a client of their team.
    """
    member, lead, theirs = aliased(TeamMember), aliased(TeamMember), aliased(Caseload)
    return exists().where(
        lead.organisation_id == person.organisation,
        lead.user_id == person.id,
        lead.part == "lead",
        during(lead, now),
        member.organisation_id == person.organisation,
        member.team_id == lead.team_id,
        member.part == "member",
        during(member, at),
        theirs.organisation_id == person.organisation,
        theirs.user_id == member.user_id,
        theirs.client_id == client,
        theirs.emergency.is_(False),
        during(theirs, at),
    )


def writable_until(
    session: Session, person: Person, clients: Iterable[str], now: datetime
) -> dict[str, datetime]:
    """Of some clients, those a person may write about, each with the moment up to which.

    Work recorded while a client was on the caseload and sent after the client left it is still taken.
    """
    if not can(session, person, "write_client", now):
        return {}
    rows = session.execute(
        select(Caseload.client_id, Caseload.until).where(
            of(person), Caseload.client_id.in_(set(clients)), Caseload.since <= now
        )
    )
    limits: dict[str, datetime] = {}
    for client, until in rows:
        limits[client] = max(limits.get(client, until or FOREVER), until or FOREVER)
    return limits


def readable(session: Session, person: Person, clients: Iterable[str], now: datetime) -> set[str]:
    """Of some clients, those a person may see now."""
    return set(session.scalars(visible_clients(person, now).where(Client.id.in_(set(clients)))))


def of(person: Person) -> ColumnElement[bool]:
    """Of a query over caseloads: a person's own rows."""
    return and_(Caseload.organisation_id == person.organisation, Caseload.user_id == person.id)


def during(row: type[Caseload] | type[TeamMember], at: Moment) -> ColumnElement[bool]:
    """Of a query over rows with `since` and `until`: those that hold at a moment."""
    return and_(row.since <= at, or_(row.until.is_(None), row.until > at))


def _clients(person: Person) -> Select[tuple[str]]:
    return select(Client.id).where(Client.organisation_id == person.organisation)
