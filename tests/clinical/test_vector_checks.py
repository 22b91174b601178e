"""The vectors themselves: their form, their names, and that they pin every rule and every limit."""

import json
from collections import defaultdict

import jsonschema
import pytest

from webapp.clinical import data, measures

from .calls import answer
from .limits import around, facts_in, rule_limits, score_limits, step_of
from .vectors import FOLDER, all_vectors, topics

SCHEMA = json.loads((FOLDER / "vector.schema.json").read_text(encoding="utf-8"))
JUDGED = [vector for vector in all_vectors() if vector.call == "judge_reading"]
RULES = [f"{name}.{rule['id']}" for name, measure in measures.items() for rule in measure["rules"]]
CHECKS = sorted(
    {f"{name}.check.{check['id']}" for name, measure in measures.items() for check in measure["checks"]}
)
STATED = [f"visit.{name}" for name in data()["conclusions"]["reasons"]]


@pytest.mark.parametrize("topic", topics())
def test_form(topic):
    jsonschema.validate(topics()[topic], SCHEMA)


@pytest.mark.parametrize("topic", topics())
def test_file_is_plain_json(topic):
    text = (FOLDER / f"{topic}.json").read_text(encoding="utf-8")
    assert text.endswith("]\n") and "\t" not in text
    assert json.dumps(json.loads(text), allow_nan=False)


def test_names_are_unique():
    names = [vector.name for vector in all_vectors()]
    assert sorted({name for name in names if names.count(name) > 1}) == []


def test_named_rules_exist():
    told = {rule for cases in topics().values() for case in cases for rule in case.get("rules", [])}
    stated = ("target", "baseline", "last_time", "adult_only", "not_judged")
    own = {rule for rule in told if rule.split(".")[1] in stated}
    assert told - own - {*RULES, *CHECKS, *STATED} == set()


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_fires_and_keeps_silent(rule):
    told = [vector for vector in JUDGED if rule in vector.case.get("rules", [])]
    expected = [vector.expected.get("fired", {}) for vector in told]
    outcomes = {fired[rule] is not None for fired in expected if rule in fired}
    assert outcomes == {True, False}


@pytest.mark.parametrize("rule", [*CHECKS, *STATED])
def test_every_check_and_stated_reason_has_a_case(rule):
    assert any(rule in case.get("rules", []) for cases in topics().values() for case in cases)


def values_judged():
    """The values each fact of each measure takes in the vectors."""
    values = defaultdict(set)
    for vector in JUDGED:
        for fact, value in answer(vector.call, vector.given)["facts"].items():
            if isinstance(value, str):
                values[vector.given["measure"], fact].add(value)
    return values


VALUES = values_judged()


@pytest.mark.parametrize("measure", measures)
def test_every_limit_has_a_value_below_at_and_above(measure):
    missing = [
        (limit.name, value)
        for limit in rule_limits(measure)
        for value in around(limit.value, step_of(measure, limit.fact))
        if value not in VALUES[measure, limit.fact] and not value.startswith("-")
    ]
    assert missing == []


@pytest.mark.parametrize("part", data()["early_warning"]["parts"], ids=lambda part: part["id"])
def test_every_zone_has_a_value_below_at_and_above(part):
    vectors = [vector for vector in all_vectors() if vector.call == "early_warning"]
    parts = [answer(vector.call, vector.given)["parts"] for vector in vectors]
    values = {each[part["id"]]["value"] for each in parts if part["id"] in each}
    measure, fact = part["fact"].split(".")
    limits = [limit for limit in score_limits() if limit.owner == part["id"]]
    wanted = {value for limit in limits for value in around(limit.value, step_of(measure, fact))}
    assert wanted - values - {"101"} == set()


@pytest.mark.parametrize(("measure", "rule"), [name.split(".") for name in RULES])
def test_every_fact_of_a_rule_has_a_missing_case(measure, rule):
    when = next(each["when"] for each in measures[measure]["rules"] if each["id"] == rule)
    told = [vector for vector in JUDGED if f"{measure}.{rule}" in vector.case.get("rules", [])]
    scopes = [known_facts(vector) for vector in told]
    assert [fact for fact in facts_in(when) if all(fact in scope for scope in scopes)] == []


def known_facts(vector):
    context = vector.given.get("context") or {}
    others = context.get("reading_facts") or {}
    dotted = {f"{name}.{fact}" for name, facts in others.items() for fact in facts}
    return {*answer(vector.call, vector.given)["facts"], *context, *dotted}


CHANGES = [(row, field) for row in data()["last_time"]["changes"] for field in row["fields"]]


@pytest.mark.parametrize(("row", "field"), CHANGES, ids=lambda part: part if isinstance(part, str) else "")
def test_every_kind_of_change_has_a_vector(row, field):
    kinds = {"better", "worse", "no_real_change", "none"} if "limit" in row else {"difference", "none"}
    begin = f"{row['measure']}.last_time.{field}."
    told = [vector.expected.get("fired", {}) for vector in JUDGED]
    fired = {rule for each in told for rule, level in each.items() if level}
    assert {begin + kind for kind in kinds} <= fired
