"""Facts of a reading: its fields in canonical units, and what is worked out from them."""

from functools import cache
from typing import Any

from .decimals import is_decimal, round_text
from .expressions import evaluate, names_in
from .formulas import FORMULAS
from .load import data
from .units import canonical
from .validate import CONTEXT_FACTS

Body = dict[str, Any]
Facts = dict[str, Any]


def derive_facts(measure_id: str, body: Body, context: Body | None = None) -> Facts:
    """All facts of a reading, as decimal text, ids, flags and lists; a value that is no good is left out."""
    measure = data()["measures"][measure_id]
    if not isinstance(body, dict) or not isinstance(body.get("fields"), dict):
        return {}
    facts = _field_facts(measure, body)
    for name in measure["derive"]:
        facts |= FORMULAS[name](measure, body, facts, context or {})
    if isinstance(body.get("technique"), list):
        missed = missed_steps(measure, body["technique"], facts)
        facts |= {"technique_missed": str(len(missed)), "steps_missed": missed}
    return {name: value for name, value in facts.items() if value is not None}


def checked_facts(measure_id: str, body: Body, context: Body | None = None) -> Facts:
    """The facts that the checks of a reading may look at: nothing is worked out that none of them names."""
    if _checks_ask_formulas(measure_id):
        return derive_facts(measure_id, body, context)
    return _field_facts(data()["measures"][measure_id], body)


@cache
def _checks_ask_formulas(measure_id: str) -> bool:
    measure = data()["measures"][measure_id]
    fields, asked = measure["fields"], [check["unless"] for check in measure["checks"]]
    asked += [field[key] for field in fields for key in ("shown", "required") if key in field]
    # What a series' row lacks falls back on the fact of that name, and a count is held against its rate.
    in_rows = any(".*." in check["field"] for check in measure["checks"])
    counts = any("limits_of" in field for field in fields)
    known = {field["id"] for field in fields} | CONTEXT_FACTS
    return in_rows or counts or not names_in(asked) <= known


def scope_for(measure_id: str, facts: Facts, context: Body | None = None) -> Facts:
    """What an expression may look at: the context, the visit's other readings, and the facts themselves."""
    context = context or {}
    scope: Facts = {name: context.get(name) for name in ("sex", "precautions", "first_visit")}
    age = context.get("age")
    scope["age"] = str(age) if isinstance(age, int) else None
    for other, others in (context.get("reading_facts") or {}).items():
        if other != measure_id:
            scope |= {f"{other}.{name}": value for name, value in others.items()}
    return scope | facts


def shown_fields(measure_id: str, body: Body, context: Body | None = None) -> list[str]:
    """The ids of the fields to show for what has been filled in so far."""
    scope = scope_for(measure_id, derive_facts(measure_id, body, context), context)
    fields = data()["measures"][measure_id]["fields"]
    return [field["id"] for field in fields if evaluate(field.get("shown", True), scope) is True]


def missed_steps(measure: dict[str, Any], ticked: list[Any], facts: Facts) -> list[str]:
    """The technique steps that apply and were not ticked."""
    applying = [step for step in measure["technique"] if evaluate(step.get("shown", True), facts) is True]
    return [step["id"] for step in applying if step["id"] not in ticked]


def _field_facts(measure: dict[str, Any], body: Body) -> Facts:
    units = body["units"] if isinstance(body.get("units"), dict) else {}
    facts: Facts = {}
    given = body["fields"]
    for field in measure["fields"]:
        own = field["id"]
        if own not in given:
            continue
        fact = _fact(field, given[own], units.get(own, field.get("unit")))
        if fact is not None:
            facts[own] = _rounded(measure["facts"].get(own, {}), fact)
    return facts


def _rounded(kind: dict[str, Any], value: Any) -> Any:
    """Judged as it is told: a temperature typed in Fahrenheit to 0.1 °C."""
    return round_text(value, kind["decimals"]) if kind.get("rounded") else value


def _fact(field: dict[str, Any], value: Any, unit: Any) -> Any:
    kind = field["type"]
    if kind == "number":
        known = any(unit == choice["code"] for choice in field["units"])
        return canonical(value, unit) if known and is_decimal(value) else None
    if kind == "choice":
        return value if any(value == choice["id"] for choice in field["choices"]) else None
    if kind == "choices":
        return _chosen(field, value)
    right = {"flag": bool, "text": str}.get(kind)
    return value if right and type(value) is right else None


def _chosen(field: dict[str, Any], value: Any) -> list[str] | None:
    if not isinstance(value, list):
        return None
    return [choice["id"] for choice in field["choices"] if choice["id"] in value]
