"""/office/people, /office/teams, /office/devices: plain pages with forms, for work at a desk and online."""

from typing import Any

from flask import Blueprint, Response, flash, make_response, redirect, render_template, request
from flask_wtf import FlaskForm
from wtforms.fields.choices import SelectChoice

from webapp.config import now
from webapp.errors import Problem
from webapp.features.current import allowed, database
from webapp.features.office import forms
from webapp.features.office.acts import ACTS, perform
from webapp.storage import Person, office
from webapp.storage.admitting import set_aside
from webapp.storage.devices import known_devices
from webapp.storage.teams import teams_of

pages = Blueprint("office_pages", __name__, url_prefix="/office")
FORMS = {
    "people/make": forms.AccountForm,
    "teams/make": forms.TeamForm,
    "teams/put": forms.TeamPartForm,
    "caseloads/put": forms.CaseloadForm,
}
OF_PAGE = {"people": ("people/",), "teams": ("teams/", "caseloads/"), "devices": ("devices/",)}
NOT_FIELDS = ("csrf_token", "act")


@pages.get("/")
def start() -> Response:
    """The office begins with its people."""
    allowed("manage")
    return redirect("/office/people")


@pages.get("/<any(people, teams, devices):page>")
def show(page: str) -> Response:
    """One page of the office."""
    return _page(page, allowed("manage"))


@pages.post("/<any(people, teams, devices):page>")
def act(page: str) -> Response:
    """Do what one of the page's forms asks, and say so."""
    actor, name = allowed("manage"), request.form.get("act", "")
    if name not in ACTS or not name.startswith(OF_PAGE[page]):
        raise Problem("bad_request")
    message = {key: value.strip() for key, value in request.form.items() if key not in NOT_FIELDS}
    try:
        answer = perform(name, message)
    except Problem as problem:
        if problem.status in (404, 422) and name in FORMS and problem.field in message:
            return _page(page, actor, {name: _refused(name, problem)}, status=problem.status)
        raise
    if "passphrase" in answer or "link" in answer:
        return _page(page, actor, made=answer | message)
    flash(ACTS[name].done)
    if answer.get("left"):
        flash(f"{answer['left']} could not be taken for another reason and stay aside as they came.")
    return redirect(f"/office/{page}", 303)


def _refused(name: str, problem: Problem) -> FlaskForm:
    form = FORMS[name]()
    form[problem.field].errors = [problem.message]
    return form


def _page(page: str, actor: Person, filled: dict[str, FlaskForm] | None = None, status: int = 200,
          made: dict[str, Any] | None = None) -> Response:  # fmt: skip
    shown = {name: make(formdata=None) for name, make in FORMS.items()} | (filled or {})
    _own_ids(shown)
    with database().reading() as session:
        people = office.accounts(session, actor.organisation)
        facts: dict[str, Any] = {"people": people}
        if page == "teams":
            facts["teams"] = teams_of(session, actor.organisation, now())
            at_work = [each.person for each in people if each.person.role != "administrator"]
            facts["caseloads"] = [
                (person, office.caseload_of(session, actor, person.id, now())) for person in at_work
            ]
            _offer(shown, facts["teams"], at_work)
        if page == "devices":
            facts["devices"] = known_devices(session, actor.organisation)
            aside = set_aside(session, actor.organisation)
            facts["aside"] = {(each.device, each.person.id): each.count for each in aside}
    text = render_template(f"office_{page}.html", page=page, forms=shown, made=made, actor=actor, **facts)
    return make_response(text, status)


def _own_ids(shown: dict[str, FlaskForm]) -> None:
    """Several forms of a page ask for a person or a name: each field needs an id of its own."""
    for act, form in shown.items():
        for field in form:
            field.id = field.label.field_id = f"{act.replace('/', '-')}-{field.short_name}"


def _offer(shown: dict[str, FlaskForm], teams: list[Any], people: list[Person]) -> None:
    shown["teams/put"].team.choices = [SelectChoice(team.id, team.name) for team in teams]
    for name in ("teams/put", "caseloads/put"):
        shown[name].person.choices = [
            SelectChoice(person.id, f"{person.name}, {person.role}") for person in people
        ]
