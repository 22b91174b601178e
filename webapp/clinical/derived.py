"""Facts worked out as the measure's data says: a quotient, a table, the best of several tries, a reserve."""

from typing import Any

from .decimals import SCALE, divide_half_up, from_scaled, is_decimal, round_scaled, to_scaled
from .expressions import evaluate

Body = dict[str, Any]
Facts = dict[str, Any]


def divided(measure: Body, body: Body, facts: Facts, context: Body) -> Facts:
    """One number over another, as a speed is a distance over a time; nothing over zero."""
    names = measure["divided"]
    top, bottom = facts.get(names["of"]), facts.get(names["by"])
    if not (is_decimal(top) and is_decimal(bottom)) or to_scaled(bottom) <= 0:
        return {}
    quotient = divide_half_up(to_scaled(top) * SCALE, to_scaled(bottom))
    return {names["fact"]: from_scaled(round_scaled(quotient, names["decimals"]))}


def scored(measure: Body, body: Body, facts: Facts, context: Body) -> Facts:
    """A count as it is scored: another value in its place where the data's condition holds."""
    names = measure["scored"]
    if evaluate(names["unless"], facts) is False:
        return {names["fact"]: names["otherwise"]}
    return {names["fact"]: facts.get(names["of"])}


def looked_up(measure: Body, body: Body, facts: Facts, context: Body) -> Facts:
    """The value of the first row of the measure's table that holds for this person."""
    table, scope = measure["looked_up"], {**_person(context), **facts}
    rows = (row["value"] for row in table["rows"] if evaluate(row["when"], scope) is True)
    return {table["fact"]: next(rows, None)}


def best_tries(measure: Body, body: Body, facts: Facts, context: Body) -> Facts:
    """The best try of each side, and of both."""
    names = measure["best_tries"]
    rows = body["fields"].get(names["series"])
    tries = [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
    found: Facts = {}
    for side, fact in names["sides"].items():
        mine = [row.get(names["value"]) for row in tries if row.get(names["by"]) == side]
        values = [to_scaled(value) for value in mine if is_decimal(value)]
        found[fact] = from_scaled(max(values)) if values else None
    best = [to_scaled(value) for value in found.values() if value is not None]
    return {**found, names["best"]: from_scaled(max(best)) if best else None}


def rate_reserve(measure: Body, body: Body, facts: Facts, context: Body) -> Facts:
    """The highest rate foretold from the age, and how much of the way up to it was used, in whole percent."""
    names, scope = measure["rate_reserve"], _person(context)
    row = next((row for row in names["rates"] if evaluate(row["when"], scope) is True), {})
    if "from" not in row or scope["age"] is None:
        return {}
    highest = to_scaled(row["from"]) - to_scaled(row["per_year"]) * int(scope["age"])
    rest, peak = facts.get(names["rest"]), facts.get(names["peak"])
    found = {names["highest"]: from_scaled(round_scaled(highest, 0))}
    if not (is_decimal(rest) and is_decimal(peak)) or to_scaled(rest) >= highest:
        return found
    used = divide_half_up((to_scaled(peak) - to_scaled(rest)) * 100, highest - to_scaled(rest))
    return {**found, names["used"]: str(used)}


def _person(context: Body) -> Facts:
    age = context.get("age")
    known = str(age) if isinstance(age, int) else None
    return {"sex": context.get("sex"), "age": known, "precautions": context.get("precautions")}
