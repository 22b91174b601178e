"""The bodies of readings: marshmallow schemas built from the clinical data, one a measure.

What the data says of a field (its kind, choices, decimals, limits, units) becomes a marshmallow field, so
form, check and API description cannot disagree. What spans fields stays with `check_reading`.
"""

from collections.abc import Mapping
from typing import Any

from marshmallow import Schema, fields, validates_schema

from webapp.clinical import measures
from webapp.schemas.fields import Decimal, Flag, Strict, choice, many, text
from webapp.schemas.said import MESSAGES, UNKNOWN_CHOICE, Said, said

WRONG_UNIT = Said("wrong_unit", "This value is not measured in that unit. Choose one of the units offered.")
Data = Mapping[str, Any]


def reading_schema(measure: Data, reasons: Data) -> type[Schema]:
    """The schema of a reading of one measure: fields, or the reason why it was not measured."""
    technique = [step["id"] for step in measure.get("technique", ())]
    declared = {
        "fields": fields.Nested(_fields_schema(measure["id"], measure["fields"]), error_messages=MESSAGES),
        "units": fields.Nested(_units_schema(measure), error_messages=MESSAGES),
        "technique": many(choice(technique), most=len(technique)),
        "confirmed": many(text(200), most=200),
        "not_measured": fields.Nested(_not_measured_schema(measure, reasons), error_messages=MESSAGES),
        "one_or_the_other": validates_schema(_one_or_the_other),
    }
    return type(_class_name(measure["id"]), (Strict,), declared)


def reading_schemas(reasons: Data) -> dict[str, type[Schema]]:
    """The schema of every measure, by its id."""
    return {name: reading_schema(measure, reasons) for name, measure in measures.items()}


def _fields_schema(name: str, items: list[Data]) -> type[Schema]:
    declared = {item["id"]: _MAKERS[item["type"]](name, item) for item in items}
    return type(f"{_class_name(name)}Fields", (Strict,), declared)


def _units_schema(measure: Data) -> type[Schema]:
    declared = {
        path: fields.String(validate=_one_of_units(item), error_messages=MESSAGES)
        for path, item in number_fields(measure)
    }
    return type(f"{_class_name(measure['id'])}Units", (Strict,), declared)


def number_fields(measure: Data) -> list[tuple[str, Data]]:
    """Every number field of a measure that can have a unit, those of a series by their own id."""
    found = []
    for item in measure["fields"]:
        inner = item["item"] if item["type"] == "series" else [item]
        found += [(each["id"], each) for each in inner if each["type"] == "number"]
    return found


def _one_of_units(item: Data) -> Any:
    codes = {unit["code"] for unit in item["units"]}

    def check(value: str) -> None:
        if value not in codes:
            raise said(WRONG_UNIT.code, str(WRONG_UNIT))

    return check


def _not_measured_schema(measure: Data, reasons: Data) -> type[Schema]:
    allowed = measure.get("not_measured") or list(reasons)
    declared = {
        "reason": choice(list(allowed), required=True),
        "note": text(2000, allow_none=True),
    }
    return type(f"{_class_name(measure['id'])}NotMeasured", (Strict,), declared)


def _one_or_the_other(_schema: Schema, data: dict[str, Any], **_: Any) -> None:
    if ("fields" in data) == ("not_measured" in data):
        raise said("required", "Give either the readings or the reason why nothing was measured.", "fields")
    extra = {"units", "technique", "confirmed"} & data.keys()
    if "not_measured" in data and any(data[key] for key in extra):
        raise said(
            "unknown_field", "Nothing was measured, so there are no units and no technique.", "not_measured"
        )


def _number(_name: str, item: Data) -> fields.Field:
    described = {
        "description": item["label"],
        "x-unit": item["unit"],
        "x-impossible": item.get("impossible"),
        "x-unlikely": item.get("unlikely"),
        "x-loinc": item.get("loinc"),
    }
    return Decimal(
        decimals=item.get("decimals", 0),
        label=item["label"],
        metadata={key: value for key, value in described.items() if value is not None},
    )


def _choice(_name: str, item: Data) -> fields.Field:
    return choice([each["id"] for each in item["choices"]], metadata={"description": item["label"]})


def _choices(_name: str, item: Data) -> fields.Field:
    ids = [each["id"] for each in item["choices"]]
    return fields.List(
        choice(ids), validate=_all_different, error_messages=MESSAGES, metadata={"description": item["label"]}
    )


def _all_different(values: list[str]) -> None:
    if len(set(values)) != len(values):
        raise said(UNKNOWN_CHOICE.code, "The same answer is given twice. Choose each once.")


def _flag(_name: str, item: Data) -> fields.Field:
    return Flag(metadata={"description": item["label"]})


def _text(_name: str, item: Data) -> fields.Field:
    return text(item.get("longest", 5000), metadata={"description": item["label"]})


def _series(name: str, item: Data) -> fields.Field:
    inner = fields.Nested(_fields_schema(f"{name}_{item['id']}", item["item"]), error_messages=MESSAGES)
    return many(inner, least=item.get("min", 0), most=item["max"], metadata={"description": item["label"]})


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
