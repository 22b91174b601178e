"""Checks the clinical data against itself: a slip in the data is an error at load, never a silent false."""

import re
from collections.abc import Iterator
from typing import Any

from .decimals import is_decimal
from .expressions import OPERATORS

CONTEXT_FACTS = {"age", "sex", "precautions", "first_visit", "technique"}
_PLACE = re.compile(r"\{(\w+)\}")


class DataError(ValueError):
    """The clinical data contradicts itself."""


def check_data(data: dict[str, Any]) -> None:
    """Raise DataError with every contradiction found."""
    problems = [*_sources(data, data, "data")]
    for name, measure in data["measures"].items():
        problems += [f"{name}: {problem}" for problem in _measure(measure, data)]
    problems += [f"early_warning: {problem}" for problem in _early_warning(data)]
    problems += [f"baseline: {problem}" for problem in _baseline(data)]
    problems += [f"visit: {problem}" for problem in _visit(data)]
    if problems:
        raise DataError("; ".join(problems))


def fact_names(measure: dict[str, Any]) -> set[str]:
    """The facts a reading of this measure can give."""
    fields = {field["id"] for field in measure["fields"] if field["type"] != "series"}
    return fields | set(measure["facts"])


def all_facts(measure: dict[str, Any], data: dict[str, Any]) -> set[str]:
    """The facts an expression of this measure may name, those of the other measures by a dotted name."""
    others = {f"{name}.{fact}" for name, other in data["measures"].items() for fact in fact_names(other)}
    return fact_names(measure) | CONTEXT_FACTS | others


def expression_problems(expression: Any, known: set[str]) -> Iterator[str]:
    """What is wrong with an expression."""
    if isinstance(expression, bool):
        return
    if not isinstance(expression, dict) or len(expression) != 1:
        yield f"not an expression: {expression!r}"
        return
    ((operator, arguments),) = expression.items()
    if operator not in OPERATORS:
        yield f"unknown operator {operator}"
    elif operator in ("all", "any", "not"):
        for part in [arguments] if operator == "not" else arguments:
            yield from expression_problems(part, known)
    else:
        yield from _comparison_problems(operator, arguments, known)


def _comparison_problems(operator: str, arguments: Any, known: set[str]) -> Iterator[str]:
    length = 3 if operator == "between" else 2
    if not isinstance(arguments, list) or len(arguments) != length:
        yield f"{operator} takes {length} arguments"
        return
    named = [arguments[0], *(value["fact"] for value in arguments[1:] if isinstance(value, dict))]
    yield from (f"unknown fact {name}" for name in named if name not in known)
    if operator in ("lt", "le", "gt", "ge", "between"):
        plain = [value for value in arguments[1:] if not isinstance(value, dict)]
        yield from (f"not a decimal: {value!r}" for value in plain if not is_decimal(value))
    if operator == "in" and not isinstance(arguments[1], list):
        yield "in takes a list"


def _measure(measure: dict[str, Any], data: dict[str, Any]) -> Iterator[str]:
    known = all_facts(measure, data)
    groups = {group["id"] for group in measure["groups"]}
    yield from _unique("field", measure["fields"])
    yield from _unique("rule", measure["rules"])
    yield from _unique("technique step", measure["technique"])
    for field in measure["fields"]:
        yield from _field(field, known, data)
        if field["group"] not in groups:
            yield f"{field['id']}: unknown group"
    for step in measure["technique"]:
        yield from expression_problems(step.get("shown", True), known)
    for check in measure["checks"]:
        yield from expression_problems(check["unless"], known | _item_names(measure))
    for rule in measure["rules"]:
        yield from (f"{rule['id']}: {problem}" for problem in _rule(rule, measure, known, data))
    strange = [reason for reason in measure["not_measured"] if reason not in data["reasons"]]
    yield from (f"unknown reason {reason}" for reason in strange)


