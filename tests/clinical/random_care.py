"""Random facts of a care in time, and random questions about what is due."""

import random
from datetime import date, timedelta
from typing import Any

from webapp.clinical import data, known_rules

Facts = dict[str, Any]
HOWS = [each["id"] for each in data()["reassessment"]["done_by"]] + ["newer"]
KEYS = ["changed", "planned_date", "home_health_30_days", "goal_review:g1", "own:r1"]
DATED = [rule for rule in known_rules().values() if rule["type"] == "written_day"]
WRITTEN = [f"{rule['kind']}.{rule['field']}" for rule in DATED] + ["care_period.starts_on"]
TYPES = ["every_days", "after_visits", "before_end", "x"]


def random_question(source: random.Random) -> tuple[str, Facts]:
    """A call of `due_items` around a leap day, with days off and what the service chose."""
    calendar = {
        "today": _day(source),
        "weekend": source.choice([[], [6, 7], [5, 6]]),
        "holidays": [_day(source) for _ in range(source.randint(0, 40))],
    }
    service = source.choice([None, {"in_force": list(known_rules())}, {"in_force": []}])
    return "due_items", {"facts": _facts(source), "calendar": calendar, "service": service}


def _facts(source: random.Random) -> Facts:
    return {
        "visits": _days(source, 14),
        "planned": _days(source, 5),
        "done": [{"day": day, "how": source.choice(HOWS)} for day in _days(source, 4)],
        "reviews": {"g1": _days(source, 2)},
        "written": {name: [_written(source) for _ in range(source.randint(0, 2))] for name in WRITTEN},
        "pauses": _spans(source, "from", "to", ["hospital", "other", "newer", None]),
        "discharges": _spans(source, "day", "reopened", ["moved"]) if source.random() < 0.3 else [],
        "put_off": [_put_off(source, day) for day in _days(source, 4)],
        "own_rules": [_own_rule(source) for _ in range(source.randint(0, 1))],
        "client_rules": source.choice(
            [{}, {"added": ["progress_10_visits"], "left_out": ["changed", "new"]}]
        ),
        "changes": [{"day": day, "title": "Pulse"} for day in _days(source, 2)],
    }


def _day(source: random.Random) -> str:
    return (date(2028, 2, 1) + timedelta(days=source.randint(-160, 160))).isoformat()


def _days(source: random.Random, most: int) -> list[str]:
    return sorted(_day(source) for _ in range(source.randint(0, most)))


def _written(source: random.Random) -> Facts:
    about, reason = source.choice([None, "g1"]), source.choice([None, "Why not. ."])
    return {"about": about, "name": "Soup", "day": _day(source), "set_on": _day(source), "reason": reason}


def _spans(source: random.Random, begin: str, end: str, reasons: list[Any]) -> list[Facts]:
    ends = [None, *_days(source, 3)]
    return [
        {begin: day, end: source.choice(ends), "reason": source.choice(reasons)} for day in _days(source, 3)
    ]


def _put_off(source: random.Random, day: str) -> Facts:
    return {"due": source.choice(KEYS), "until": _day(source), "reason": "Rain", "day": day, "entry": "p"}


def _own_rule(source: random.Random) -> Facts:
    numbers = {"days": source.choice([None, "9"]), "visits": source.choice([None, "3"])}
    return {"item": "r1", "name": "Own", "why": "Own.", "type": source.choice(TYPES), **numbers}
