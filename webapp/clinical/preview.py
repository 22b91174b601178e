"""The dates a rule would give, before anybody puts it in force."""

from typing import Any

from .days import plus_days
from .load import data
from .reassessment import due_items

Body = dict[str, Any]


def preview_dates(rule: Body, start: str, calendar: Body, count: int) -> list[Body]:
    """[{"opens", "due", "limit", "why"}] of the first `count` rounds of a rule that `check_rule` passes.

    Care begins on `start` and each round is done on the day it is due; visits and the written day a rule may
    need are assumed as the data says (`preview`). A rule that waits for something to happen gives one date.
    """
    facts, found = _assumed(rule, start, count), []
    service = {"rules": [rule], "in_force": [rule["id"]]}
    for _ in range(count):
        items = due_items(facts, {**calendar, "today": start}, service)["items"]
        if not items or items[0]["due"] is None:
            break
        found.append({name: items[0][name] for name in ("opens", "due", "limit", "why")})
        if not rule["done_by"]:
            break
        facts["done"] = [*facts["done"], {"day": items[0]["due"], "how": rule["done_by"][-1]}]
    return found


def _assumed(rule: Body, start: str, count: int) -> Body:
    """The facts of a care that begins now, with what the rule waits for."""
    told = data()["reassessment"]["preview"]
    day = {"about": None, "name": None, "set_on": start, "reason": None}
    written = {"care_period.starts_on": [{**day, "day": start}]}
    if rule["type"] == "written_day":
        later = plus_days(start, told["written_after_days"])
        written[f"{rule['kind']}.{rule['field']}"] = [{**day, "day": later}]
    rounds = range(1, count * rule.get("visits", 0) + 1)
    away = {"from": start, "to": start, "reason": (rule.get("reasons") or ["other"])[0]}
    counted = rule["type"] == "every_days"
    return {
        "visits": [start],
        "planned": [plus_days(start, told["visits_every_days"] * step) for step in rounds],
        "done": [{"day": start, "how": rule["done_by"][-1]}] if counted else [],
        "reviews": {}, "written": written, "pauses": [away] if rule["type"] == "after_pause" else [],
        "discharges": [], "put_off": [], "own_rules": [], "client_rules": {},
        "changes": [{"day": start, "title": told["change"]}] if rule["type"] == "when_changed" else [],
    }  # fmt: skip
