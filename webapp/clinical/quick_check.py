"""A quick look at a reading: True only where `check_reading` has surely nothing to say.

Nearly every reading that a device sends was checked there before it was saved, and the same few numbers and
choices come again and again: each is looked at once and remembered. Made from the same data; whatever that
asks beyond what is known here is left to `check_reading`, as is the finding of words.
tests/webapp/test_quick_check.py holds both answers against each other.
"""

from collections.abc import Callable, Iterable
from functools import cache, lru_cache
from typing import Any

from .expressions import Answer, evaluate, names_in
from .fields import check_value, missing
from .formulas import counted
from .load import data
from .validate import CONTEXT_FACTS

Body = dict[str, Any]
Field = dict[str, Any]
Look = Callable[[Body, Body], bool]
Right = Callable[[Any, Body, Body], bool]
_REMEMBERED = 4096


def quick_check(measure_id: str, body: Body) -> bool:
    """Whether a reading that its schema has taken is surely in order, told without a context."""
    fields, looks = body.get("fields"), _looks(measure_id)
    if looks is None or type(fields) is not dict:
        return False
    units = body.get("units") or {}
    for look in looks:
        if not look(fields, units):
            return False
    return True


@cache
def _looks(measure_id: str) -> tuple[Look, ...] | None:
    """One look for each field and each check of a measure; None where one asks what is not known here."""
    measure = data()["measures"][measure_id]
    asked = [field[key] for field in measure["fields"] for key in ("shown", "required") if key in field]
    if not names_in(asked) <= _own_facts(measure):
        return None
    crossed = [_cross(measure, check) for check in measure["checks"]]
    if None in crossed:
        return None
    return tuple(filter(None, [*(_field(measure, field) for field in measure["fields"]), *crossed]))


def _own_facts(measure: Field) -> set[str]:
    """The facts that are what was typed or chosen, and those of a context, of which nothing is known."""
    worked_out = {measure["counted"]["rate"]} if "counted" in measure else set()
    return {field["id"] for field in measure["fields"] if _as_given(field)} - worked_out | CONTEXT_FACTS


def _as_given(field: Field) -> bool:
    if field["type"] == "number":
        return len(field["units"]) == 1
    return field["type"] in ("choice", "flag", "text")


def _field(measure: Field, field: Field) -> Look | None:
    """How a field is looked at; None where there is nothing that the schema has not seen."""
    own, right = field["id"], _right(measure, field)
    shown, required = field.get("shown", True), field.get("required", False)
    if shown is not True or type(required) is not bool:
        return _depending(own, right, _answer(shown), _answer(required))
    if right is _seen and not required:
        return None

    def look(fields: Body, units: Body) -> bool:
        value = fields.get(own)
        return not required if missing(value) else right(value, fields, units)

    return look


def _depending(
    own: str, right: Right, shown: Callable[[Body], Answer], required: Callable[[Body], Answer]
) -> Look:
    """Of a field that is asked for, or has to be there, by what else was filled in."""

    def look(fields: Body, units: Body) -> bool:
        value = fields.get(own)
        if missing(value):
            return required(fields) is not True or shown(fields) is False
        return shown(fields) is not False and right(value, fields, units)

    return look


def _answer(expression: Any) -> Callable[[Body], Answer]:
    """The answer of an expression, remembered for the values that it looks at."""
    names = tuple(sorted(names_in([expression])))

    @lru_cache(maxsize=_REMEMBERED)
    def remembered(*values: Any) -> Answer:
        return evaluate(expression, dict(zip(names, values, strict=True)))

    return lambda facts: remembered(*map(facts.get, names))


def _right(measure: Field, field: Field) -> Right:
    """Whether a value that is there is right; of most kinds the schema has seen all there is to see."""
    own, kind = field["id"], field["type"]
    if "limits_of" in field:
        how, fits = measure["counted"]["how"], _count(measure, field)
        return lambda value, fields, _units: fits(value, fields.get(how))
    if kind == "number":
        fits, usual = _number(field), field["unit"]
        return lambda value, _fields, units: fits(value, units.get(own, usual))
    if kind == "choices":
        alone = {each["id"] for each in field["choices"] if each.get("alone")}
        return lambda value, _fields, _units: len(value) == 1 or alone.isdisjoint(value)
    if kind == "series":
        parts = [_part(part) for part in field["item"] if part["type"] == "number"]
        return lambda value, _fields, _units: all(part(row) for row in value for part in parts)
    return _seen


def _seen(_value: Any, _fields: Body, _units: Body) -> bool:
    return True


def _number(field: Field) -> Callable[[str, str], bool]:
    @lru_cache(maxsize=_REMEMBERED)
    def fits(value: str, unit: str) -> bool:
        return not check_value(field, value, field["id"], {field["id"]: unit})

    return fits


def _count(measure: Field, field: Field) -> Callable[[str, Any], bool]:
    """A count is held against the limits of the rate that it gives."""
    names = measure["counted"]

    @lru_cache(maxsize=_REMEMBERED)
    def fits(value: str, how: Any) -> bool:
        facts = {names["how"]: how, names["count"]: value}
        return not check_value(field, value, field["id"], {}, measure, counted(measure, {}, facts, {}))

    return fits


def _part(part: Field) -> Callable[[Body], bool]:
    own, fits = part["id"], _number(part)

    def look(row: Body) -> bool:
        value = row.get(own)
        return missing(value) or fits(value, part["unit"])

    return look


def _cross(measure: Field, check: Field) -> Look | None:
    """What spans fields, or the parts of each row; None where it asks for more than these."""
    names, answer = names_in([check["unless"]]), _answer(check["unless"])
    series, star, _part = check["field"].partition(".*.")
    if not star:
        known = names <= _own_facts(measure)
        return (lambda fields, _units: answer(fields) is not False) if known else None
    field = next(each for each in measure["fields"] if each["id"] == series)
    if not names <= _required_parts(field) | CONTEXT_FACTS:
        return None
    return lambda fields, _units: _no_row(fields.get(series) or (), answer)


def _required_parts(field: Field) -> set[str]:
    """What every row has: of anything else a fact of the whole reading would take the place."""
    return {part["id"] for part in field["item"] if part["required"] and part["type"] in ("number", "choice")}


def _no_row(rows: Iterable[Body], answer: Callable[[Body], Answer]) -> bool:
    return all(answer(row) is not False for row in rows)