def _field(field: dict[str, Any], known: set[str], data: dict[str, Any]) -> Iterator[str]:
    for key in ("required", "shown"):
        yield from expression_problems(field.get(key, True), known)
    if field["type"] == "number":
        yield from _number(field, data)
    if field["type"] in ("choice", "choices"):
        yield from _unique(f"choice of {field['id']}", field["choices"])
    for part in field.get("item", []):
        yield from _field(part, known, data)


def _number(field: dict[str, Any], data: dict[str, Any]) -> Iterator[str]:
    codes = [unit["code"] for unit in field["units"]]
    yield from (f"{field['id']}: unknown unit {code}" for code in codes if code not in data["units"])
    if field["unit"] not in codes:
        yield f"{field['id']}: its own unit is not among its units"
    if "limits_of" not in field:
        limits = [*field["impossible"].values(), *field["unlikely"].values()]
        yield from (f"{field['id']}: limit {limit!r}" for limit in limits if not is_decimal(limit))


def _rule(
    rule: dict[str, Any], measure: dict[str, Any], known: set[str], data: dict[str, Any]
) -> Iterator[str]:
    yield from expression_problems(rule["when"], known)
    if rule["level"] not in data["index"]["levels"]:
        yield f"unknown level {rule['level']}"
    if rule["against"] not in ("adult_range", "caution"):
        yield f"against {rule['against']}"
    if rule["against"] == "adult_range" and "scale" not in rule:
        yield "a rule of the adult range needs a scale"
    if "group" in rule and rule["group"] not in measure["first_match"]:
        yield f"unknown group {rule['group']}"
    for name in _PLACE.findall(rule["because"]):
        if name not in fact_names(measure):
            yield f"the text names an unknown fact {name}"
    if "scale" in rule and rule["scale"]["field"] not in measure["facts"]:
        yield "the scale names an unknown fact"


def _early_warning(data: dict[str, Any]) -> Iterator[str]:
    table = data["early_warning"]
    for part in table["parts"]:
        name, fact = part["fact"].split(".")
        if name not in data["measures"] or fact not in fact_names(data["measures"][name]):
            yield f"unknown fact {part['fact']}"
        for row in part["scores"]:
            yield from expression_problems(row["when"], {"value", "scale_2", "supply"})
    for band in table["bands"]:
        yield from expression_problems(band["when"], {"total", "single_three"})


def _baseline(data: dict[str, Any]) -> Iterator[str]:
    for limit in data["baseline"]["change_limits"]:
        fact = data["measures"][limit["measure"]]["facts"].get(limit["field"], {})
        if not (fact.get("baseline") and is_decimal(limit["limit"])):
            yield f"change limit of {limit['measure']}.{limit['field']}"


def _visit(data: dict[str, Any]) -> Iterator[str]:
    """Every measure has its section; a section without measures leads to a screen of its own."""
    sections = data["visit"]["sections"]
    yield from _unique("section", sections)
    named = {measure["section"] for measure in data["measures"].values()}
    yield from (f"unknown section {name}" for name in sorted(named - {each["id"] for each in sections}))
    for section in sections:
        if (section["id"] in named) == ("path" in section):
            yield f"section {section['id']} needs either measures or a path"


def _sources(value: Any, data: dict[str, Any], where: str) -> Iterator[str]:
    """Every source named anywhere has an entry, and every entry says what it is and how sure it is."""
    if isinstance(value, list):
        value = dict(enumerate(value))
    if not isinstance(value, dict):
        return
    for key, part in value.items():
        if str(key).endswith("source") and part not in data["sources"]:
            yield f"{where}: unknown source {part}"
        yield from _sources(part, data, f"{where}.{key}")
    if where == "data.sources":
        yield from (f"source {key} lacks a status" for key, part in value.items() if not part.get("status"))


def _item_names(measure: dict[str, Any]) -> set[str]:
    return {part["id"] for field in measure["fields"] for part in field.get("item", [])}


def _unique(what: str, items: list[dict[str, Any]]) -> Iterator[str]:
    seen: set[str] = set()
    for item in items:
        if item["id"] in seen:
            yield f"{what} {item['id']} twice"
        seen.add(item["id"])
