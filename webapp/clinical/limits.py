"""The limit a rule sets: one function for each type of rule, days counted on the calendar."""

from typing import Any

from .days import days_from, is_day, plus_days, say_day
from .load import data

Rule = dict[str, Any]
Facts = dict[str, Any]
Raw = dict[str, Any]


def limits_of(rule: Rule, facts: Facts, today: str) -> list[Raw]:
    """What a rule asks for: [{"key", "about", "name", "from", "limit", "opens", "words": [name, {}], ...}].

    `limit` is None where it cannot be known yet: too few visits are planned, or the days do not run.
    """
    return _TYPES[rule["type"]](rule, facts, today)


def _raw(rule: Rule, start: str, limit: str | None, opens: str | None, why: str, **words: str) -> Raw:
    told = {"from": say_day(start), "limit": say_day(limit) if limit else "", **words}
    told |= {name: str(rule[name]) for name in ("days", "visits", "window", "before") if name in rule}
    raw = {"key": rule["id"], "about": None, "name": None, "from": start, "limit": limit, "opens": opens}
    return {**raw, "why": why, "words": told, "visits": None, "away": 0}


def _last(rule: Rule, facts: Facts) -> Facts | None:
    """The last time something was done that counts for the rule."""
    first = [{"day": facts["visits"][0], "how": "first"}] if facts["visits"] else []
    counted = [each for each in [*first, *facts["done"]] if each["how"] in rule["done_by"]]
    return sorted(counted, key=lambda each: each["day"])[-1] if counted else None


def _every_days(rule: Rule, facts: Facts, today: str) -> list[Raw]:
    last = _last(rule, facts)
    if last is None:
        return []
    why = ("every_days", "every_days_open")
    return [_counted(rule, last["day"], facts, today, why, done=how_label(last["how"]))]


def _counted(rule: Rule, start: str, facts: Facts, today: str, why: tuple[str, str], **words: str) -> Raw:
    """The limit so many days after a day. The day itself is not counted: 1 June and 30 days is 1 July."""
    limit, away = _running(rule, start, facts["pauses"], today)
    opens = max(plus_days(limit, -rule.get("opens", rule["days"])), plus_days(start, 1)) if limit else None
    raw = _raw(rule, start, limit, opens, why[0 if limit else 1], **words)
    return {**raw, "away": away}


def _running(rule: Rule, start: str, pauses: list[Facts], today: str) -> tuple[str | None, int]:
    """The limit, and how many days away it was moved by; no limit while the days do not run."""
    limit, away = plus_days(start, rule["days"]), 0
    # A legal limit runs on through a pause; days of the service's own are days in care.
    for pause in merged(pauses, today) if rule["clock"] == "stops" else []:
        first = max(pause["from"], plus_days(start, 1))
        if first > limit:
            break
        if pause["to"] is None:
            return None, away
        length = max(days_from(first, pause["to"]), 0)
        limit, away = plus_days(limit, length), away + length
    return limit, away


def merged(pauses: list[Facts], today: str) -> list[Facts]:
    """The pauses that have begun, in order, those that overlap or touch made one."""
    found: list[Facts] = []
    for pause in sorted(pauses, key=lambda each: each["from"]):
        if pause["from"] > today:
            continue
        last = found[-1] if found else None
        if last and (last["to"] is None or pause["from"] <= last["to"]):
            last["to"] = max(last["to"], pause["to"]) if last["to"] and pause["to"] else None
        else:
            found.append(dict(pause))
    return found


def _period(rule: Rule, facts: Facts, _today: str) -> list[Raw]:
    return [_next_period(rule, each["day"], facts) for each in facts["written"]["care_period.starts_on"]]


