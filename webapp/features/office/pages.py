"""/office/people, teams, devices, reassessment: plain pages with forms, for work at a desk and online."""

from typing import Any
from zoneinfo import ZoneInfo

from flask import Blueprint, Response, flash, make_response, redirect, render_template, request
from flask_wtf import FlaskForm
from wtforms.fields.choices import SelectChoice

from webapp.config import now
from webapp.errors import Problem
from webapp.features.current import allowed, database
from webapp.features.office import forms, rules
from webapp.features.office.acts import ACTS, perform
from webapp.features.refusals import problem_of
from webapp.features.taking import checked
from webapp.schemas.requests import NewRule
from webapp.storage import Person, office
from webapp.storage.admitting import set_aside
from webapp.storage.devices import known_devices
from webapp.storage.refused import Refused
from webapp.storage.teams import teams_of

pages = Blueprint("office_pages", __name__, url_prefix="/office")
FORMS = {
    "people/make": forms.AccountForm,
    "teams/make": forms.TeamForm,
    "teams/put": forms.TeamPartForm,
    "caseloads/put": forms.CaseloadForm,
    "reassessment/make": forms.RuleForm,
    "calendar/set": forms.CalendarForm,
}
OF_PAGE = {
    "people": ("people/",),
    "teams": ("teams/", "caseloads/"),
    "devices": ("devices/",),
    "reassessment": ("reassessment/", "calendar/"),
}
# Not an act: shows what a rule would give.
TRY = "reassessment/try"
NOT_FIELDS = ("csrf_token", "act")


@pages.get("/")
def start() -> Response:
    """The office begins with its people."""
    allowed("manage")
    return redirect("/office/people")


@pages.get("/<any(people, teams, devices, reassessment):page>")
def show(page: str) -> Response:
    """One page of the office."""
    return _page(page, allowed("manage"))


@pages.post("/<any(people, teams, devices, reassessment):page>")
def act(page: str) -> Response:
    """Do what one of the page's forms asks, and say so."""
    actor, name = allowed("manage"), request.form.get("act", "")
    if name == TRY and page == "reassessment":
        return _tried(actor)
    if name not in ACTS or not name.startswith(OF_PAGE[page]):
        raise Problem("bad_request")
    message = _message()
    try:
        answer = perform(name, message)
    except Problem as problem:
        if problem.status in (404, 422) and name in FORMS and problem.field in message:
            return _page(page, actor, {name: _refused(name, problem)}, status=problem.status)
        raise
    if "passphrase" in answer or "link" in answer:
        return _page(page, actor, made=answer | message)
    flash(ACTS[name].done)
    return redirect(f"/office/{page}", 303)


def _message() -> dict[str, str]:
    # Boxes that are ticked come one by one under the same name.
    keys = [key for key in request.form if key not in NOT_FIELDS]
    return {key: "".join(request.form.getlist(key)).strip() for key in keys}


def _tried(actor: Person) -> Response:
    message = _message()
    try:
        rule = rules.rule_of(checked(NewRule, message), {})
    except (Problem, Refused) as wrong:
        problem = wrong if isinstance(wrong, Problem) else problem_of(wrong)
        if problem.field not in message:
            raise problem from wrong
        filled = {"reassessment/make": _refused("reassessment/make", problem)}
        return _page("reassessment", actor, filled, status=problem.status)
    return _page("reassessment", actor, {"reassessment/make": forms.RuleForm()}, made={"tried": rule})


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
    if page == "reassessment":
        facts |= _rules(actor, shown, made or {})
    text = render_template(f"office_{page}.html", page=page, forms=shown, made=made, actor=actor, **facts)
    return make_response(text, status)


def _rules(actor: Person, shown: dict[str, FlaskForm], made: dict[str, Any]) -> dict[str, Any]:
    settings = rules.settings_now(actor.organisation)
    calendar, today = settings["calendar"], now().astimezone(ZoneInfo(settings["calendar"]["zone"])).date()
    form = shown["calendar/set"]
    if not form.errors:
        form.zone.data, form.holidays.data = calendar["zone"], "\n".join(calendar["holidays"])
        form.weekend.data = [str(day) for day in calendar["weekend"]]
    tried = made.get("tried")
    return {
        "rules": rules.rules_shown(settings["reassessment"], calendar, today),
        "tried": tried and rules.preview(tried, calendar, today),
    }


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
