"""Real changes at the visits since the last reassessment: what asks for the next one sooner."""

from typing import Any

from .card import context_for
from .judge import judge_visit
from .load import data
from .record import Entry, resolve_entries, standing

Body = dict[str, Any]


def changes_of(entries: list[Entry], facts: Body, rules: list[Body]) -> list[Body]:
    """[{"day", "visit", "measure", "title", "word", "because"}] of the visits that a rule still asks about.

    Only visits since the last thing done that settles a change are judged: judging is slow on old phones.
    """
    asked = [rule for rule in rules if rule["type"] == "when_changed"]
    if not asked:
        return []
    wanted = {ending for rule in asked for ending in rule["changes"]}
    settled = [_settled(rule, facts) for rule in asked]
    recent = [visit for visit, day in facts["held"].items() if day > min(settled)]
    found = [each for visit in recent for each in _at_visit(entries, visit, facts["held"][visit], wanted)]
    return sorted(found, key=lambda each: each["day"])


def _settled(rule: Body, facts: Body) -> str:
    return max((each["day"] for each in facts["done"] if each["how"] in rule["done_by"]), default="")


def _at_visit(entries: list[Entry], visit: str, day: str, wanted: set[str]) -> list[Body]:
    bodies = _bodies(entries, visit)
    if not bodies:
        return []
    told = []
    for judged in judge_visit(bodies, context_for(entries, visit, day)):
        for found in judged["findings"]:
            if found["against"] in ("baseline", "last_time") and found["rule"].rpartition(".")[2] in wanted:
                told.append({
                    "day": day, "visit": visit, "measure": judged["measure"],
                    "title": data()["measures"][judged["measure"]]["title"],
                    "word": found["word"], "because": found["because"],
                })  # fmt: skip
    return told


def _bodies(entries: list[Entry], visit: str) -> dict[str, Body]:
    """The readings of a visit that gave a value, the last of each measure."""
    stand = [chain["entry"] for chain in standing(resolve_entries(entries))]
    own = [entry for entry in stand if entry.get("visit") == visit and entry["kind"] in data()["measures"]]
    return {entry["kind"]: entry["body"] for entry in own if "not_measured" not in entry["body"]}
