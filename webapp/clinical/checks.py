"""Whether a reading can be saved: what is wrong with it, and what to ask about it."""

from functools import cache
from typing import Any

from .expressions import evaluate
from .facts import checked_facts, scope_for
from .fields import Problem, check_value, missing, problem, required
from .load import data

Body = dict[str, Any]


def check_reading(measure_id: str, body: Body, context: Body | None = None) -> dict[str, list[Problem]]:
    """{"errors": [...], "questions": [...]}; a question whose field is in body["confirmed"] is left out."""
    measure = data()["measures"].get(measure_id)
    if measure is None:
        return _sorted([problem("unknown_measure", "")], [])
    if not isinstance(body, dict):
        return _sorted([problem("wrong_type", "", label=measure["title"])], [])
    if "not_measured" in body:
        return _sorted(_not_measured(measure, body), [])
    if not isinstance(body.get("fields"), dict):
        return _sorted([problem("wrong_type", "fields", label=measure["title"])], [])
    confirmed = body.get("confirmed") if isinstance(body.get("confirmed"), list) else []
    return _sorted(_reading(measure, body, context or {}), confirmed or [])


def _sorted(problems: list[Problem], confirmed: list[Any]) -> dict[str, list[Problem]]:
    told = [(_without_level(found), found.get("level") == "question") for found in problems]
    return {
        "errors": [found for found, asks in told if not asks],
        "questions": [found for found, asks in told if asks and found["field"] not in confirmed],
    }


def _without_level(found: Problem) -> Problem:
    return {key: part for key, part in found.items() if key != "level"}


def _not_measured(measure: dict[str, Any], body: Body) -> list[Problem]:
    given = body["not_measured"] if isinstance(body["not_measured"], dict) else {}
    reason, note = given.get("reason"), given.get("note")
    problems = []
    if body.get("fields"):
        problems.append(problem("not_measured_and_fields", "not_measured"))
    if reason not in measure["not_measured"]:
        problems.append(problem("unknown_reason", "not_measured.reason"))
    elif data()["reasons"][reason].get("note_needed") and not _written(note):
        problems.append(problem("note_needed", "not_measured.note"))
    return problems


def _written(note: Any) -> bool:
    return isinstance(note, str) and note.strip(" \t\r\n") != ""


def _reading(measure: dict[str, Any], body: Body, context: Body) -> list[Problem]:
    facts = checked_facts(measure["id"], body, context)
    scope = scope_for(measure["id"], facts, context)
    problems = _strangers(measure, body)
    for field in measure["fields"]:
        problems += _field(measure, field, body, scope)
    return problems + [found for check in measure["checks"] for found in _cross(check, body, scope)]


def _strangers(measure: dict[str, Any], body: Body) -> list[Problem]:
    ids, steps = _known_ids(measure["id"])
    units, ticked = body.get("units", {}), body.get("technique", [])
    problems = [problem("unknown_field", name) for name in sorted(body["fields"].keys() - ids)]
    if not isinstance(units, dict):
        problems.append(problem("wrong_type", "units", label=measure["title"]))
    elif not isinstance(ticked, list):
        problems.append(problem("wrong_type", "technique", label=measure["title"]))
    else:
        problems += [problem("unknown_field", f"units.{name}") for name in sorted(units.keys() - ids)]
        problems += [problem("unknown_step", "technique") for step in ticked if step not in steps]
    return problems


@cache
def _known_ids(measure_id: str) -> tuple[frozenset[str], frozenset[str]]:
    """Its fields, and the steps of its technique."""
    measure = data()["measures"][measure_id]
    fields, steps = measure["fields"], measure["technique"]
    return frozenset(field["id"] for field in fields), frozenset(step["id"] for step in steps)


def _field(measure: dict[str, Any], field: dict[str, Any], body: Body, scope: Body) -> list[Problem]:
    value = body["fields"].get(field["id"])
    shown = evaluate(field["shown"], scope) if "shown" in field else True
    if missing(value):
        needed = shown is not False and evaluate(field.get("required", False), scope) is True
        return [required(field, field["id"])] if needed else []
    if shown is False:
        return [problem("not_shown", field["id"], label=field["label"])]
    if field["type"] == "series":
        return _series(field, value, body)
    return check_value(field, value, field["id"], body.get("units"), measure, scope)


def _series(field: dict[str, Any], items: Any, body: Body) -> list[Problem]:
    if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
        return [problem("wrong_type", field["id"], label=field["label"])]
    problems = []
    if len(items) < field["min"]:
        problems.append(problem("too_few", field["id"], label=field["label"], min=str(field["min"])))
    if len(items) > field["max"]:
        problems.append(problem("too_many", field["id"], label=field["label"], max=str(field["max"])))
    for place, item in enumerate(items):
        problems += _item(field, item, f"{field['id']}.{place}", body)
    return problems


def _item(field: dict[str, Any], item: Body, path: str, body: Body) -> list[Problem]:
    ids = [part["id"] for part in field["item"]]
    problems = [problem("unknown_field", f"{path}.{name}") for name in sorted(set(item) - set(ids))]
    for part in field["item"]:
        where, value = f"{path}.{part['id']}", item.get(part["id"])
        if not missing(value):
            problems += check_value(part, value, where, body.get("units"))
        elif part["required"]:
            problems.append(required(part, where))
    return problems


def _cross(check: dict[str, Any], body: Body, scope: Body) -> list[Problem]:
    level, code, text = check["level"], check["id"], check["message"]
    return [
        {"field": path, "code": code, "message": text, "level": level}
        for path, facts in _scopes(check["field"], body, scope)
        if evaluate(check["unless"], facts) is False
    ]


def _scopes(path: str, body: Body, scope: Body) -> list[tuple[str, Body]]:
    series, star, part = path.partition(".*.")
    if not star:
        return [(path, scope)]
    items = body["fields"].get(series)
    rows = list(enumerate(items)) if isinstance(items, list) else []
    return [(f"{series}.{place}.{part}", scope | row) for place, row in rows if isinstance(row, dict)]
