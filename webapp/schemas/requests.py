"""What small requests bring: an emergency, and what an administrator decides."""

from marshmallow import fields, validate

from webapp.schemas.fields import Day, Strict, text
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
