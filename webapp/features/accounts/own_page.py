"""/account: what a person sees and does about their own password, passkeys, sessions and devices."""

from collections.abc import Callable

from flask import Response, flash, g, make_response, redirect, render_template, request
from flask_wtf import FlaskForm
from sqlalchemy.orm import Session

from sync.shapes import is_uuid
from webapp.config import now
from webapp.errors import Problem
from webapp.features.accounts import ceremonies, cookies, forms
from webapp.features.accounts.routes import bp
from webapp.features.current import allowed, database
from webapp.storage import Person, own_account, passkeys
from webapp.storage.people import sign_in_name_of
from webapp.storage.refused import NotThere, Refused
from webapp.storage.signing_in import sign_out_everywhere

FORMS = {
    "password": forms.PasswordForm,
    "passkey/add": forms.PasskeyForm,
    "passkey/remove": forms.RemovePasskeyForm,
    "device/name": forms.DeviceNameForm,
}
NOT_MADE = "The passkey could not be added. Try again; if it happens again, use another one."


@bp.get("/account")
def account() -> Response:
    """The page."""
    return _page(allowed("own_account"))


@bp.post("/account")
def act_on_account() -> Response:
    """Do what one of the page's forms asks, and say so."""
    person, name = allowed("own_account"), request.form.get("act", "")
    if name not in ACTS:
        raise Problem("bad_request")
    form = FORMS[name]() if name in FORMS else None
    if form is not None and not form.validate():
        return _page(person, (name, form), 422)
    try:
        return ACTS[name](person, form)
    except NotThere:
        raise
    except Refused as refused:
        if form is None or refused.field not in form:
            raise
        form[refused.field].errors = [refused.sentence]
        return _page(person, (name, form), 422)


@bp.post("/account/passkey/options")
def new_passkey_options() -> Response:
    """What the browser is to ask an authenticator for; 429 while this person has too many unanswered."""
    person = allowed("own_account")
    with database().reading() as session:
        known = passkeys.passkeys_of(session, person)
        name = sign_in_name_of(session, person)
    told = ceremonies.registration_options(person, name, known, now())
    return Response(told, mimetype="application/json")


def _change_password(person: Person, form: FlaskForm) -> Response:
    token = own_account.change_password(
        database(), person, g.session_key, form.password.data, form.chosen.data, now()
    )
    response = _done("The new password is kept. Every other session has ended.")
    cookies.give(response, token)
    return response


def _add_passkey(person: Person, form: FlaskForm) -> Response:
    own_account.check_password(database(), person, form.password.data, now())
    try:
        made = ceremonies.registered(person, form.answer.data or "", now())
    except ceremonies.AnswerRefused as refused:
        raise Refused(NOT_MADE, "name") from refused
    passkeys.add_passkey(database(), person, made, form.name.data, now())
    return _done("The passkey is added. It signs you in without the password.")


def _remove_passkey(person: Person, form: FlaskForm) -> Response:
    own_account.check_password(database(), person, form.password.data, now())
    with database().writing() as session:
        passkeys.remove_passkey(session, person, form.passkey.data or "", now())
    return _done("The passkey is removed here. Remove it from the phone or the key as well.")


def _end_session(session: Session, person: Person) -> str:
    own_account.end_session(session, person, request.form.get("session", ""), now())
    return "The session has ended. What was recorded there stays on that device."


def _end_all(person: Person, _form: None) -> Response:
    with database().writing() as session:
        sign_out_everywhere(session, person, now())
    flash("You are signed out everywhere. What was recorded stays on the devices until the next sign-in.")
    response = redirect("/sign-in", 303)
    cookies.take_back(response)
    return response


def _name_device(person: Person, form: FlaskForm) -> Response:
    with database().writing() as session:
        own_account.name_device(session, person, _device(), form.name.data, now())
    return _done("The name is kept." if form.name.data else "The device has its own name again.")


def _withdraw(session: Session, person: Person) -> str:
    own_account.withdraw_own(session, person, g.session_key, _device(), now())
    return (
        "Withdrawn. At its next contact the device removes what it received and hands in what it has. "
        "An administrator can put it in service again."
    )


def _device() -> str:
    own = request.form.get("device", "")
    if not is_uuid(own):
        raise NotThere(own_account.NO_DEVICE, "device")
    return own


def _decided(do: Callable[[Session, Person], str]) -> Callable[[Person, FlaskForm | None], Response]:
    def run(person: Person, _form: FlaskForm | None) -> Response:
        with database().writing() as session:
            said = do(session, person)
        return _done(said)

    return run


ACTS: dict[str, Callable[..., Response]] = {
    "password": _change_password,
    "passkey/add": _add_passkey,
    "passkey/remove": _remove_passkey,
    "session/end": _decided(_end_session),
    "session/end-all": _end_all,
    "device/name": _name_device,
    "device/withdraw": _decided(_withdraw),
}


def _done(said: str) -> Response:
    flash(said)
    return redirect("/account", 303)


def _page(person: Person, filled: tuple[str, FlaskForm] | None = None, status: int = 200) -> Response:
    shown = {name: make(formdata=None) for name, make in FORMS.items()} | dict([filled] if filled else [])
    for name, form in shown.items():
        for field in form:
            field.id = field.label.field_id = f"{name.replace('/', '-')}-{field.short_name}"
    moment = now()
    with database().reading() as session:
        facts = {
            "passkeys": passkeys.passkeys_of(session, person),
            "devices": own_account.devices_of(session, person, g.session_key, moment),
            "sessions": own_account.sessions_of(session, person, g.session_key, moment),
            "sign_in_name": sign_in_name_of(session, person),
        }
        names = {each.known.id: each.known.name for each in facts["devices"]}
        text = render_template("account.html", forms=shown, person=person, names=names, **facts)
    return make_response(text, status)
