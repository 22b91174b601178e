"""Facts that compare what was found at several moments: the largest fall, the peak, when it was back."""

from collections.abc import Callable
from typing import Any

from .decimals import from_scaled, is_decimal, to_scaled

Body = dict[str, Any]
Facts = dict[str, Any]
NOT_YET = "not_yet"


def compared(measure: Body, body: Body, facts: Facts, context: Body) -> Facts:
    """Every fact the measure's data lists under "compared"; what lacks its values is left out."""
    return {each["fact"]: _HOW[each["how"]](measure, each, facts) for each in measure["compared"]}


def _values(each: Body, facts: Facts) -> list[tuple[int, str]]:
    """The numbers of a field at the moments named, in their order, each with its moment."""
    named = [(facts.get(f"{moment}_{each['field']}"), moment) for moment in each["over"]]
    return [(to_scaled(value), moment) for value, moment in named if is_decimal(value)]


def _lowest(measure: Body, each: Body, facts: Facts) -> str | None:
    values = _values(each, facts)
    return from_scaled(min(value for value, _ in values)) if values else None


def _highest(measure: Body, each: Body, facts: Facts) -> str | None:
    values = _values(each, facts)
    return from_scaled(max(value for value, _ in values)) if values else None


def _from(each: Body, facts: Facts) -> str | None:
    value = facts.get(f"{each['from']}_{each['field']}")
    return value if is_decimal(value) else None


def _fall(measure: Body, each: Body, facts: Facts) -> str | None:
    before, lowest = _from(each, facts), _lowest(measure, each, facts)
    known = before is not None and lowest is not None
    return from_scaled(to_scaled(before) - to_scaled(lowest)) if known else None


def _rise(measure: Body, each: Body, facts: Facts) -> str | None:
    before, highest = _from(each, facts), _highest(measure, each, facts)
    known = before is not None and highest is not None
    return from_scaled(to_scaled(highest) - to_scaled(before)) if known else None


def _lowest_at(measure: Body, each: Body, facts: Facts) -> str | None:
    values = _values(each, facts)
    return min(values, key=lambda pair: pair[0])[1] if values else None


def _back_at(measure: Body, each: Body, facts: Facts) -> str | None:
    """The first moment at which the value is as it was before, within the margin the data gives."""
    before, values = _from(each, facts), _values(each, facts)
    if before is None or not values:
        return None
    limit = to_scaled(before) + to_scaled(measure["parameters"][each["within"]]["value"])
    back = next((moment for value, moment in values if value <= limit), None)
    # Only the last moment says "not yet": before it, nobody has looked.
    return back or (NOT_YET if values[-1][1] == each["over"][-1] else None)


def _told(measure: Body, each: Body, facts: Facts) -> list[str] | None:
    """What was ticked at any of the moments, each once; None when nobody was asked."""
    names = [f"{moment}_{each['field']}" for moment in each["over"]]
    if all(name not in facts for name in names):
        return None
    choices = next(field for field in measure["fields"] if field["id"] == names[0])["choices"]
    told = {item for name in names for item in facts.get(name, [])}
    return [choice["id"] for choice in choices if choice["id"] in told and not choice.get("alone")]


def _any(measure: Body, each: Body, facts: Facts) -> bool | None:
    told = _told(measure, each, facts)
    return None if told is None else bool(told)


_HOW: dict[str, Callable[[Body, Body, Facts], Any]] = {
    "lowest": _lowest,
    "highest": _highest,
    "fall": _fall,
    "rise": _rise,
    "lowest_at": _lowest_at,
    "back_at": _back_at,
    "told": _told,
    "any": _any,
}
