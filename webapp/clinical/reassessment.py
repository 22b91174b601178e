"""What is due: for one client, by the rules in force, on a given day and with its reasons. Pure."""

from typing import Any

from .care import care_facts
from .changes import changes_of
from .days import days_from, is_working, plus_days, say_day
from .limits import limits_of, merged, pause_reason
from .load import data
from .record import Entry
from .rules import rules_in_force, unusable_rules
from .wording import fill

Body = dict[str, Any]


def reassessment_facts(entries: list[Entry], service: Body | None = None, zone: str | None = None) -> Body:
    """What `due_items` counts from; it does not depend on today and may be kept until an entry comes."""
    facts = care_facts(entries, zone)
    return {**facts, "changes": changes_of(entries, facts, rules_in_force(service, facts))}


def reassessment_due(entries: list[Entry], calendar: Body, service: Body | None = None) -> Body:
    """What is due for the client of these entries; see `due_items`."""
    return due_items(reassessment_facts(entries, service, calendar.get("zone")), calendar, service)


def due_items(facts: Body, calendar: Body, service: Body | None = None) -> Body:
    """{"items": [...], "governs": key or None, "away", "discharged", "unusable": [texts]}, earliest first.

    `calendar` is {"today": ISO day, "weekend": [6, 7], "holidays": [ISO days], "zone": name}; `service` is
    {"in_force": [rule ids], "rules": [rules]}, each part optional. An item is {"key", "rule", "title",
    "about", "name", "from", "opens", "due", "limit", "state", "overdue_by", "visits", "put_off", "why",
    "source", "legal"}: `due` is the day to do it by, `limit` the last day that keeps the rule. The state is
    "later", "open" (it is sensible to do), "due", "overdue", "away" (the client is), or "waiting" (no day is
    known yet).
    """
    today = calendar["today"]
    since, discharged = _spell(facts["discharges"], today)
    rules = rules_in_force(service, facts)
    away = next((each for each in facts["pauses"] if _holds(each, today)), None)
    told = {"away": away, "discharged": discharged, "unusable": unusable_rules(service, facts)}
    if discharged:
        return {"items": [], "governs": None, **told}
    own = _of_spell(facts, since)
    raws = [(rule, raw) for rule in rules for raw in limits_of(rule, own, today)]
    items = sorted((_item(rule, raw, own, calendar) for rule, raw in raws), key=_by_day)
    return {"items": items, "governs": items[0]["key"] if items and items[0]["due"] else None, **told}


def _by_day(item: Body) -> str:
    # One put off beyond a legal limit keeps its place: that limit is what governs.
    return min(item["due"] or "9999-12-31", item["limit"] or "9999-12-31")


def _spell(discharges: list[Body], today: str) -> tuple[str | None, Body | None]:
    """The day care was last taken up again, and the discharge that holds today."""
    begun = [each for each in discharges if each["day"] <= today]
    back = [each["reopened"] for each in begun if each["reopened"] and each["reopened"] <= today]
    gone = [each for each in begun if each["reopened"] not in back]
    return max(back, default=None), gone[-1] if gone else None


def _holds(pause: Body, today: str) -> bool:
    return pause["from"] <= today and (pause["to"] is None or today < pause["to"])


def _of_spell(facts: Body, since: str | None) -> Body:
    """Only what happened after care was last taken up again."""
    if since is None:
        return facts

    def kept(days: list[Body], name: str) -> list[Body]:
        return [each for each in days if each[name] >= since]

    dated = {name: kept(facts[name], "day") for name in ("done", "changes", "put_off")}
    written = {name: kept(days, "set_on") for name, days in facts["written"].items()}
    visits = [day for day in facts["visits"] if day >= since]
    pauses = [each for each in facts["pauses"] if each["to"] is None or each["to"] > since]
    return {**facts, **dated, "visits": visits, "written": written, "pauses": pauses}


