"""Every number of the rules is pinned: move it by one step, and a vector notices."""

import pytest

from webapp.clinical import data, measures
from webapp.clinical.decimals import SCALE, is_decimal

from .limits import rule_limits, score_limits, step_of
from .mutants import survives
from .vectors import all_vectors

VECTORS = all_vectors()
LIMITS = [(name, limit) for name in measures for limit in rule_limits(name)]
FACTS = {part["id"]: part["fact"].split(".") for part in data()["early_warning"]["parts"]}


@pytest.mark.parametrize(("measure", "limit"), LIMITS, ids=[limit.name for _, limit in LIMITS])
def test_a_rule_moved_by_a_step(measure, limit):
    vectors = [vector for vector in VECTORS if vector.given.get("measure") == measure]
    step = step_of(measure, limit.fact)
    survivors = survives(limit.arguments, limit.place, step, vectors)
    assert len(survivors) <= shadowed(measure, limit)


def shadowed(measure, limit) -> int:
    """How many ways a limit may move unseen: of a group the first rule that holds fires, so a later rule
    may reach into the values of an earlier one without any difference."""
    rules = measures[measure]["rules"]
    own = next(rule for rule in rules if f"{measure}.{rule['id']}" == limit.owner)
    earlier = rules[: rules.index(own)]
    return int("group" in own and any(rule.get("group") == own["group"] for rule in earlier))


@pytest.mark.parametrize("limit", score_limits(), ids=lambda limit: f"{limit.name} at {limit.place}")
def test_a_zone_moved_by_a_step(limit):
    vectors = [vector for vector in VECTORS if vector.call == "early_warning"]
    step = step_of(*FACTS[limit.owner])
    rows = [each for each in score_limits() if each.owner == limit.owner]
    # The first row that holds gives the score, so the lower end of a later row may reach below unseen.
    assert len(survives(limit.arguments, limit.place, step, vectors)) <= int(limit != rows[0])


@pytest.mark.parametrize("end", ["low", "high"])
@pytest.mark.parametrize("cuff", data()["cuffs"]["cuffs"], ids=lambda cuff: cuff["id"])
def test_a_cuff_moved_by_a_step(cuff, end):
    vectors = [vector for vector in VECTORS if vector.call == "cuff_for"]
    # The table is read from the smallest cuff up: a lower end may reach into the cuff before it unseen.
    unseen = int(end == "low" and cuff is not data()["cuffs"]["cuffs"][0])
    assert len(survives(cuff, end, SCALE, vectors)) <= unseen


FIELDS = [
    (name, field)
    for name, measure in measures.items()
    for top in measure["fields"]
    for field in (top, *top.get("item", []))
    if "impossible" in field
]


FIELD_NAMES = [f"{name}.{field['id']}" for name, field in FIELDS]


@pytest.mark.parametrize("end", ["low", "high"])
@pytest.mark.parametrize("kind", ["impossible", "unlikely"])
@pytest.mark.parametrize(("measure", "field"), FIELDS, ids=FIELD_NAMES)
def test_an_entry_limit_moved_by_a_step(measure, field, kind, end):
    vectors = [vector for vector in VECTORS if vector.given.get("measure") == measure]
    step = SCALE // 10 ** field["decimals"]
    # Where both kinds end at the same value, what lies beyond is refused before it could be asked.
    unseen = int(kind == "unlikely" and field["impossible"][end] == field["unlikely"][end])
    assert len(survives(field[kind], end, step, vectors)) <= unseen


def test_the_change_limit_and_the_ages():
    change = data()["baseline"]["change_limits"][0]
    assert survives(change, "limit", SCALE, VECTORS) == []
    assert survives(data()["conclusions"]["adult"], "from_age", SCALE, VECTORS) == []
    assert survives(data()["early_warning"], "from_age", SCALE, VECTORS) == []


def test_the_inflation_margin():
    margin = measures["blood_pressure"]["parameters"]["inflate_above_estimate"]
    assert survives(margin, "value", SCALE, VECTORS) == []


CHANGES = [row for row in data()["last_time"]["changes"] if "limit" in row]


@pytest.mark.parametrize("row", CHANGES, ids=lambda row: f"{row['measure']}.{row['limit']}")
def test_a_change_since_the_last_time_moved_by_a_step(row):
    vectors = [vector for vector in VECTORS if vector.given.get("measure") == row["measure"]]
    # As far as the results of the measure can tell: a whole stand, a tenth of a second or a kilogram.
    step = step_of(row["measure"], row["fields"][0])
    assert survives(row, "limit", step, vectors) == []


TABLES = [(name, row) for name in measures for row in measures[name].get("looked_up", {}).get("rows", [])]


@pytest.mark.parametrize(("measure", "row"), TABLES, ids=lambda part: part if isinstance(part, str) else None)
def test_a_cell_of_a_table_moved_by_a_step(measure, row):
    vectors = [vector for vector in VECTORS if vector.given.get("measure") == measure]
    assert survives(row, "value", SCALE, vectors) == []


@pytest.mark.parametrize("key", ["from", "per_year"])
@pytest.mark.parametrize("row", [1, 2], ids=["slowed", "else"])
def test_the_rate_foretold_from_the_age(row, key):
    vectors = [vector for vector in VECTORS if vector.given.get("measure") == "activity_tolerance"]
    rates = measures["activity_tolerance"]["rate_reserve"]["rates"]
    assert survives(rates[row], key, SCALE if key == "from" else SCALE // 10, vectors) == []


def test_the_margin_of_recovery():
    vectors = [vector for vector in VECTORS if vector.given.get("measure") == "activity_tolerance"]
    margin = measures["activity_tolerance"]["parameters"]["recovered_within"]
    assert survives(margin, "value", SCALE, vectors) == []


def decimals_in(holder, name):
    """Every decimal text in a part of the data: its holder, its key, where it stands."""
    for key, value in holder.items() if isinstance(holder, dict) else enumerate(holder):
        if isinstance(value, (dict, list)):
            yield from decimals_in(value, f"{name}.{key}")
        elif is_decimal(value):
            yield pytest.param(holder, key, id=f"{name}.{key}")


HOME = [vector for vector in VECTORS if vector.call in ("ramp", "place_findings", "check_described")]
LENGTHS = data()["described"]["lengths"]


@pytest.mark.parametrize(
    ("holder", "key"), [*decimals_in(data()["home"], "home"), *decimals_in(LENGTHS, "lengths")]
)
def test_a_figure_of_the_home_moved_by_a_step(holder, key):
    assert survives(holder, key, SCALE // 10 ** LENGTHS["decimals"], HOME) == []


def test_the_slope_of_a_ramp_and_the_correlation_of_goals():
    scores = [vector for vector in VECTORS if vector.call == "attainment_score"]
    assert survives(data()["home"]["ramp"], "run_per_rise", SCALE, HOME) == []
    assert survives(data()["goals"], "correlation_tenths", SCALE, scores) == []
