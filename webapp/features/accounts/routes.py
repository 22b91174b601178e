"""GET and POST /sign-in, POST /sign-out, GET /api/v1/session; who is asking, at every request."""

from typing import Any

from flask import Blueprint, Response, g, make_response, redirect, render_template, request, session
from flask_wtf.csrf import generate_csrf

from sync.instants import write_instant
from webapp.circumstances import set_circumstances
from webapp.config import now
from webapp.features.accounts import cookies
from webapp.features.accounts.forms import SignInForm
from webapp.features.api_docs.describe import described
from webapp.features.current import database, signed_in
from webapp.security import PERSONAL, renew_form_cookie
from webapp.storage.devices import lacking_devices
from webapp.storage.signing_in import organisation_of, sign_in, sign_out, token_hash, who_is
from webapp.storage.switches import settings_of

bp = Blueprint("accounts", __name__)


@bp.before_app_request
def find_person() -> None:
    """Find out who is asking, where it matters; pages without personal data are the same for all."""
    token = cookies.token() if request.path.startswith(PERSONAL) else None
    g.person = who_is(database(), token, now()) if token else None
    g.session_key = token_hash(token) if token else None
    set_circumstances(g.person.id if g.person else None, g.request_id)


@bp.get("/sign-in")
def sign_in_page() -> Response:
    """The sign-in page."""
    return _page(SignInForm(formdata=None), 200)


@bp.post("/sign-in")
def sign_in_form() -> Response:
    """Sign in: a new token each time, then the app; the same answer for every failure."""
    form = SignInForm()
    if not form.validate():
        return _page(form, 422)
    token = sign_in(database(), form.name.data, form.password.data, request.remote_addr or "", now())
    if token is None:
        form.password.errors = ["Name and password do not fit together. Check both."]
        return _page(form, 401)
    return let_in(token)


def let_in(token: str) -> Response:
    """The answer to a sign-in that succeeded: the token, and the way to where work begins."""
    renew_form_cookie()
    response = redirect(_first_place(token))
    cookies.give(response, token)
    return response


def refuse_entry(sentence: str) -> Response:
    """The sign-in page with what went wrong, when that is no field of its form."""
    return _page(SignInForm(formdata=None), 401, sentence)


@bp.post("/sign-out")
def sign_out_form() -> Response:
    """End this session. What is on the device stays there, for its owner."""
    token = cookies.token()
    if token:
        sign_out(database(), token, now())
    session.clear()
    response = redirect("/sign-in")
    cookies.take_back(response)
    return response


@bp.get("/api/v1/session")
@described("Who is signed in", answers={200: "Session", 401: "Error"})
def session_facts() -> dict[str, Any]:
    """Who is signed in, their organisation, and the token that state-changing requests must bring."""
    person = signed_in()
    with database().reading() as reading:
        organisation = organisation_of(reading, person)
        settings = settings_of(reading, person.organisation)
        lacking = lacking_devices(reading, person)
    return {
        "user": {"id": person.id, "name": person.name, "role": person.role},
        "organisation": {"id": organisation.id, "name": organisation.name, "settings": settings},
        "csrf": generate_csrf(),
        "server_time": write_instant(now()),
        "lacking": [
            {
                "device": each.id,
                "name": each.name,
                "last_sync_at": write_instant(each.last_sync_at),
                "entries": each.lacking,
            }
            for each in lacking
        ],
    }


def _first_place(token: str) -> str:
    """Where work begins: for an administrator in the office, for everybody else in the app."""
    person = who_is(database(), token, now())
    return "/office/people" if person and person.role == "administrator" else "/app/"


def _page(form: SignInForm, status: int, problem: str | None = None) -> Response:
    return make_response(render_template("sign_in.html", form=form, problem=problem), status)
