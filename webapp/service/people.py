"""Accounts, teams and caseloads of a service, for whoever has no office page yet: the first administrator."""

import argparse
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.config import from_environment
from webapp.service import refused
from webapp.storage import office
from webapp.storage.database import Database
from webapp.storage.models import ROLES, Team
from webapp.storage.password_links import make_link
from webapp.storage.people import Person, find_user, person_of
from webapp.storage.refused import Refused
from webapp.storage.switches import find_organisation
from webapp.storage.teams import join_team, leave_team, make_team, teams_of

CLOSED = "The account is closed and signed out everywhere. Its devices keep what they have not sent."
REOPENED = "The account is open again."
SIGNED_OUT = "Signed out everywhere."
LINK = "Works once, within a day. Give it to the right person: whoever has it can sign in as them."


def describe(commands: Any) -> None:
    """Add the commands to the parser."""
    listing = commands.add_parser("people", help="list the accounts")
    listing.set_defaults(run=people)
    new = commands.add_parser("account", help="make an account; its passphrase is printed once")
    new.add_argument("sign_in_name")
    new.add_argument("name", help="as others read it")
    new.add_argument("role", choices=ROLES)
    new.set_defaults(run=account)
    one = commands.add_parser("person", help="close an account, reopen it, sign out, link to a new password")
    one.add_argument("act", choices=("close", "reopen", "sign-out", "reset-link"))
    one.add_argument("sign_in_name")
    one.set_defaults(run=person)
    team = commands.add_parser("team", help="list the teams, make one, put people in and take them out")
    team.add_argument("act", choices=("list", "make", "put", "take"))
    team.add_argument("team", nargs="?", help="its name")
    team.add_argument("sign_in_name", nargs="?")
    team.add_argument("--lead", action="store_true", help="as lead of the team instead of member")
    team.set_defaults(run=team_act)
    load = commands.add_parser("caseload", help="put a client on somebody's caseload, or take one off")
    load.add_argument("act", choices=("list", "put", "take"))
    load.add_argument("sign_in_name")
    load.add_argument("client", nargs="?", help="the client's number")
    load.set_defaults(run=caseload)


def people(database: Database, options: argparse.Namespace) -> str:
    """The accounts of an organisation, one a line."""
    with database.reading() as session:
        found = office.accounts(session, _actor(session, options).organisation)
    return "\n".join(
        f"{each.sign_in_name}  {each.person.name}, {each.person.role}{'' if each.active else ', closed'}"
        for each in found
    )


def account(database: Database, options: argparse.Namespace) -> str:
    """Make an account and say its passphrase."""
    with database.reading() as session:
        actor = _actor(session, options)
    made = _done(
        lambda: office.make_account(database, actor, options.name, options.sign_in_name, options.role)
    )
    return f"{made[0].name}, {made[0].role}\npassphrase, shown only now: {made[1]}"


def person(database: Database, options: argparse.Namespace) -> str:
    """Close an account, open it again, sign somebody out, or make a link to a new password."""
    now = datetime.now(UTC)
    acts = {
        "close": (office.close_account, CLOSED),
        "reopen": (office.reopen_account, REOPENED),
        "sign-out": (office.sign_out_person, SIGNED_OUT),
    }
    with database.writing() as session:
        actor = _actor(session, options)
        who = _named(session, actor, options.sign_in_name)
        if options.act == "reset-link":
            link = _done(lambda: make_link(session, actor, who.id, now))
            return f"{LINK}\n{_address()}{link}"
        act, said = acts[options.act]
        _done(lambda: act(session, actor, who.id, now))
    return said


def _address() -> str:
    host = from_environment().trusted_hosts[0]
    return f"https://{host.removeprefix('.')}"


def team_act(database: Database, options: argparse.Namespace) -> str:
    """What is asked about teams."""
    now = datetime.now(UTC)
    with database.writing() as session:
        actor = _actor(session, options)
        if options.act == "list":
            return "\n".join(_line(team) for team in teams_of(session, actor.organisation, now))
        if not options.team:
            raise refused.Refused("Name the team.")
        if options.act == "make":
            _done(lambda: make_team(session, actor.organisation, options.team, now))
            return f"{options.team}: made."
        act = join_team if options.act == "put" else leave_team
        who = _named(session, actor, options.sign_in_name or "")
        team, part = _team(session, actor, options.team), "lead" if options.lead else "member"
        _done(lambda: act(session, actor.organisation, team, who.id, part, now))
    return f"{options.team}: {who.name} {'is' if options.act == 'put' else 'is no longer'} a {part}."


def caseload(database: Database, options: argparse.Namespace) -> str:
    """What is asked about somebody's caseload."""
    now = datetime.now(UTC)
    with database.writing() as session:
        actor = _actor(session, options)
        who = _named(session, actor, options.sign_in_name)
        if options.act == "list":
            return "\n".join(each.client for each in office.caseload_of(session, actor, who.id, now))
        if not _is_number(options.client):
            raise refused.Refused("Give the client's number as `caseload list` or the office shows it.")
        act = office.put_on_caseload if options.act == "put" else office.take_from_caseload
        _done(lambda: act(session, actor, who.id, options.client, now))
    return f"{who.name}: {'put on' if options.act == 'put' else 'taken off'} the caseload."


def _actor(session: Session, options: argparse.Namespace) -> Person:
    """The service itself, acting in one organisation."""
    return Person("", find_organisation(session, options.organisation).id, "the service", "administrator")


def _named(session: Session, actor: Person, sign_in_name: str) -> Person:
    user = find_user(session, sign_in_name)
    if user is None or user.organisation_id != actor.organisation:
        raise refused.Refused(f'There is nobody with the sign-in name "{sign_in_name}". `people` lists them.')
    return person_of(user)


def _team(session: Session, actor: Person, name: str) -> str:
    found = session.scalar(
        select(Team.id).where(Team.organisation_id == actor.organisation, Team.name == name)
    )
    if found is None:
        raise refused.Refused(f'There is no team "{name}". `team list` lists them.')
    return found


def _is_number(client: str | None) -> bool:
    try:
        return str(UUID(client or "")) == client
    except ValueError:
        return False


def _line(team: Any) -> str:
    names = [f"{each.name} (lead)" for each in team.leads] + [each.name for each in team.members]
    return f"{team.name}: {', '.join(names) or 'nobody'}"


def _done(do: Callable[[], Any]) -> Any:
    try:
        return do()
    except Refused as error:
        raise refused.Refused(error.sentence) from error
