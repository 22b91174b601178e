"""Every act of an administrator: what it takes, what it does, what is said when it is done."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from marshmallow import Schema

from webapp.config import now
from webapp.features.current import allowed, database
from webapp.features.office import rules
from webapp.features.refusals import problem_of
from webapp.features.taking import checked
from webapp.schemas import requests
from webapp.storage import Person, office, teams
from webapp.storage.admitting import allow_again
from webapp.storage.devices import set_revoked
from webapp.storage.password_links import make_link
from webapp.storage.refused import NotThere, Refused

Asked = dict[str, Any]


@dataclass(frozen=True)
class Act:
    """One thing an administrator can do. `run` gets the actor, what was asked and the moment."""

    summary: str
    takes: type[Schema]
    run: Callable[[Person, Asked, datetime], Asked]
    done: str


def perform(name: str, message: Any) -> Asked:
    """Do an act for whoever is signed in; 403 for others, 404 for what is not theirs, 422 with the field."""
    actor, act = allowed("manage"), ACTS[name]
    asked = checked(act.takes, message)
    try:
        return act.run(actor, asked, now())
    except Refused as refused:
        raise problem_of(refused) from refused


def _decided(do: Callable[..., Any]) -> Callable[..., Asked]:
    """An act of webapp.storage.office, in a transaction of its own."""

    def run(actor: Person, asked: Asked, moment: datetime) -> Asked:
        with database().writing() as session:
            do(session, actor, **asked, now=moment)
        return {}

    return run


def _in_team(do: Callable[..., Any]) -> Callable[..., Asked]:
    """An act of webapp.storage.teams."""
    return _decided(lambda session, actor, **given: do(session, actor.organisation, **given))


def _make_account(actor: Person, asked: Asked, _moment: datetime) -> Asked:
    person, passphrase = office.make_account(database(), actor, **asked)
    return {"person": person.id, "passphrase": passphrase}


def _make_team(actor: Person, asked: Asked, moment: datetime) -> Asked:
    with database().writing() as session:
        return {"team": teams.make_team(session, actor.organisation, asked["name"], moment)}


def _make_link(actor: Person, asked: Asked, moment: datetime) -> Asked:
    with database().writing() as session:
        return {"link": make_link(session, actor, asked["person"], moment)}


def _switched(switch: Callable[..., bool]) -> Callable[..., Asked]:
    """Withdrawing a device or allowing it again; 404 for one that is not there."""

    def run(actor: Person, asked: Asked, moment: datetime) -> Asked:
        if not switch(database(), actor.organisation, asked["device"], moment):
            raise NotThere("There is no such device here.", "device")
        return {}

    return run


ACTS = {
    "people/make": Act(
        "Make an account", requests.NewAccount, _make_account, "The account is made."
    ),
    "people/close": Act(
        "Close an account",
        requests.AboutPerson,
        _decided(office.close_account),
        "The account is closed and signed out everywhere. Its devices keep what they have not sent.",
    ),
    "people/reopen": Act(
        "Open a closed account again",
        requests.AboutPerson,
        _decided(office.reopen_account),
        "The account is open again.",
    ),
    "people/sign-out": Act(
        "Sign somebody out everywhere",
        requests.AboutPerson,
        _decided(office.sign_out_person),
        "Signed out everywhere. What was recorded stays on the devices until the next sign-in.",
    ),
    "people/reset-link": Act(
        "Make a link by which somebody chooses a new password",
        requests.AboutPerson,
        _make_link,
        "The link is made. It works once, within a day.",
    ),
    "teams/make": Act("Make a team", requests.NewTeam, _make_team, "The team is made."),
    "teams/put": Act(
        "Put somebody in a team",
        requests.TeamPart,
        _in_team(teams.join_team),
        "Put in the team.",
    ),
    "teams/take": Act(
        "Take somebody out of a team",
        requests.TeamPart,
        _in_team(teams.leave_team),
        "Taken out of the team.",
    ),
    "caseloads/put": Act(
        "Put a client on somebody's caseload",
        requests.CaseloadPart,
        _decided(office.put_on_caseload),
        "Put on the caseload. The record follows with the next sync.",
    ),
    "caseloads/take": Act(
        "Take a client off somebody's caseload",
        requests.CaseloadPart,
        _decided(office.take_from_caseload),
        "Taken off the caseload. What was recorded before is still taken.",
    ),
    "devices/withdraw": Act(
        "Withdraw a device",
        requests.AboutDevice,
        _switched(set_revoked),
        "Withdrawn. At its next contact the device removes what it received and hands in what it has.",
    ),
    "devices/allow": Act(
        "Allow a withdrawn device again",
        requests.AboutDevice,
        _switched(allow_again),
        "In service again. It fetches its caseload at its next sync.",
    ),
    "reassessment/use": Act(
        "Put a rule of reassessment in force",
        requests.AboutRule,
        rules.use_rule,
        "In force. Phones follow at their next sync.",
    ),
    "reassessment/leave": Act(
        "Take a rule of reassessment out of force",
        requests.AboutRule,
        rules.leave_rule,
        "Not in force any more. Phones follow at their next sync.",
    ),
    "reassessment/make": Act(
        "Make a rule of the service's own",
        requests.NewRule,
        rules.make_rule,
        "The rule is made and in force. Phones follow at their next sync.",
    ),
    "reassessment/remove": Act(
        "Remove a rule of the service's own",
        requests.AboutRule,
        rules.remove_rule,
        "The rule is removed. Phones follow at their next sync.",
    ),
    "calendar/set": Act(
        "Say on which days the service does not work",
        requests.ServiceCalendar,
        rules.set_calendar,
        "The days are kept. Phones follow at their next sync.",
    ),
}  # fmt: skip
