"""The clinical data: it holds together, its words agree with its numbers, and a slip is refused at load."""

import copy
import re
from pathlib import Path

import pytest

from webapp.clinical import data, measures
from webapp.clinical.decimals import SCALE, is_decimal, to_scaled
from webapp.clinical.expressions import evaluate
from webapp.clinical.load import read_data
from webapp.clinical.validate import DataError, check_data, fact_names

from .limits import rule_limits, step_of

ROOT = Path(__file__).resolve().parents[2]
STATUSES = {
    "confirmed",
    "confirmed (secondary)",
    "from memory",
    "our choice",
    "common practice, no source",
    "set for this client",
}
DIAGNOSES = r"diagnos|hypertens|hypoten|tachy|brady|fibrill|hypox|sepsis|stroke|disease"
LOINC = {"85354-9", "8480-6", "8462-4", "8867-4", "9279-1", "8310-5", "2708-6", "59408-5", "3151-8"}
ALL_RULES = [(name, rule) for name, measure in measures.items() for rule in measure["rules"]]
RULE_IDS = [f"{name}.{rule['id']}" for name, rule in ALL_RULES]


@pytest.mark.parametrize("name", measures)
def test_a_measure_names_the_shape_of_its_body_apart_from_its_limits(name):
    """A new limit must not have older phones set the reading aside: only another shape does."""
    assert isinstance(measures[name]["schema"], int) and isinstance(measures[name]["version"], int)


def first_rule(loaded):
    return loaded["measures"]["pulse"]["rules"][0]


def first_field(loaded):
    return loaded["measures"]["pulse"]["fields"][1]


BREAKS = {
    "unknown operator": lambda loaded: first_rule(loaded).update(when={"near": ["rate", "5"]}),
    "unknown source": lambda loaded: first_rule(loaded).update(source="somebody"),
    "unknown fact": lambda loaded: first_rule(loaded).update(when={"le": ["speed", "40"]}),
    "not a decimal": lambda loaded: first_rule(loaded).update(when={"le": ["rate", 40]}),
    "takes 2 arguments": lambda loaded: first_rule(loaded).update(when={"le": ["rate"]}),
    "in takes a list": lambda loaded: first_rule(loaded).update(when={"in": ["rhythm", "regular"]}),
    "not an expression": lambda loaded: first_rule(loaded).update(when={}),
    "unknown level": lambda loaded: first_rule(loaded).update(level="panic"),
    "unknown group": lambda loaded: first_rule(loaded).update(group="nowhere"),
    "unknown fact speed": lambda loaded: first_rule(loaded).update(because="{speed} is fast."),
    "needs a scale": lambda loaded: first_rule(loaded).pop("scale"),
    "twice": lambda loaded: first_rule(loaded).update(id="very_fast"),
    "unknown unit": lambda loaded: first_field(loaded)["units"].append({"code": "furlong"}),
    "its own unit": lambda loaded: first_field(loaded).update(unit="/min"),
    "unknown reason": lambda loaded: loaded["measures"]["pulse"]["not_measured"].append("bored"),
    "lacks a status": lambda loaded: loaded["sources"]["fever"].update(status=""),
    "early_warning: unknown fact": lambda loaded: loaded["early_warning"]["parts"][0].update(fact="pulse.x"),
    "visit: unknown section": lambda loaded: loaded["measures"]["pulse"].update(section="nowhere"),
    "either measures or a path": lambda loaded: loaded["visit"]["sections"].append({"id": "empty"}),
    "section vital_signs twice": lambda loaded: loaded["visit"]["sections"].append({"id": "vital_signs"}),
    "baseline: change limit": lambda loaded: loaded["baseline"]["change_limits"][0].update(limit="much"),
}


def test_the_data_holds_together():
    check_data(read_data())


@pytest.mark.parametrize("slip", BREAKS)
def test_a_slip_is_refused(slip):
    broken = copy.deepcopy(read_data())
    BREAKS[slip](broken)
    with pytest.raises(DataError, match=slip):
        check_data(broken)


def test_an_unknown_operator_deep_inside_is_refused():
    broken = copy.deepcopy(read_data())
    first_rule(broken)["when"] = {"all": [{"not": {"any": [{"about": ["rate", "5"]}]}}]}
    with pytest.raises(DataError, match="unknown operator about"):
        check_data(broken)


def test_every_source_says_how_sure_it_is():
    assert {source["status"] for source in data()["sources"].values()} <= STATUSES
    assert all(source["title"] and "note" in source for source in data()["sources"].values())


def test_every_source_is_used():
    text = repr({name: part for name, part in data().items() if name != "sources"})
    assert [name for name in data()["sources"] if f"'{name}'" not in text] == []


def test_no_rule_rests_on_memory():
    statuses = {rule["id"]: data()["sources"][rule["source"]]["status"] for _, rule in ALL_RULES}
    assert [name for name, status in statuses.items() if status == "from memory"] == []


@pytest.mark.parametrize(("measure", "rule"), ALL_RULES, ids=RULE_IDS)
def test_the_words_for_the_client_are_short_and_no_diagnosis(measure, rule):
    assert 10 < len(rule["plain"]) <= 110
    assert not re.search(DIAGNOSES, rule["plain"], re.I)
    assert not re.search(r"\d", rule["plain"])


