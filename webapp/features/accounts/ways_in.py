"""Signing in by passkey, and choosing a new password by a link: everything below /sign-in/."""

from flask import Response, flash, make_response, redirect, render_template, request

from webapp.config import now
from webapp.features.accounts import ceremonies, cookies
from webapp.features.accounts.forms import NewPasswordForm
from webapp.features.accounts.routes import bp, let_in, refuse_entry
from webapp.features.current import database
from webapp.storage.attempts import address_key, take_try
from webapp.storage.passkeys import sign_in_by_passkey
from webapp.storage.password_links import use_link
from webapp.storage.refused import Refused

NOT_TAKEN = "This passkey could not be used. Try again, or sign in with name and password."
CHOSEN = "The new password is kept. Sign in with it."


@bp.post("/sign-in/passkey/options")
def passkey_options() -> Response:
    """What the browser is to ask an authenticator for; 429 while one address has too many unanswered."""
    told = ceremonies.sign_in_options(request.remote_addr or "", now())
    return Response(told, mimetype="application/json")


@bp.post("/sign-in/passkey")
def sign_in_with_passkey() -> Response:
    """Sign in with what an authenticator answered; wrong passwords do not lock this, wrong answers do."""
    moment, address = now(), request.remote_addr or ""
    with database().writing() as session:
        take_try(session, "passkey", address_key("passkey", address), moment)
    try:
        done = ceremonies.answered(request.form.get("answer", ""), moment)
    except ceremonies.AnswerRefused:
        return refuse_entry(NOT_TAKEN)
    token = sign_in_by_passkey(database(), done.credential_id, done.sign_count, address, moment)
    return refuse_entry(NOT_TAKEN) if token is None else let_in(token)


@bp.get("/sign-in/new-password")
def new_password_page() -> Response:
    """The page a link leads to. The token stands behind the # of its address and does not come here."""
    return _page(NewPasswordForm(formdata=None), 200)


@bp.post("/sign-in/new-password")
def new_password() -> Response:
    """Take a new password by a link; then the sign-in page."""
    form = NewPasswordForm()
    if not form.validate():
        return _page(form, 422)
    try:
        use_link(database(), form.token.data.strip(), form.chosen.data, request.remote_addr or "", now())
    except Refused as refused:
        form[refused.field or "token"].errors = [refused.sentence]
        return _page(form, 422)
    flash(CHOSEN)
    response = redirect("/sign-in", 303)
    cookies.take_back(response)
    return response


def _page(form: NewPasswordForm, status: int) -> Response:
    return make_response(render_template("new_password.html", form=form), status)
