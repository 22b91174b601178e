"""The sign-in form."""

from flask_wtf import FlaskForm
from wtforms import PasswordField, StringField
from wtforms.validators import InputRequired, Length


class SignInForm(FlaskForm):
    """Name and password. Nothing else travels with it: there is no address to go on to."""

    name = StringField(
        "Sign-in name",
        [InputRequired("Enter your sign-in name."), Length(max=200)],
        render_kw={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"},
    )
    password = PasswordField(
        "Password",
        [InputRequired("Enter your password."), Length(max=256)],
        render_kw={"autocomplete": "current-password"},
    )
