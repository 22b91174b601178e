"""What small requests bring: an emergency, and what an administrator decides."""

from marshmallow import fields, validate

from webapp.schemas.fields import Day, Id, Strict, choice, text
from webapp.schemas.said import MESSAGES, Said

SHORTEST_REASON = 10
REASON = Said("required", "Say in a few words why you need this record now. Your lead reads it.")
DATE = {**MESSAGES, "required": Said("required", "Enter the date of birth.")}
NAME = {**MESSAGES, "required": Said("required", "Enter the client's name.")}


class EmergencyRequest(Strict):
    """A name as recorded, a date of birth, and why."""

    name = text(200, shortest=1, required=True, error_messages=NAME)
    birth_date = Day(required=True, error_messages=DATE)
    reason = fields.String(
        required=True,
        error_messages={**MESSAGES, "required": REASON},
        validate=[
            validate.Regexp(rf"\s*\S(.|\n){{{SHORTEST_REASON - 2},}}\S", error=REASON),
            validate.Length(
                max=500, error=Said("too_long", "This is longer than {max} characters. Shorten it.")
            ),
        ],
    )


class Nothing(Strict):
    """A request that says everything by its address."""


class AboutPerson(Strict):
    """Somebody of one's own organisation."""

    person = Id(required=True)


class NewAccount(Strict):
    """Who is to have an account, and as what."""

    name = text(200, shortest=1, required=True)
    sign_in_name = text(200, shortest=1, required=True)
    role = choice(("therapist", "lead", "administrator"), required=True)


class NewTeam(Strict):
    """What a team is called."""

    name = text(200, shortest=1, required=True)


class TeamPart(Strict):
    """Somebody's part in a team."""

    team = Id(required=True)
    person = Id(required=True)
    part = choice(("member", "lead"), required=True)


class CaseloadPart(Strict):
    """A client on somebody's caseload."""

    person = Id(required=True)
    client = Id(required=True)


class AboutDevice(Strict):
    """A device."""

    device = Id(required=True)


REQUESTS: tuple[type[Strict], ...] = (
    EmergencyRequest,
    Nothing,
    AboutPerson,
    NewAccount,
    NewTeam,
    TeamPart,
    CaseloadPart,
    AboutDevice,
)