def _next_period(rule: Rule, start: str, facts: Facts) -> Raw:
    last = _last(rule, facts)
    # A period is settled by what was done once its last days had begun; done late it counts for none after.
    past = days_from(start, last["day"]) + rule["window"] if last else 0
    first = plus_days(start, rule["days"] * max(past // rule["days"], 0))
    limit = plus_days(first, rule["days"] - 1)
    opens = plus_days(limit, 1 - rule["window"])
    return _raw(rule, first, limit, opens, "period", begins=say_day(opens))


def _after_visits(rule: Rule, facts: Facts, today: str) -> list[Raw]:
    last = _last(rule, facts)
    after = last["day"] if last else ""
    held = [day for day in facts["visits"] if day > after]
    known = sorted([*held, *(day for day in facts["planned"] if day > after and day >= today)])
    if last is None and not held:
        return []
    limit, opens = (known[at - 1] if 0 < at <= len(known) else None for at in _places(rule))
    start = last["day"] if last else held[0]
    why = "after_visits" if last else "after_visits_first"
    raw = _raw(rule, start, limit, opens, why, held=str(len(held)))
    return [{**raw, "visits": {"held": len(held), "of": rule["visits"]}}]


def _places(rule: Rule) -> tuple[int, int]:
    return rule["visits"], max(rule["visits"] - rule.get("opens", 0), 1)


def _written_day(rule: Rule, facts: Facts, _today: str) -> list[Raw]:
    written = facts["written"].get(f"{rule['kind']}.{rule['field']}", [])
    found = [(_of_day(rule, each), each) for each in written]
    return [raw for raw, each in found if not _settled(rule, raw, each, facts)]


def _of_day(rule: Rule, each: Facts) -> Raw:
    before = rule.get("before", 0)
    limit = plus_days(each["day"], -before)
    # Not before it was written: the reassessment that set the day is not yet the one it was set for.
    opens = min(max(plus_days(limit, -rule.get("opens", 0)), plus_days(each["set_on"], 1)), limit)
    why = "written_day_before" if before else "written_day"
    raw = _raw(rule, each["set_on"], limit, opens, why, day=say_day(each["day"]))
    key = f"{rule['id']}:{each['about']}" if each["about"] else rule["id"]
    named = {"key": key, "about": each["about"], "name": each["name"], "note": each["reason"]}
    return {**raw, **named}


def _settled(rule: Rule, raw: Raw, each: Facts, facts: Facts) -> bool:
    done = [one["day"] for one in facts["done"] if one["how"] in rule["done_by"]]
    if "reviewed_by" in rule:
        done += facts["reviews"].get(each["about"] or "", [])
    return any(day >= max(raw["opens"], each["set_on"]) for day in done)


def _when_changed(rule: Rule, facts: Facts, today: str) -> list[Raw]:
    last = _last(rule, facts)
    open_changes = [each for each in facts["changes"] if not last or each["day"] > last["day"]]
    if not open_changes:
        return []
    first = min(each["day"] for each in open_changes)
    names = dict.fromkeys(each["title"] for each in open_changes if each["day"] == first)
    why = ("when_changed", "when_changed_open")
    return [_counted(rule, first, facts, today, why, changes=", ".join(names))]


def _after_pause(rule: Rule, facts: Facts, today: str) -> list[Raw]:
    last = _last(rule, facts)
    reasons = rule.get("reasons")
    back = [
        pause for pause in facts["pauses"]
        if is_day(pause["to"]) and pause["to"] <= today and (not last or last["day"] < pause["to"])
        and (reasons is None or pause["reason"] in reasons)
    ]  # fmt: skip
    if not back:
        return []
    first = min(back, key=lambda pause: pause["to"])
    limit = plus_days(first["to"], rule["days"])
    told = {"reason": pause_reason(first["reason"])}
    return [_raw(rule, first["to"], limit, first["to"], "after_pause", **told)]


def how_label(how: str) -> str:
    """What was done, in words."""
    return next((each["label"] for each in data()["reassessment"]["done_by"] if each["id"] == how), how)


def pause_reason(reason: Any) -> str:
    """Why somebody is away, in words inside a sentence."""
    fields = data()["described"]["kinds"]["pause"]["fields"]
    choices = next(field["choices"] for field in fields if field["id"] == "reason")
    label = next((each["label"] for each in choices if each["id"] == reason), "")
    return label[:1].lower() + label[1:]


_TYPES = {
    "every_days": _every_days, "period": _period, "after_visits": _after_visits,
    "written_day": _written_day, "when_changed": _when_changed, "after_pause": _after_pause,
}  # fmt: skip
