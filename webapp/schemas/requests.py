"""What small requests bring: an emergency, and what an administrator decides."""

from typing import Any
from zoneinfo import available_timezones

from marshmallow import ValidationError, fields, validate

from webapp.schemas.fields import Day, Flag, Id, Strict, choice, text, time_of_day
from webapp.schemas.said import MESSAGES, Said, said

SHORTEST_REASON = 10
REASON = Said("required", "Say in a few words why you need this record now. Your lead reads it.")
WHOLE = Said("not_whole", "Write a whole number, such as 30.")
DATE = {**MESSAGES, "required": Said("required", "Enter the date of birth.")}
NAME = {**MESSAGES, "required": Said("required", "Enter the client's name.")}


def _known_zone(name: str) -> None:
    # Asked for by name only: a time zone is also a path of a file.
    if name not in available_timezones():
        raise ValidationError(Said("unknown_choice", "This time zone is not known here. Choose another."))


def _weekdays() -> fields.String:
    order = Said("impossible", "Write weekdays as digits in order: 1 is Monday, 7 is Sunday.")
    return fields.String(
        required=True, validate=validate.Regexp(r"1?2?3?4?5?6?7?\Z", error=order), error_messages=MESSAGES
    )


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


def _both_days(data: dict[str, Any]) -> None:
    begins, ends = data["quiet_from"], data["quiet_until"]
    if (begins is None) != (ends is None):
        missing = "quiet_from" if begins is None else "quiet_until"
        raise said("required", "Enter both days, or neither.", missing)
    if begins is not None and ends < begins:
        raise said(
            "impossible", "The last quiet day lies before the first. Correct one of them.", "quiet_until"
        )


class ReminderHabitsRequest(Strict):
    """When somebody wants to be reminded: local time, IANA time zone, ISO weekdays in order, quiet days."""

    at = time_of_day(required=True)
    zone = fields.String(required=True, validate=_known_zone, error_messages=MESSAGES)
    days = _weekdays()
    quiet_from = Day(load_default=None, allow_none=True)
    quiet_until = Day(load_default=None, allow_none=True)
    whole = (_both_days,)


class SubscribeRequest(Strict):
    """A browser that wants reminders: where it takes them and the keys to write to it by (RFC 8291)."""

    endpoint = text(2048, shortest=1, required=True)
    p256dh = text(100, shortest=1, required=True)
    auth = text(40, shortest=1, required=True)
    device = Id(required=True)


class UnsubscribeRequest(Strict):
    """A browser that wants none any more."""

    endpoint = text(2048, shortest=1, required=True)


class AboutRule(Strict):
    """A rule of reassessment, by its id."""

    rule = text(64, shortest=1, required=True)


class NewRule(Strict):
    """A rule of the service's own: every so many days, after so many visits, before a period ends."""

    title = text(200, shortest=1, required=True)
    type = choice(("every_days", "after_visits", "before_end"), required=True)
    number = fields.Integer(required=True, error_messages=MESSAGES | {"invalid": WHOLE})


class ServiceCalendar(Strict):
    """The days on which a service does not work: weekdays as ISO digits, holidays as a list of days."""

    zone = fields.String(required=True, validate=_known_zone, error_messages=MESSAGES)
    weekend = _weekdays()
    holidays = text(20_000, required=True)


class AgainRequest(Strict):
    """A reminder that is to come once more, by its number."""

    reminder = Id(required=True)


class CalendarRequest(Strict):
    """A private calendar address, with or without the names of clients."""

    names = Flag(required=True)


REQUESTS: tuple[type[Strict], ...] = (
    EmergencyRequest,
    Nothing,
    AboutPerson,
    NewAccount,
    NewTeam,
    TeamPart,
    CaseloadPart,
    AboutDevice,
    ReminderHabitsRequest,
    SubscribeRequest,
    UnsubscribeRequest,
    AgainRequest,
    CalendarRequest,
    AboutRule,
    NewRule,
    ServiceCalendar,
)
