"""The bodies of every kind that is not a reading: client details, precautions, targets, visits, notes."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from marshmallow import fields

from webapp.clinical import data as clinical_data
from webapp.schemas.fields import Day, Decimal, Flag, Id, Strict, choice, many, text, time_of_day, whole
from webapp.schemas.said import MESSAGES, said

MEASURES = clinical_data()["measures"]
SEXES = ["female", "male", "other", "unknown"]
CONCLUSIONS = list(clinical_data()["conclusions"]["conclusions"])


class DetailFields(Strict):
    """Some of a client's details; an empty text says that there is nothing (any more)."""

    name = text(200, shortest=1)
    preferred_name = text(200)
    birth_date = Day()
    sex = choice(SEXES)
    address = text(1000)
    access = text(2000)
    phone = text(100)
    language = text(100)
    reason_for_referral = text(5000)


class SeenFields(Strict):
    """For each field that is set, the entries its author had seen set it."""


for _name in DetailFields._declared_fields:
    SeenFields._declared_fields[_name] = many(Id(), most=50)


class Details(Strict):
    """Details of a client that are set by this entry."""

    set = fields.Nested(DetailFields, required=True, error_messages=MESSAGES)
    seen = fields.Nested(SeenFields, required=True, error_messages=MESSAGES)


class Contact(Strict):
    """Somebody to call."""

    name = text(200, shortest=1, required=True)
    relation = text(200, allow_none=True)
    phone = text(100, allow_none=True)


class EndOfStanding(Strict):
    """From which day on it no longer holds, and why."""

    day = Day(required=True)
    why = text(2000, shortest=1, required=True)


def ended() -> fields.Nested:
    """How a precaution or target ended. An older app that does not read it goes on showing what it knows."""
    return fields.Nested(EndOfStanding, allow_none=True, error_messages=MESSAGES)


class Precaution(Strict):
    """Something to know before the visit."""

    code = choice(list(clinical_data()["precautions"]), required=True)
    text = text(2000, allow_none=True)
    ended = ended()


def _range_is_one(data: dict[str, Any]) -> None:
    """A target has an end, and its lower end does not lie above its upper end."""
    low, high = data.get("low"), data.get("high")
    if low is None and high is None:
        raise said("required", "Give at least one end of the target range.", "low")
    if low is not None and high is not None and float(low) > float(high):
        raise said("swapped", "The lower end is above the upper end. Exchange the two numbers.", "low")


def _field_has_targets(data: dict[str, Any]) -> None:
    """The field is one of the measure's that can have a target."""
    facts = MEASURES[data["measure"]].get("facts", {})
    if not facts.get(data["field"], {}).get("target"):
        raise said("unknown_choice", "This measure has no such value to set a target for.", "field")


class Target(Strict):
    """A range somebody set for this client; either end may be open."""

    measure = choice(list(MEASURES), required=True)
    field = fields.String(required=True, error_messages=MESSAGES)
    low = Decimal(allow_none=True, label="The lower end")
    high = Decimal(allow_none=True, label="The upper end")
    set_by = text(200, shortest=1, required=True)
    note = text(2000, allow_none=True)
    ended = ended()

    whole = (_range_is_one, _field_has_targets)


class VisitPlanned(Strict):
    """A visit somebody means to make; the entry's `visit` is its number."""

    date = Day(required=True)
    time = time_of_day(required=True)
    minutes = whole(5, 600, required=True)
    purpose = text(2000, allow_none=True)
    therapist = Id(required=True)


class VisitStarted(Strict):
    """A visit that began."""

    first = Flag(required=True)


def _override_has_a_reason(data: dict[str, Any]) -> None:
    """Another conclusion than the suggested one is explained."""
    if data["chosen"] != data["suggested"] and not (data.get("override_reason") or "").strip():
        raise said("required", "Say why you decided otherwise than suggested.", "override_reason")


class VisitConclusion(Strict):
    """What the readings suggested and what the therapist decided."""

    suggested = choice(CONCLUSIONS, required=True)
    chosen = choice(CONCLUSIONS, required=True)
    reasons = many(text(200), most=200, required=True)
    override_reason = text(2000, allow_none=True)
    missing = many(choice(list(MEASURES)), most=50, required=True)
    data_version = text(100, required=True)

    whole = (_override_has_a_reason,)


class VisitFinished(Strict):
    """A visit that ended, and the name it was signed with; the author, which is checked, says who it was."""

    note = text(allow_none=True)
    signed_by = text(200, allow_none=True)


class Note(Strict):
    """Something written down."""

    text = text(shortest=1, required=True)


BODIES: dict[str, type[Strict]] = {
    "details": Details,
    "contact": Contact,
    "precaution": Precaution,
    "target": Target,
    "visit_planned": VisitPlanned,
    "visit_started": VisitStarted,
    "visit_conclusion": VisitConclusion,
    "visit_finished": VisitFinished,
    "note": Note,
}
OF_A_VISIT = frozenset({"visit_planned", "visit_started", "visit_conclusion", "visit_finished"})
# The day in a body that must not lie in the future, by kind.
_PAST_DAYS = {"details": ("set", "birth_date"), "precaution": ("ended", "day"), "target": ("ended", "day")}


def past_day(kind: str, body: Mapping[str, Any]) -> tuple[str, date] | None:
    """The day in a body that must not lie in the future, with its path; None where there is none."""
    if kind not in _PAST_DAYS:
        return None
    outer, inner = _PAST_DAYS[kind]
    day = (body.get(outer) or {}).get(inner)
    return (f"{outer}.{inner}", date.fromisoformat(day)) if day else None
