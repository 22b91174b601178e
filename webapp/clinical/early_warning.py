"""The published early warning total: all seven parts, or no total."""

from typing import Any

from .decimals import is_decimal, round_text
from .expressions import evaluate
from .facts import derive_facts
from .load import data
from .wording import fill

Body = dict[str, Any]


def early_warning(bodies: dict[str, Body], context: Body | None = None) -> dict[str, Any]:
    """{"total", "parts", "missing", "band", ...}: total None when switched off, too young or incomplete."""
    context = context or {}
    table = data()["early_warning"]
    answer = {"total": None, "parts": {}, "missing": [], "band": None, "single_three": False, "because": ""}
    answer |= {name: table[name] for name in ("excludes", "acknowledgement", "source")}
    if (context.get("settings") or {}).get("early_warning") is not True:
        return answer | {"because": table["off"]}
    if _too_young(context, table):
        return answer | {"because": table["too_young"]}
    return answer | _scored(bodies, context, table)


def _too_young(context: Body, table: Body) -> bool:
    age = context.get("age")
    facts = {"age": str(age) if isinstance(age, int) else None}
    return evaluate({"lt": ["age", table["from_age"]]}, facts) is True


def _scored(bodies: dict[str, Body], context: Body, table: Body) -> Body:
    facts = {measure: derive_facts(measure, body, context) for measure, body in bodies.items()}
    parts = {part["id"]: _part(part, facts) for part in table["parts"]}
    missing = [name for name, part in parts.items() if part["score"] is None]
    if missing:
        labels = [part["label"].lower() for part in table["parts"] if part["id"] in missing]
        because = fill(table["incomplete"], {"missing": ", ".join(labels)})
        return {"parts": parts, "missing": missing, "because": because}
    total = sum(part["score"] for part in parts.values())
    three = any(part["score"] == 3 for part in parts.values())
    found = {"total": str(total), "single_three": three}
    band = next(row for row in table["bands"] if evaluate(row["when"], found) is True)
    answer = {"total": total, "parts": parts, "band": band["id"], "because": band["words"]}
    return {**answer, "single_three": three}


def _part(part: Body, facts: dict[str, Body]) -> Body:
    measure, name = part["fact"].split(".")
    own = facts.get(measure, {})
    value = own.get(name)
    if "decimals" in part and is_decimal(value):
        value = round_text(value, part["decimals"])
    scope = {**own, "value": value}
    score = next((row["score"] for row in part["scores"] if evaluate(row["when"], scope) is True), None)
    return {"label": part["label"], "value": value, "score": score}
