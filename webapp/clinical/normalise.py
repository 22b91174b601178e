"""A reading as it stands in a form, made into the body of an entry."""

from typing import Any

from .expressions import evaluate
from .facts import derive_facts, scope_for
from .fields import missing
from .load import data
from .parse import parse_number

Body = dict[str, Any]


def normalise_body(measure_id: str, body: Body, context: Body | None = None) -> Body:
    """The body with numbers in canonical text, empty values and fields that do not apply left out.

    Text that is no number stays as typed, for check_reading to name.
    """
    measure = data()["measures"][measure_id]
    if not isinstance(body.get("fields"), dict):
        return body
    fields = {field["id"]: _value(field, body["fields"].get(field["id"])) for field in measure["fields"]}
    kept = {name: value for name, value in fields.items() if not missing(value)}
    strangers = {name: value for name, value in body["fields"].items() if name not in fields}
    clean = {**body, "fields": {**kept, **strangers}}
    scope = scope_for(measure_id, derive_facts(measure_id, clean, context), context)
    for field in measure["fields"]:
        if evaluate(field.get("shown", True), scope) is False:
            clean["fields"].pop(field["id"], None)
    return _without_idle_units(clean)


def _without_idle_units(body: Body) -> Body:
    if not isinstance(body.get("units"), dict):
        return body
    used = {name: unit for name, unit in body["units"].items() if name in body["fields"]}
    return {**body, "units": used}


def _value(field: Body, value: Any) -> Any:
    if field["type"] == "number":
        return parse_number(value, field["decimals"]).get("value", value)
    if field["type"] == "series" and isinstance(value, list):
        return [_item(field, item) for item in value if not _empty(item)]
    return value


def _item(field: Body, item: Any) -> Any:
    if not isinstance(item, dict):
        return item
    kinds = {part["id"]: part for part in field["item"]}
    values = {name: _value(kinds[name], value) if name in kinds else value for name, value in item.items()}
    return {name: value for name, value in values.items() if not missing(value)}


def _empty(item: Any) -> bool:
    return isinstance(item, dict) and all(missing(value) for value in item.values())