@pytest.mark.parametrize(("measure", "rule"), ALL_RULES, ids=RULE_IDS)
def test_the_reason_prints_the_limit_it_rests_on(measure, rule):
    printed = {to_scaled(number) for number in re.findall(r"\d+(?:\.\d+)?", rule["because"])}
    for limit in rule_limits(measure):
        # Above 0 only asks whether there is any.
        if limit.owner == f"{measure}.{rule['id']}" and limit.value != "0":
            step = step_of(measure, limit.fact)
            assert {to_scaled(limit.value) + moved for moved in (-step, 0, step)} & printed, limit.name


@pytest.mark.parametrize(("measure", "rule"), ALL_RULES, ids=RULE_IDS)
def test_the_scale_of_a_rule_lies_where_it_fires(measure, rule):
    scale = rule.get("scale")
    ends = [scale[end] for end in ("low", "high") if scale and scale[end] is not None]
    assert [end for end in ends if evaluate(rule["when"], {scale["field"]: end}) is False] == []


def mod_10(code: str) -> bool:
    """The check digit of a LOINC code (Luhn)."""
    digits = [int(digit) for digit in code.replace("-", "")]
    doubled = [digit * 2 if place % 2 else digit for place, digit in enumerate(reversed(digits))]
    return sum(digit - 9 if digit > 9 else digit for digit in doubled) % 10 == 0


def test_loinc_codes_pass_their_check_digit():
    assert set(re.findall(r"'(\d{4,5}-\d)'", repr(measures))) == LOINC
    assert all(mod_10(code) for code in LOINC)
    assert not mod_10("3150-6")  # a published slip: the check has to be able to fail


@pytest.mark.parametrize("name", measures)
def test_a_measure_has_what_a_screen_needs(name):
    measure = measures[name]
    assert measure["title"] and measure["why"].endswith(".") and measure["summary"]
    assert set(measure["value"]) <= fact_names(measure)
    assert all(step["text"] for step in measure["technique"])


def test_decimals_of_the_limits_fit_their_fields():
    for measure in measures.values():
        for field in measure["fields"]:
            for end in (*field.get("impossible", {}).values(), *field.get("unlikely", {}).values()):
                assert is_decimal(end) and to_scaled(end) % (SCALE // 10 ** field["decimals"]) == 0


def test_the_stop_limits_told_before_the_task_are_those_judged_after_it():
    measure = measures["activity_tolerance"]
    own = [rule["id"] for rule in measure["rules"] if rule["source"] == measure["stop_limits"]["source"]]
    judged = {limit.value for limit in rule_limits(measure["id"]) if limit.owner.split(".")[1] in own}
    falls = [limit.value for limit in rule_limits(measure["id"]) if limit.fact == "systolic_fall"]
    assert set(re.findall(r"\d+", measure["stop_limits"]["text"])) == judged | set(falls)


def because_of(measure, rule):
    return next(each["because"] for each in measures[measure]["rules"] if each["id"] == rule)


def test_the_words_on_recovery_print_its_margin_and_its_last_moment():
    measure = measures["activity_tolerance"]
    margin = measure["parameters"]["recovered_within"]["value"]
    last = str(measure["moments"][-1]["seconds"] // 60)
    assert re.findall(r"\d+", because_of("activity_tolerance", "not_recovered")) == [last, margin]
    assert re.findall(r"\d+", because_of("activity_tolerance", "recovered")) == [margin]


def test_the_words_on_a_person_outside_the_table_print_its_ages():
    ages = re.findall(r"'between': \['age', '(\d+)', '(\d+)'\]", repr(measures["chair_stand"]["looked_up"]))
    ends = [min(low for low, _ in ages), max(high for _, high in ages)]
    assert re.findall(r"\d+", because_of("chair_stand", "no_table")) == ends


# Keys that are ids of what they hold, and are looked up by a value of the data.
BY_ID = "facts figures above below sides kinds messages problems parameters conclusions".split()
FILES_BY_ID = {"sources", "units", "messages", "reasons", "precautions", "measures"}
# What the limit of change was worked out from (test_outside does it again), and a code for a later export.
TOLD_ONLY = {"sd", "z", "loinc_also"}


def keys_in(value, holder=""):
    """Every key of the data that is not the id of what it holds."""
    if isinstance(value, list):
        yield from (key for part in value for key in keys_in(part))
    elif isinstance(value, dict):
        for key, part in value.items():
            yield from () if holder in BY_ID else (key,)
            yield from keys_in(part, key)


def test_every_key_of_the_data_is_read_by_some_code():
    files = [path for folder in ("static", "webapp") for path in (ROOT / folder).rglob("*.*")]
    own = [path for path in files if not {"built", "node_modules"} & {*path.parts}]
    code = [path for path in own if path.suffix in (".js", ".py", ".html")]
    words = {word for path in code for word in re.findall(r"\w+", path.read_text(encoding="utf-8"))}
    parts = [part for name, part in data().items() if name not in FILES_BY_ID]
    keys = {key for part in [*parts, *data()["measures"].values()] for key in keys_in(part)}
    assert sorted(key for key in keys - words - TOLD_ONLY if not key.endswith("source")) == []
