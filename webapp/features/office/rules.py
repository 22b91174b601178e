"""What a service decides about reassessment: the rules in force, rules of its own, the days it works."""

import re
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from webapp.clinical import data as clinical_data
from webapp.clinical import described_kinds, field_choices
from webapp.clinical.days import say_day
from webapp.clinical.preview import preview_dates
from webapp.clinical.rules import check_rule, clients_rule, known_rules
from webapp.features.current import database
from webapp.storage import Person
from webapp.storage.refused import NotThere, Refused
from webapp.storage.switches import change_setting, settings_of

Asked = dict[str, Any]
ROUNDS = 3
MOST_HOLIDAYS = 400
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def use_rule(actor: Person, asked: Asked, moment: datetime) -> Asked:
    """Put a known rule in force."""
    _change(actor, "reassessment", lambda before: _in_force(before, asked["rule"], True), moment)
    return {}


def leave_rule(actor: Person, asked: Asked, moment: datetime) -> Asked:
    """Take a rule out of force."""
    _change(actor, "reassessment", lambda before: _in_force(before, asked["rule"], False), moment)
    return {}


def make_rule(actor: Person, asked: Asked, moment: datetime) -> Asked:
    """Make a rule of the service's own, in force at once."""

    def change(before: Asked) -> Asked:
        own = before.get("rules") or []
        rule = rule_of(asked, known_rules(before))
        return _in_force({**before, "rules": [*own, rule]}, rule["id"], True)

    _change(actor, "reassessment", change, moment)
    return {}


def remove_rule(actor: Person, asked: Asked, moment: datetime) -> Asked:
    """Remove a rule of the service's own; what it gave before is in nobody's record."""

    def change(before: Asked) -> Asked:
        own = before.get("rules") or []
        if asked["rule"] not in [rule["id"] for rule in own]:
            raise NotThere("There is no such rule of your own.", "rule")
        after = _in_force(before, asked["rule"], False)
        return {**after, "rules": [rule for rule in own if rule["id"] != asked["rule"]]}

    _change(actor, "reassessment", change, moment)
    return {}


def set_calendar(actor: Person, asked: Asked, moment: datetime) -> Asked:
    """Say on which days the service works."""
    days = sorted({_holiday(text) for text in re.split(r"[\s,;]+", asked["holidays"]) if text})
    if len(days) > MOST_HOLIDAYS:
        raise Refused(f"At most {MOST_HOLIDAYS} holidays are kept. Leave out the past ones.", "holidays")
    weekend = [int(digit) for digit in asked["weekend"]]
    value = {"zone": asked["zone"], "weekend": weekend, "holidays": days}
    _change(actor, "calendar", lambda _before: value, moment)
    return {}


def rule_of(asked: Asked, known: Asked) -> Asked:
    """A rule of the service's own from what was asked; Refused at the field that is wrong."""
    name, number = " ".join(asked["title"].split()), str(asked["number"])
    made = clients_rule({"item": None, "name": name, "type": asked["type"], "days": number, "visits": number})
    rule = {key: value for key, value in made.items() if value is not None} | {"id": _free_id(known)}
    for problem in check_rule(rule):
        field = problem["field"] if problem["field"] in asked else "number"
        raise Refused(problem["message"], field)
    return rule


def rule_types() -> dict[str, str]:
    """The kinds of rule a service may write itself, as for one client, with their words."""
    fields = {field["id"]: field for field in described_kinds()["reassessment_rule"]["fields"]}
    return {each["id"]: each["label"] for each in field_choices(fields["type"])}


def _free_id(known: Asked) -> str:
    taken = [int(name.removeprefix("own_")) for name in known if re.fullmatch(r"own_[0-9]+", name)]
    return f"own_{max(taken, default=0) + 1}"


def rules_shown(service: Asked, calendar: Asked, today: date) -> list[Asked]:
    """Every known rule: whether it is in force, whose it is, the dates it gives if care began today."""
    in_force = _names(service)
    own = {rule["id"] for rule in service.get("rules") or []}
    sources = clinical_data()["sources"]
    return [
        {**rule, "in_force": name in in_force, "own": name in own, "told": sources[rule["source"]]["title"],
         "dates": preview(rule, calendar, today)}
        for name, rule in known_rules(service).items()
    ]  # fmt: skip


def preview(rule: Asked, calendar: Asked, today: date) -> list[Asked]:
    """The first dates of a rule in words, for a client whose care begins today."""
    found = preview_dates(rule, today.isoformat(), {**calendar, "today": today.isoformat()}, ROUNDS)
    return [{name: each[name] and say_day(each[name]) for name in ("opens", "due")} for each in found]


def _names(service: Asked) -> list[str]:
    listed = service.get("in_force")
    return list(clinical_data()["reassessment"]["in_force"] if listed is None else listed)


def _in_force(before: Asked, rule: str, wanted: bool) -> Asked:
    if rule not in known_rules(before):
        raise NotThere("There is no such rule.", "rule")
    names = [name for name in _names(before) if name != rule]
    return {**before, "in_force": [*names, rule] if wanted else names}


def _holiday(text: str) -> str:
    try:
        if not _DAY.fullmatch(text):
            raise ValueError(text)
        return date.fromisoformat(text).isoformat()
    except ValueError as error:
        sentence = f"“{text[:40]}” is no day of the calendar. Write it as year-month-day."
        raise Refused(sentence, "holidays") from error


def _change(actor: Person, name: str, change: Callable[[Any], Any], moment: datetime) -> None:
    with database().writing() as session:
        change_setting(session, actor.organisation, name, change, moment)


def settings_now(organisation: str) -> Asked:
    """The settings of an organisation."""
    with database().reading() as session:
        return settings_of(session, organisation)
