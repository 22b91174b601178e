"""The client's own baseline, and how far a reading stands from it."""

from typing import Any

from .decimals import divide_half_up, from_scaled, is_decimal, round_text, to_scaled
from .load import data
from .wording import fact_label, fill, unit_apart, unit_words

Body = dict[str, Any]


def baseline(values: list[str]) -> dict[str, Any]:
    """The median of the first three values, oldest first; provisional below three, none at none."""
    needed = data()["baseline"]["first"]
    first = sorted(to_scaled(value) for value in values[:needed])
    if not first:
        return {"value": None, "count": 0, "provisional": True}
    middle = len(first) // 2
    median = first[middle] if len(first) % 2 else divide_half_up(first[middle - 1] + first[middle], 2)
    return {"value": from_scaled(median), "count": len(first), "provisional": len(first) < needed}


def baseline_findings(measure: Body, facts: Body, context: Body, grave: bool = False) -> list[Body]:
    """For each field that has a baseline, how the reading compares; one finding for all that have none.

    With something grave found, "lowest so far, which does not make it low" would contradict it.
    """
    names = [name for name, fact in measure["facts"].items() if fact.get("baseline")]
    values = {
        name: earlier_values(measure, name, facts, context) for name in names if is_decimal(facts.get(name))
    }
    first = [name for name in values if not values[name]]
    compared = [name for name in values if values[name]]
    told = [_field_findings(measure, name, facts[name], values[name], grave) for name in compared]
    none = [_no_baseline(measure, first, bool(compared))] if first else []
    return [found for findings in (*told, none) for found in findings]


def earlier_values(measure: Body, name: str, facts: Body, context: Body) -> list[str]:
    """The earlier values that may be compared: same site, same supply where that matters."""
    history = (context.get("history") or {}).get(measure["id"]) or []
    same = measure["facts"][name].get("baseline_same", [])
    alike = [old for old in history if all(old.get(other) == facts.get(other) for other in same)]
    return [old[name] for old in alike if is_decimal(old.get(name))]


def _no_baseline(measure: Body, names: list[str], some: bool) -> Body:
    labels = ", ".join(fact_label(measure, name) for name in names) if some else measure["title"]
    found = _finding(measure, "none", {"label": labels})
    return {**found, "field": names[0], "baseline": None, "count": 0}


def _field_findings(measure: Body, name: str, value: str, values: list[str], grave: bool) -> list[Body]:
    base = baseline(values)
    told = _kinds(measure, name, value, values, base)
    if grave:
        told = [found for found in told if found["rule"].rpartition(".")[2] not in ("lowest", "highest")]
    return [{**found, "field": name, "baseline": base["value"], "count": base["count"]} for found in told]


def _kinds(measure: Body, name: str, value: str, values: list[str], base: Body) -> list[Body]:
    words = _words(measure, name, value, base)
    limit = _limit(measure["id"], name)
    difference = to_scaled(value) - to_scaled(base["value"])
    if limit:
        kind = "changed" if abs(difference) > to_scaled(limit["limit"]) else "steady"
        # Decided by the exact limit, told as a person would say it.
        told = round_text(limit["limit"], limit["told_decimals"])
        return [_finding(measure, f"{name}.{kind}", {**words, "limit": told}, limit["source"])]
    kinds = ["difference" if difference else "same", *_extremes(value, values)]
    words["count"] = str(len(values))
    return [_finding(measure, f"{name}.{kind}", words) for kind in kinds]


def _extremes(value: str, values: list[str]) -> list[str]:
    # Two of two is no record: only said once there is a baseline.
    if len(values) < data()["baseline"]["first"]:
        return []
    earlier, now = [to_scaled(old) for old in values], to_scaled(value)
    if now < min(earlier):
        return ["lowest"]
    return ["highest"] if now > max(earlier) else []


def _limit(measure_id: str, name: str) -> Body | None:
    limits = data()["baseline"]["change_limits"]
    return next((row for row in limits if (row["measure"], row["field"]) == (measure_id, name)), None)


def _words(measure: Body, name: str, value: str, base: Body) -> dict[str, str]:
    unit = measure["facts"][name]["unit"]
    words = {"label": fact_label(measure, name), "value": value, "unit": unit_words(unit)}
    return {**words, "compared": _compared(value, unit, base)}


def _compared(value: str, unit: str, base: Body) -> str:
    texts = data()["baseline"]
    difference = to_scaled(value) - to_scaled(base["value"])
    direction = "above" if difference > 0 else "below" if difference else "same"
    provisional = fill(texts["provisional"], {"count": str(base["count"])}) if base["provisional"] else ""
    size = from_scaled(abs(difference))
    told = {"difference": size, "unit": unit_apart(unit, size), "baseline": base["value"]}
    return fill(texts["compared"][direction], {**told, "provisional": provisional})


def _finding(measure: Body, name: str, words: dict[str, str], source: str | None = None) -> Body:
    text = data()["baseline"][name.rpartition(".")[2]]
    return {
        "rule": f"{measure['id']}.baseline.{name}",
        "against": "baseline",
        "level": text["level"],
        "word": text["word"],
        "because": fill(text["because"], words),
        "source": source or text["source"],
        "plain": text["plain"],
    }
