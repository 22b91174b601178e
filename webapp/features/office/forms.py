"""The forms of the office pages. What is entered is checked by the same schemas as the JSON addresses."""

from flask_wtf import FlaskForm
from wtforms import SelectField, SelectMultipleField, StringField, TextAreaField
from wtforms.fields.choices import SelectChoice
from wtforms.widgets import CheckboxInput

from webapp.features.office.rules import rule_types

OFF = {"autocomplete": "off"}
PLAIN = {**OFF, "autocapitalize": "none", "spellcheck": "false"}
ROLES = [
    SelectChoice("therapist", "Therapist: sees their own caseload"),
    SelectChoice("lead", "Lead: also sees the clients of their teams"),
    SelectChoice("administrator", "Administrator: sees no clients"),
]
PARTS = [SelectChoice("member", "Member"), SelectChoice("lead", "Lead of the team")]

RULE_TYPES = [SelectChoice(name, words) for name, words in rule_types().items()]
WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]


class AccountForm(FlaskForm):
    """A new account."""

    name = StringField("Name", render_kw=OFF)
    sign_in_name = StringField("Sign-in name", render_kw=PLAIN)
    role = SelectField("Role", choices=ROLES)


class TeamForm(FlaskForm):
    """A new team."""

    name = StringField("Name of the team", render_kw=OFF)


class TeamPartForm(FlaskForm):
    """Somebody in a team."""

    team = SelectField("Team", choices=[], validate_choice=False)
    person = SelectField("Person", choices=[], validate_choice=False)
    part = SelectField("As", choices=PARTS)


class CaseloadForm(FlaskForm):
    """A client on a caseload."""

    person = SelectField("Person", choices=[], validate_choice=False)
    client = StringField("Number of the client", render_kw=PLAIN)


class RuleForm(FlaskForm):
    """A rule of reassessment of the service's own."""

    title = StringField("The rule in a few words", render_kw=OFF)
    type = SelectField("When", choices=RULE_TYPES)
    number = StringField("How many", render_kw=OFF | {"inputmode": "numeric"})


class CalendarForm(FlaskForm):
    """When a service does not work."""

    zone = StringField("Time zone", render_kw=PLAIN)
    weekend = SelectMultipleField(
        "Days without work",
        choices=[SelectChoice(str(number), day) for number, day in enumerate(WEEKDAYS, 1)],
        option_widget=CheckboxInput(),
    )
    holidays = TextAreaField("Holidays", render_kw=PLAIN | {"rows": "4"})
