"""The bodies of readings: marshmallow schemas built from the clinical data, one a measure.

What the data says of a field (its kind, choices, decimals, units) becomes a marshmallow field, so form, check
and API description cannot disagree. Limits, and what spans fields, stay with `check_reading`.
"""

from collections.abc import Mapping
from typing import Any

from marshmallow import Schema, fields

from webapp.clinical import data as clinical_data
from webapp.clinical import measures
from webapp.clinical.wording import ask_for, message
from webapp.schemas.fields import Flag, Id, Strict, choice, many, text
from webapp.schemas.measured import Measured
from webapp.schemas.said import MESSAGES, Said, said

Data = Mapping[str, Any]


def reading_schema(measure: Data) -> type[Schema]:
    """The schema of a reading of one measure: fields, or the reason why it was not measured."""
    technique = [step["id"] for step in measure.get("technique", ())]
    declared = {
        "fields": fields.Nested(_fields_schema(measure["id"], measure["fields"]), error_messages=MESSAGES),
        "units": fields.Nested(_units_schema(measure), error_messages=MESSAGES),
        "technique": many(choice(technique), most=len(technique)),
        "confirmed": many(text(200), most=200),
        "repeats": many(Id(), most=50),
        "not_measured": fields.Nested(_not_measured_schema(measure), error_messages=MESSAGES),
        "whole": (_one_or_the_other,),
    }
    return type(_class_name(measure["id"]), (Strict,), declared)


def reading_schemas() -> dict[str, type[Schema]]:
    """The schema of every measure, by its id."""
    return {name: reading_schema(measure) for name, measure in measures.items()}


def _fields_schema(name: str, items: list[Data]) -> type[Schema]:
    declared = {item["id"]: _MAKERS[item["type"]](name, item) for item in items}
    return type(f"{_class_name(name)}Fields", (Strict,), declared)


def _units_schema(measure: Data) -> type[Schema]:
    declared = {item["id"]: _one_of_units(item) for item in measure["fields"] if item["type"] == "number"}
    return type(f"{_class_name(measure['id'])}Units", (Strict,), declared)


def _one_of_units(item: Data) -> fields.String:
    codes = [unit["code"] for unit in item["units"]]
    return choice(codes, error=_words("wrong_unit", item))


def _not_measured_schema(measure: Data) -> type[Schema]:
    declared = {
        "reason": choice(
            measure["not_measured"], error=Said("unknown_reason", message("unknown_reason")), required=True
        ),
        "note": text(2000, allow_none=True),
    }
    return type(f"{_class_name(measure['id'])}NotMeasured", (Strict,), declared)


def _one_or_the_other(data: dict[str, Any]) -> None:
    if ("fields" in data) == ("not_measured" in data):
        raise said("required", "Give either the readings or the reason why nothing was measured.", "fields")
    extra = {"units", "technique", "confirmed"} & data.keys()
    if "not_measured" in data and any(data[key] for key in extra):
        raise said(
            "unknown_field", "Nothing was measured, so there are no units and no technique.", "not_measured"
        )


def _number(_name: str, item: Data) -> fields.Field:
    return Measured(item, **_options(item))


def _choice(_name: str, item: Data) -> fields.Field:
    return choice(_ids(item), error=_words("unknown_choice", item), **_options(item))


def _choices(_name: str, item: Data) -> fields.Field:
    inner = choice(_ids(item), error=_words("unknown_choice", item))
    repeated = _words("repeated", item)

    def all_different(values: list[str]) -> None:
        if len(set(values)) != len(values):
            raise said(repeated.code, repeated)

    return fields.List(inner, validate=all_different, **_options(item))


def _flag(_name: str, item: Data) -> fields.Field:
    return Flag(**_options(item))


def _text(_name: str, item: Data) -> fields.Field:
    return text(clinical_data()["index"]["text_limit"], **_options(item))


def _series(name: str, item: Data) -> fields.Field:
    inner = fields.Nested(_fields_schema(f"{name}_{item['id']}", item["item"]), error_messages=MESSAGES)
    return many(inner, least=item["min"], most=item["max"], **_options(item))


def _options(item: Data) -> dict[str, Any]:
    """What every kind of field has: whether it must be there, its label, its words for what is wrong."""
    required = Said("required", ask_for(item))
    wrong = _words("wrong_type", item)
    return {
        "required": item.get("required") is True,
        "metadata": {"description": item["label"]},
        "error_messages": {
            "required": required,
            "null": required,
            "invalid": wrong,
            "type": wrong,
        },
    }


def _words(code: str, item: Data) -> Said:
    return Said(code, message(code, label=item["label"]))


def _ids(item: Data) -> list[str]:
    return [each["id"] for each in item["choices"]]


def _class_name(name: str) -> str:
    return "".join(part.title() for part in name.split("_"))


_MAKERS = {
    "number": _number,
    "choice": _choice,
    "choices": _choices,
    "flag": _flag,
    "text": _text,
    "series": _series,
}
