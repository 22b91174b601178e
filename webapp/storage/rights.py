"""Who may do what, in one place: `can` for every action, `visible_clients` for everything that is read.

A therapist sees the clients on the caseload. A lead also sees those of the people in the teams they lead, but
writes only about those on their own caseload. An administrator manages and sees no client. Whoever asks from
a withdrawn device sees nothing. Nobody reaches another organisation: it stands in every condition.
"""

from collections.abc import Iterable
from datetime import UTC, datetime
from functools import cache
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, bindparam, false, or_, select, type_coerce, union
from sqlalchemy.orm import Session, aliased

from webapp.storage.among import among
from webapp.storage.models import Caseload, TeamMember
from webapp.storage.models.base import uuid_type
from webapp.storage.people import Person

FOREVER = datetime.max.replace(tzinfo=UTC)

# Action -> the roles that have it at all. Those on a client ask the caseload as well.
ROLES_FOR = {
    "read_client": {"therapist", "lead"},
    "write_client": {"therapist", "lead"},
    "open_in_emergency": {"therapist", "lead"},
    "review_emergencies": {"lead"},
    "read_audit": {"lead"},
    "manage": {"administrator"},
    "admit_held": {"lead", "administrator"},
    "own_reminders": {"therapist", "lead"},
    "own_account": {"therapist", "lead", "administrator"},
}


def can(session: Session, person: Person, action: str, at: datetime, client: str | None = None) -> bool:
    """Whether a person may do something at a moment, about a client where the action is about one."""
    if person.withdrawn or person.role not in ROLES_FOR[action]:
        return False
    if client is None:
        return True
    filters = {"read_client": visible_clients, "write_client": own_clients}
    return session.scalar(filters[action](person, at).where(Caseload.client_id == client)) is not None


def visible_clients(person: Person, at: datetime) -> Select[tuple[str]]:
    """The query filter: ids of the clients a person may see at a moment."""
    seen = select(Caseload.client_id).distinct().where(during(Caseload, at))
    if person.withdrawn or person.role not in ROLES_FOR["read_client"]:
        return seen.where(false())
    if person.role != "lead":
        return seen.where(of(person))
    # What somebody opened in an emergency is for them alone.
    return seen.where(
        Caseload.organisation_id == person.organisation,
        Caseload.user_id.in_(union(select(type_coerce(person.id, uuid_type())), led_people(person, at))),
        or_(Caseload.user_id == person.id, Caseload.emergency.is_(False)),
    )


def own_clients(person: Person, at: datetime) -> Select[tuple[str]]:
    """Ids of the clients on a person's own caseload at a moment."""
    return select(Caseload.client_id).distinct().where(of(person), during(Caseload, at))


def led_people(person: Person, at: datetime) -> Select[tuple[str]]:
    """Ids of the people in the teams a person leads at a moment."""
    lead, member = aliased(TeamMember), aliased(TeamMember)
    same = and_(member.organisation_id == lead.organisation_id, member.team_id == lead.team_id)
    return (
        select(member.user_id)
        .join_from(lead, member, same)
        .where(
            lead.organisation_id == person.organisation,
            lead.user_id == person.id,
            lead.part == "lead",
            during(lead, at),
            member.part == "member",
            during(member, at),
        )
    )


def writable_until(
    session: Session, person: Person, clients: Iterable[str], now: datetime
) -> dict[str, datetime]:
    """Of some clients, those a person may write about, each with the moment up to which.

    Work recorded while a client was on the caseload and sent after the client left it is still taken.
    """
    if not can(session, person, "write_client", now):
        return {}
    rows = session.connection().execute(_EVER_OWN, asking(person, now) | {"clients": set(clients)})
    limits: dict[str, datetime] = {}
    for client, until in rows:
        limits[client] = max(limits.get(client, until or FOREVER), until or FOREVER)
    return limits


def readable(session: Session, person: Person, clients: Iterable[str], now: datetime) -> set[str]:
    """Of some clients, those a person may see now."""
    wanted = set(clients)
    if not wanted:
        return wanted
    query = _readable(person.role, person.withdrawn)
    return set(session.connection().scalars(query, asking(person, now) | {"clients": wanted}))


@cache
def _readable(role: str, withdrawn: bool) -> Select[tuple[str]]:
    return visible_clients(anybody(role, withdrawn), AT).where(among(Caseload.client_id, "clients"))


def of(person: Person) -> ColumnElement[bool]:
    """Of a query over caseloads: a person's own rows."""
    return and_(Caseload.organisation_id == person.organisation, Caseload.user_id == person.id)


# What a request asks is put together once for each kind of person: that takes longer than having it carried
# out. Conditions are then made for `anybody` at `AT`, and whoever asks follows as parameters.
AT: Any = bindparam("at")


def anybody(role: str, withdrawn: bool = False) -> Person:
    """A stand-in for whoever has a role, of whom a statement gets to know more by `asking`."""
    own: Any = bindparam("person")
    organisation: Any = bindparam("organisation")
    return Person(own, organisation, "", role, withdrawn)


def asking(person: Person, at: datetime) -> dict[str, Any]:
    """The parameters of a statement that was made for `anybody` at `AT`."""
    return {"person": person.id, "organisation": person.organisation, "at": at}


def during(row: type[Caseload] | type[TeamMember], at: datetime) -> ColumnElement[bool]:
    """Of a query over rows with `since` and `until`: those that hold at a moment."""
    return and_(row.since <= at, or_(row.until.is_(None), row.until > at))


_EVER_OWN = select(Caseload.client_id, Caseload.until).where(
    of(anybody("therapist")), among(Caseload.client_id, "clients"), Caseload.since <= AT
)
