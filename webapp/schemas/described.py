"""The bodies of what is described: marshmallow schemas built from the clinical data, one a kind.

Shapes and choices come from here; what needs the whole body is said by `check_described`.
"""

from collections.abc import Mapping
from typing import Any

from marshmallow import Schema, fields

from webapp.clinical import data as clinical_data
from webapp.clinical import described_kinds, field_choices, measure_order
from webapp.schemas.fields import Day, Decimal, Id, Strict, choice, many, text
from webapp.schemas.said import MESSAGES, said

Data = Mapping[str, Any]
# How long a rule's id can be with an item's behind it, and how many of them are worth listing.
KEY_LONGEST, RULES_MOST = 101, 100


def described_schemas() -> dict[str, type[Schema]]:
    """The schema of every described kind, by its id."""
    return {name: _schema(name, about) for name, about in described_kinds().items()}


def _schema(name: str, about: Data) -> type[Schema]:
    values = {field["id"]: _MAKERS[field["type"]](field) for field in about["fields"]}
    if about["shape"] == "observation":
        declared = {"about": Id(required=True, allow_none=True), "fields": _nested(f"{name}_fields", values)}
        return type(_class_name(name), (Strict,), declared)
    if about.get("ends"):
        values["ended"] = fields.Nested(_ended(name, about), allow_none=True, error_messages=MESSAGES)
    seen = {field: many(Id(), most=50) for field in values}
    declared = {
        "item": Id(required=True, allow_none=True),
        "set": _nested(f"{name}_set", values),
        "seen": _nested(f"{name}_seen", seen),
        "whole": (_no_id,) if about["shape"] == "single" else (),
    }
    return type(_class_name(name), (Strict,), declared)


def _nested(name: str, declared: dict[str, fields.Field]) -> fields.Nested:
    return fields.Nested(type(_class_name(name), (Strict,), declared), required=True, error_messages=MESSAGES)


def _ended(name: str, about: Data) -> type[Schema]:
    declared = {
        "how": choice([each["id"] for each in about["ends"]], required=True),
        "day": Day(required=True),
        "note": text(clinical_data()["described"]["ended"]["longest_note"], allow_none=True),
    }
    return type(_class_name(f"{name}_ended"), (Strict,), declared)


def _no_id(given: dict[str, Any]) -> None:
    if given["item"] is not None:
        raise said("unknown_field", "There is only one of these, so it has no number of its own.", "item")


class Length(Strict):
    """A measured length with the unit it was measured in."""

    value = Decimal(decimals=clinical_data()["described"]["lengths"]["decimals"], required=True)
    unit = choice(clinical_data()["described"]["lengths"]["units"], required=True)


def _code(field: Data) -> fields.Field:
    return choice([each["code"] for each in clinical_data()["activities"]["codes"]], **_options(field))


_MAKERS = {
    "text": lambda field: text(field["longest"], **_options(field)),
    "choice": lambda field: choice([each["id"] for each in field_choices(field)], **_options(field)),
    "activity_code": _code,
    "day": lambda field: Day(**_options(field)),
    "count": lambda field: Decimal(decimals=0, label=field["label"], **_options(field)),
    "length": lambda field: fields.Nested(Length, error_messages=MESSAGES, **_options(field)),
    "item": lambda field: Id(**_options(field)),
    "key": lambda field: text(KEY_LONGEST, shortest=1, **_options(field)),
    "rules": lambda field: many(text(KEY_LONGEST, shortest=1), most=RULES_MOST, **_options(field)),
    "measures": lambda field: many(choice(measure_order), most=len(measure_order), **_options(field)),
}


def _options(field: Data) -> dict[str, Any]:
    # Whether it must be there depends on whether the item is new: `check_described` says so.
    return {"allow_none": True, "metadata": {"description": field["label"]}}


def _class_name(name: str) -> str:
    return "".join(part.capitalize() for part in name.split("_"))
