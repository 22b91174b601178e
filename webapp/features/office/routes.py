"""/api/v1/office/...: lists of people, teams, caseloads and devices, and one address for each act."""

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import UUID

from flask import Blueprint

from sync.instants import write_instant
from webapp.config import now
from webapp.features.api_docs.describe import described
from webapp.features.current import allowed, database
from webapp.features.office.acts import ACTS, perform
from webapp.features.sync.body import read_message
from webapp.storage import Person, office
from webapp.storage.devices import known_devices
from webapp.storage.teams import teams_of

bp = Blueprint("office", __name__, url_prefix="/api/v1/office")
READ = {401: "Error", 403: "Error"}
ACT = {400: "Error", 401: "Error", 403: "Error", 404: "Error", 422: "Error"}


@bp.get("/people")
@described("Every account", answers={200: "OfficePeople", **READ})
def people() -> dict[str, Any]:
    """The accounts of the administrator's organisation."""
    actor = allowed("manage")
    with database().reading() as session:
        found = office.accounts(session, actor.organisation)
    return {"people": [_account(each) for each in found]}


@bp.get("/people/<uuid:person>/caseload")
@described("Somebody's caseload, by numbers", answers={200: "OfficeCaseload", 404: "Error", **READ})
def caseload(person: UUID) -> dict[str, Any]:
    """The clients on somebody's caseload: no name, nothing recorded."""
    actor = allowed("manage")
    with database().reading() as session:
        found = office.caseload_of(session, actor, str(person), now())
    return {
        "caseload": [
            {"client": each.client, "since": write_instant(each.since), "until": _moment(each.until),
             "emergency": each.emergency}
            for each in found
        ]
    }  # fmt: skip


@bp.get("/teams")
@described("Every team, with who is in it now", answers={200: "OfficeTeams", **READ})
def teams() -> dict[str, Any]:
    """The teams of the administrator's organisation."""
    actor = allowed("manage")
    with database().reading() as session:
        found = teams_of(session, actor.organisation, now())
    return {
        "teams": [
            {"id": team.id, "name": team.name, "members": [_person(each) for each in team.members],
             "leads": [_person(each) for each in team.leads]}
            for team in found
        ]
    }  # fmt: skip


@bp.get("/devices")
@described("Every device, and what it last said of itself", answers={200: "OfficeDevices", **READ})
def devices() -> dict[str, Any]:
    """The devices of the administrator's organisation."""
    actor = allowed("manage")
    with database().reading() as session:
        found = known_devices(session, actor.organisation)
    return {
        "devices": [
            {"id": each.id, "name": each.name, "person": _person(each.person),
             "last_sync_at": write_instant(each.last_sync_at), "unsent": each.unsent,
             "missing": each.lacking, "withdrawn_at": _moment(each.revoked_at),
             "copied_at": _moment(each.copied_at)}
            for each in found
        ]
    }  # fmt: skip


def _act(name: str) -> Callable[[], dict[str, Any]]:
    act = ACTS[name]

    @described(act.summary, takes=act.takes.__name__, answers={200: "Done", **ACT})
    def view() -> dict[str, Any]:
        allowed("manage")
        return perform(name, read_message()) | {"done": act.done}

    return view


for _name in ACTS:
    bp.add_url_rule(f"/{_name}", _name.replace("/", "_"), _act(_name), methods=["POST"])


def _account(account: office.Account) -> dict[str, Any]:
    return _person(account.person) | {"sign_in_name": account.sign_in_name, "active": account.active}


def _person(person: Person) -> dict[str, str]:
    return {"id": person.id, "name": person.name, "role": person.role}


def _moment(at: datetime | None) -> str | None:
    return None if at is None else write_instant(at)
