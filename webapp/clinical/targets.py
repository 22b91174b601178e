"""The client's own targets: within, below, above, and what being within changes."""

from typing import Any

from .decimals import is_decimal, to_scaled
from .load import data
from .wording import NOT_RECORDED, fact_label, fill, unit_words

Body = dict[str, Any]


def target_findings(measure: Body, facts: Body, context: Body) -> list[Body]:
    """One finding for every target of this measure whose field was measured."""
    return [_finding(measure, target, facts) for target in targets_of(measure, facts, context)]


def targets_of(measure: Body, facts: Body, context: Body) -> list[Body]:
    """The client's targets that this reading can be held against."""
    targets = context.get("targets")
    return [
        target
        for target in (targets if isinstance(targets, list) else [])
        if target.get("measure") == measure["id"]
        and measure["facts"].get(target.get("field"), {}).get("target")
        and is_decimal(facts.get(target["field"]))
        and (is_decimal(target.get("low")) or is_decimal(target.get("high")))
    ]


def place(target: Body, value: str) -> str:
    """Where a value stands: within, below or above."""
    scaled = to_scaled(value)
    if is_decimal(target.get("low")) and scaled < to_scaled(target["low"]):
        return "below"
    if is_decimal(target.get("high")) and scaled > to_scaled(target["high"]):
        return "above"
    return "within"


def inside_targets(measure: Body, facts: Body, context: Body) -> dict[str, Body]:
    """The fields that have targets and are inside every one of them, each with one of its targets."""
    targets = targets_of(measure, facts, context)
    outside = {target["field"] for target in targets if place(target, facts[target["field"]]) != "within"}
    return {target["field"]: target for target in targets if target["field"] not in outside}


def softened(measure: Body, found: Body, inside: dict[str, Body]) -> Body:
    """The finding lowered to go on, with the reason."""
    words = data()["targets"]
    reasons = [fill(words["softened"], _words(measure, target)) for target in inside.values()]
    because = found["because"] + "".join(reasons)
    return {**found, "level": "go_on", "because": because, "softened_from": found["level"]}


def _finding(measure: Body, target: Body, facts: Body) -> Body:
    where = place(target, facts[target["field"]])
    text = data()["targets"][where]
    words = {**_words(measure, target), "value": facts[target["field"]]}
    return {
        "rule": f"{measure['id']}.target.{target['field']}.{where}",
        "against": "target",
        "level": text["level"],
        "word": text["word"],
        "because": fill(text["because"], words),
        "source": data()["targets"]["source"],
        "plain": text["plain"],
        "scale": {name: target.get(name) for name in ("field", "low", "high")},
    }


def _words(measure: Body, target: Body) -> dict[str, str]:
    unit = unit_words(measure["facts"][target["field"]]["unit"])
    ends = [end for end in ("low", "high") if is_decimal(target.get(end))]
    template = data()["targets"]["ranges"]["both" if len(ends) == 2 else ends[0]]
    limits = {"low": target.get("low") or "", "high": target.get("high") or "", "unit": unit}
    return {
        "label": fact_label(measure, target["field"]),
        "unit": unit,
        "range": fill(template, limits),
        "set_by": (target.get("set_by") or "").rstrip(" .") or NOT_RECORDED,
    }
