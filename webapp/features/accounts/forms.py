"""The forms of signing in and of one's own account."""

from flask_wtf import FlaskForm
from wtforms import HiddenField, PasswordField, StringField
from wtforms.validators import DataRequired, InputRequired, Length


def printable(text: str | None) -> str:
    """A line as it is kept: what cannot be printed is left out, as of a name that a device gives itself."""
    return " ".join("".join(each for each in text or "" if each.isprintable()).split())


def _at_most(longest: int) -> Length:
    return Length(max=longest, message=f"Use at most {longest} characters.")


class SignInForm(FlaskForm):
    """Name and password. Nothing else travels with it: there is no address to go on to."""

    name = StringField(
        "Sign-in name",
        [InputRequired("Enter your sign-in name."), _at_most(200)],
        render_kw={"autocomplete": "username webauthn", "autocapitalize": "none", "spellcheck": "false"},
    )
    password = PasswordField(
        "Password",
        [InputRequired("Enter your password."), _at_most(256)],
        render_kw={"autocomplete": "current-password"},
    )


def _chosen(label: str) -> PasswordField:
    return PasswordField(
        label,
        [InputRequired("Enter the new password."), _at_most(256)],
        render_kw={"autocomplete": "new-password", "aria-describedby": "what-fits"},
    )


def _present() -> PasswordField:
    return PasswordField(
        "Present password",
        [InputRequired("Enter your present password."), _at_most(256)],
        render_kw={"autocomplete": "current-password"},
    )


class NewPasswordForm(FlaskForm):
    """A new password by a link; the script puts the code of the link's address into the field."""

    token = StringField(
        "Code of the link",
        [InputRequired("Open the link you were given, or enter what stands behind its #."), _at_most(200)],
        render_kw={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"},
    )
    chosen = _chosen("New password")


class PasswordForm(FlaskForm):
    """Another password for the one in use."""

    password = _present()
    chosen = _chosen("New password")


class PasskeyForm(FlaskForm):
    """A new passkey: what it is called, the password, and what the authenticator answered."""

    name = StringField(
        "What you call it",
        [DataRequired("Give it a name that tells it from others."), _at_most(80)],
        filters=[printable],
        render_kw={"autocomplete": "off"},
    )
    password = _present()
    answer = HiddenField()


class RemovePasskeyForm(FlaskForm):
    """A passkey that is to go."""

    passkey = HiddenField()
    password = _present()


class DeviceNameForm(FlaskForm):
    """What a person calls a device."""

    device = HiddenField()
    name = StringField(
        "What you call it", [_at_most(80)], filters=[printable], render_kw={"autocomplete": "off"}
    )
