"""The rules of reassessment in force for one: the service's, some added or left out, the client's own."""

import re
from collections.abc import Iterator
from typing import Any

from .load import data
from .wording import fill

Rule = dict[str, Any]
_ID = re.compile(r"[a-z][a-z0-9_]{0,63}")
CLOCKS = ("runs_on", "stops")
MOVES = ("earlier", "later", "never")
# The numbers a type of rule cannot do without.
NEEDS = {
    "every_days": ("days",), "period": ("days", "window"), "after_visits": ("visits",),
    "written_day": ("before",), "when_changed": ("days",), "after_pause": ("days",),
}  # fmt: skip

_NUMBER = {"every_days": "days", "before_end": "days", "after_visits": "visits"}


def known_rules(service: Rule | None = None) -> dict[str, Rule]:
    """The built-in rules and the service's by id; the service's own stands in place of a built-in one."""
    own = (service or {}).get("rules") or []
    return {rule["id"]: rule for rule in [*data()["reassessment"]["rules"], *own]}


def rules_in_force(service: Rule | None, facts: Rule) -> list[Rule]:
    """The rules that hold for a client, in their order; ids this version does not know are passed over."""
    known, told = known_rules(service), facts["client_rules"]
    listed = (service or {}).get("in_force")
    names = data()["reassessment"]["in_force"] if listed is None else listed
    left_out = told.get("left_out") or []
    chosen = {*names, *(told.get("added") or [])} - set(left_out)
    own = [clients_rule(fields) for fields in facts["own_rules"] if _number(fields)]
    unread = _unread(service)
    return [*(rule for name, rule in known.items() if name in chosen and rule not in unread), *own]


def _unread(service: Rule | None) -> list[Rule]:
    """The service's rules that a newer version made: they must neither be misread nor stop the others.

    A source not known yet changes no date, and a way of moving not known is moving earlier: those are read.
    """
    rules = (service or {}).get("rules") or []
    return [rule for rule in rules if any(_matters(rule, problem) for problem in check_rule(rule))]


def _matters(rule: Rule, problem: Rule) -> bool:
    return problem["field"] not in ("source", "moves") or not isinstance(rule.get(problem["field"]), str)


def unusable_rules(service: Rule | None, facts: Rule) -> list[str]:
    """The service's and the client's own rules that cannot be counted, as sentences."""
    words = data()["reassessment"]["messages"]
    unread = [fill(words["newer"], {"title": rule.get("title") or ""}) for rule in _unread(service)]
    lacking = [fields for fields in facts["own_rules"] if not _number(fields)]
    return unread + [fill(words["unusable"], {"title": fields.get("name") or ""}) for fields in lacking]


def _number(fields: Rule) -> int | None:
    value = fields.get(_NUMBER.get(fields.get("type") or "", ""))
    return int(value) if isinstance(value, str) and re.fullmatch(r"[1-9][0-9]{0,3}", value) else None


def clients_rule(fields: Rule) -> Rule:
    """A rule written in a few fields, for one client or by a service, in the shape of the others."""
    about, number = data()["reassessment"]["own_rule"], _number(fields)
    told = {"id": f"own:{fields['item']}", "title": fields.get("name"), "note": fields.get("why")}
    same = {name: about[name] for name in ("done_by", "legal", "clock", "moves", "source")}
    if fields["type"] == "after_visits":
        visits = {"type": "after_visits", "visits": number, "opens": about["opens"]["visits"]}
        return {**told, **same, **visits, "moves": "never"}
    days = {"opens": about["opens"]["days"]}
    if fields["type"] == "before_end":
        end = {"type": "written_day", "kind": "care_period", "field": "ends_on", "before": number}
        return {**told, **same, **days, **end}
    return {**told, **same, **days, "type": "every_days", "days": number}


def check_rule(rule: Rule) -> list[Rule]:
    """What is wrong with a rule of a service: [{"field", "message"}], none when it can be put in force."""
    return [*_naming(rule), *_numbers(rule), *_ways(rule)]


def _naming(rule: Rule) -> Iterator[Rule]:
    name, title = rule.get("id"), rule.get("title")
    if not (isinstance(name, str) and _ID.fullmatch(name)):
        yield _problem("id", "id")
    if not (isinstance(title, str) and title.strip() and len(title) <= 200):
        yield _problem("title", "title")
    if rule.get("type") not in NEEDS:
        yield _problem("type", "type")
    if rule.get("source") not in data()["sources"]:
        yield _problem("source", "origin")


def _numbers(rule: Rule) -> Iterator[Rule]:
    needed = NEEDS.get(rule.get("type") or "", ())
    for name, limits in data()["reassessment"]["numbers"].items():
        value = rule.get(name)
        whole = isinstance(value, int) and not isinstance(value, bool)
        if name in needed or value is not None:
            if not (whole and limits["low"] <= value <= limits["high"]):
                yield _problem(name, "number", {end: str(limits[end]) for end in ("low", "high")})


def _ways(rule: Rule) -> Iterator[Rule]:
    known = [each["id"] for each in data()["reassessment"]["done_by"]]
    done = rule.get("done_by")
    if not (isinstance(done, list) and all(each in known for each in done)):
        yield _problem("done_by", "done_by")
    elif not done and rule.get("type") != "written_day":
        yield _problem("done_by", "done_by")
    if rule.get("clock") not in CLOCKS or not isinstance(rule.get("legal"), bool):
        yield _problem("clock", "clock")
    if rule.get("moves") not in MOVES:
        yield _problem("moves", "moves")
    elif rule["moves"] == "later" and rule.get("legal") is True:
        yield _problem("moves", "legal_later")
    if rule.get("type") == "when_changed" and not _some_of(rule.get("changes"), "change_kinds"):
        yield _problem("changes", "changes")
    if rule.get("type") == "written_day" and (rule.get("kind"), rule.get("field")) not in _written_fields():
        yield _problem("field", "day_of")


def _some_of(value: Any, name: str) -> bool:
    known = data()["reassessment"][name]
    return isinstance(value, list) and bool(value) and all(each in known for each in value)


def _written_fields() -> set[tuple[str, str]]:
    rules = data()["reassessment"]["rules"]
    return {(rule["kind"], rule["field"]) for rule in rules if rule["type"] == "written_day"}


def _problem(field: str, code: str, words: dict[str, str] | None = None) -> Rule:
    return {"field": field, "message": fill(data()["reassessment"]["messages"][code], words or {})}
