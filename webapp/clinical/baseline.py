"""The client's own baseline, and how far a reading stands from it."""

from typing import Any

from .decimals import divide_half_up, from_scaled, is_decimal, round_text, to_scaled
from .load import data
from .wording import fact_label, fill, unit_words

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


def baseline_findings(measure: Body, facts: Body, context: Body) -> list[Body]:
    """For each field that has a baseline, how the reading compares."""
    found: list[Body] = []
    for name, fact in measure["facts"].items():
        if fact.get("baseline") and is_decimal(facts.get(name)):
            found += _field_findings(measure, name, facts, earlier_values(measure, name, facts, context))
    return found


def earlier_values(measure: Body, name: str, facts: Body, context: Body) -> list[str]:
    """The earlier values that may be compared: same site, same supply where that matters."""
    history = (context.get("history") or {}).get(measure["id"]) or []
    same = measure["facts"][name].get("baseline_same", [])
    alike = [old for old in history if all(old.get(other) == facts.get(other) for other in same)]
    return [old[name] for old in alike if is_decimal(old.get(name))]


def _field_findings(measure: Body, name: str, facts: Body, values: list[str]) -> list[Body]:
    base = baseline(values)
    told = _kinds(measure, name, facts[name], values, base)
    return [{**found, "field": name, "baseline": base["value"], "count": base["count"]} for found in told]


def _kinds(measure: Body, name: str, value: str, values: list[str], base: Body) -> list[Body]:
    words = _words(measure, name, value, base)
    if base["value"] is None:
        return [_finding(measure, name, "none", words)]
    limit = _limit(measure["id"], name)
    difference = to_scaled(value) - to_scaled(base["value"])
    if limit:
        kind = "changed" if abs(difference) > to_scaled(limit["limit"]) else "steady"
        # Decided by the exact limit, told as a person would say it.
        told = round_text(limit["limit"], limit["told_decimals"])
        return [_finding(measure, name, kind, {**words, "limit": told}, limit["source"])]
    kinds = ["difference" if difference else "same", *_extremes(value, values)]
    return [_finding(measure, name, kind, {**words, "count": str(len(values))}) for kind in kinds]


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
    unit = unit_words(measure["facts"][name]["unit"])
    words = {"label": fact_label(measure, name), "value": value, "unit": unit}
    if base["value"] is None:
        return words
    return {**words, "compared": _compared(value, unit, base)}


def _compared(value: str, unit: str, base: Body) -> str:
    texts = data()["baseline"]
    difference = to_scaled(value) - to_scaled(base["value"])
    direction = "above" if difference > 0 else "below" if difference else "same"
    provisional = fill(texts["provisional"], {"count": str(base["count"])}) if base["provisional"] else ""
    told = {"difference": from_scaled(abs(difference)), "unit": unit, "baseline": base["value"]}
    return fill(texts["compared"][direction], {**told, "provisional": provisional})


def _finding(measure: Body, name: str, kind: str, words: dict[str, str], source: str | None = None) -> Body:
    text = data()["baseline"][kind]
    return {
        "rule": f"{measure['id']}.baseline.{name}.{kind}",
        "against": "baseline",
        "level": text["level"],
        "word": text["word"],
        "because": fill(text["because"], words),
        "source": source or text["source"],
        "plain": text["plain"],
    }