def _item(rule: Body, raw: Body, facts: Body, calendar: Body) -> Body:
    today, moved = calendar["today"], _moved(rule, raw, calendar)
    put_off = _put_off(rule, raw, moved["due"], facts)
    due, limit, opens = moved["due"], raw["limit"], raw["opens"]
    if put_off:
        due = opens = put_off["until"]
        # Putting off a legal limit says when and why it will be late; it does not make it later.
        limit = limit if rule["legal"] else due
    opens = min(opens, due) if opens and due else opens
    away = next((each for each in merged(facts["pauses"], today) if _holds(each, today)), None)
    state = _state(today, opens, due, limit, away)
    told = [*_reasons(rule, raw), *moved["words"], *_put_off_words(rule, raw, put_off)]
    told += [*_away_words(rule, away), *_notes(rule, raw)]
    return {
        "key": raw["key"], "rule": rule["id"], "title": rule["title"], "about": raw["about"],
        "name": raw["name"], "from": raw["from"], "opens": opens, "due": due, "limit": limit, "state": state,
        "overdue_by": days_from(limit, today) if state == "overdue" else 0,
        "visits": raw["visits"], "put_off": put_off, "why": " ".join(told),
        "source": rule["source"], "legal": rule["legal"],
    }  # fmt: skip


def _state(today: str, opens: str | None, due: str | None, limit: str | None, away: Body | None) -> str:
    if away:
        return "away"
    if limit is None or due is None:
        return "open" if opens and today >= opens else "waiting"
    if today > limit:
        return "overdue"
    if today >= due:
        return "due"
    return "open" if opens and today >= opens else "later"


def _moved(rule: Body, raw: Body, calendar: Body) -> Body:
    """The day to do it by when the limit is no working day, and the words for it.

    Earlier, never later, for a legal limit: the rules count calendar days and none of them gives a day more
    because an office is closed, so the last working day before is the last on which it can be done in time.
    It stays within the days in which doing it counts; where none of them is a working day, the limit stands.
    """
    limit = raw["limit"]
    if limit is None or rule["moves"] == "never" or is_working(limit, calendar):
        return {"due": limit, "words": []}
    later = rule["moves"] == "later" and not rule["legal"]
    farthest = data()["reassessment"]["farthest_move"]
    days = [plus_days(limit, step if later else -step) for step in range(1, farthest + 1)]
    earliest = raw["opens"] if "window" in rule else plus_days(raw["from"], 1)
    due = next((day for day in days if is_working(day, calendar) and day >= earliest), None)
    word = "no_working_day" if due is None else "moved_later" if later else "moved_earlier"
    return {"due": due or limit, "words": [_say(word, limit=say_day(limit), due=say_day(due or limit))]}


def _put_off(rule: Body, raw: Body, due: str | None, facts: Body) -> Body | None:
    """The last postponement made in this round of the rule, if it puts the day off at all."""
    own = [each for each in facts["put_off"] if each["due"] == raw["key"] and each["day"] >= raw["from"]]
    if not own or due is None or own[-1]["until"] <= due:
        return None
    return {name: own[-1][name] for name in ("entry", "until", "reason")}


def _say(name: str, **words: str) -> str:
    return fill(data()["reassessment"]["why"][name], words)


def _reasons(rule: Body, raw: Body) -> list[str]:
    told = [_say(raw["why"], **raw["words"])]
    return told + ([_say("not_counted", away=str(raw["away"]))] if raw["away"] else [])


def _notes(rule: Body, raw: Body) -> list[str]:
    return [note.rstrip(" .") + "." for note in (raw.get("note"), rule.get("note")) if note]


def _put_off_words(rule: Body, raw: Body, put_off: Body | None) -> list[str]:
    if put_off is None:
        return []
    told = [_say("put_off", until=say_day(put_off["until"]), reason=(put_off["reason"] or "").rstrip(" ."))]
    return told + ([_say("put_off_legal", limit=say_day(raw["limit"]))] if rule["legal"] else [])


def _away_words(rule: Body, away: Body | None) -> list[str]:
    if away is None:
        return []
    told = [_say("away", since=say_day(away["from"]), reason=pause_reason(away["reason"]))]
    return told + ([_say("away_legal")] if rule["clock"] == "runs_on" else [])
