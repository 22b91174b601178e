"""What is described: the data holds together; T-score and ramp against exact arithmetic of another kind.

Reference for the formula: erratum to Turner-Stokes, Clin Rehabil 2009;23:362-370 (Kiresuk and Sherman 1968).
Reference for ramps: 2010 ADA Standards 405. Nothing here reads the figures from the data under test.
"""

import json
import math
import random
from decimal import Decimal, localcontext

from webapp.clinical import attainment_score, data, described_kinds, field_choices, measures, ramp

from .calls import answer
from .node import ask_node

SEED = 20261126


def score_by_decimal(weights: list[int], levels: list[int]) -> Decimal | None:
    """The formula as printed, with 50 digits."""
    with localcontext() as context:
        context.prec = 50
        bottom = Decimal("0.7") * sum(each**2 for each in weights) + Decimal("0.3") * sum(weights) ** 2
        if not bottom:
            return None
        reached = sum(weight * level for weight, level in zip(weights, levels, strict=True))
        return 50 + 10 * Decimal(reached) / bottom.sqrt()


def random_goals(source: random.Random) -> list[dict[str, int]]:
    count = source.randint(0, 12)
    return [{"weight": source.randint(0, 9), "level": source.randint(-2, 2)} for _ in range(count)]


def test_the_score_is_the_printed_formula_to_the_last_digit():
    source = random.Random(SEED)
    for _ in range(2000):
        goals = random_goals(source)
        expected = score_by_decimal([each["weight"] for each in goals], [each["level"] for each in goals])
        score = attainment_score(goals)
        assert (score is None) == (expected is None)
        assert score is None or abs(Decimal(score) - expected) <= Decimal("0.0000005")


def test_equal_goals_reached_as_expected_score_fifty_whatever_their_number():
    assert {attainment_score([{"weight": 1, "level": 0}] * count) for count in range(1, 30)} == {"50"}


def test_a_ramp_is_twelve_times_its_rise_with_a_landing_every_thirty_inches():
    for tenths in range(1, 1500):
        found = ramp(str(Decimal(tenths) / 10), "[in_i]")
        rise = tenths / 10
        assert float(found["run"]) == 12 * rise or math.isclose(float(found["run"]), 12 * rise)
        assert found["runs"] == math.ceil(tenths / 300)
        assert math.isclose(float(found["total"]), 12 * rise + 60 * (math.ceil(tenths / 300) - 1))
        assert abs(float(found["surface"]) - math.hypot(rise, 12 * rise)) <= 0.0501
        assert found["rails"] == (tenths > 60)


def random_questions(source: random.Random) -> list[tuple[str, dict]]:
    questions: list[tuple[str, dict]] = []
    for _ in range(150):
        questions.append(("attainment_score", {"parts": random_goals(source)}))
        rise = {
            "rise": f"{source.randint(0, 400)}.{source.randint(1, 9)}",
            "unit": source.choice(["cm", "[in_i]"]),
        }
        questions.append(("ramp", rise))
        questions += [random_body(source) for _ in range(4)]
    return questions


def random_body(source: random.Random) -> tuple[str, dict]:
    kind, about = source.choice(list(described_kinds().items()))
    values = {field["id"]: random_value(source, field) for field in about["fields"] if source.random() < 0.8}
    if source.random() < 0.2:
        values["ended"] = {"how": source.choice(["done", "other", "x"]), "day": "2026-02-28", "note": None}
    item = source.choice([None, "a1"])
    observed = about["shape"] == "observation"
    body = {"about": None, "fields": values} if observed else {"item": item, "set": values, "seen": {}}
    return "check_described", {"kind": kind, "body": body, "today": "2026-03-10"}


def random_value(source: random.Random, field: dict):
    if source.random() < 0.2:
        return source.choice(
            [None, "", " ", "x", "12", 5, True, [], {}, ["pulse"], "2026-13-01", "٣", "\u2028"]
        )
    made = {
        "text": lambda: source.choice(["é", "😀" * source.randint(1, 510), "x" * 2001]),
        "choice": lambda: source.choice(field_choices(field))["id"] if source.random() < 0.9 else "x",
        "activity_code": lambda: source.choice(["d540", "d510", "d5"]),
        "day": lambda: source.choice(["2026-03-09", "2026-03-10", "2027-02-29", "2028-02-29", "0000-01-01"]),
        "count": lambda: str(source.randint(-1, 202)),
        "length": lambda: {
            "value": f"{source.randint(0, 3200)}",
            "unit": source.choice(["cm", "[in_i]", "m"]),
        },
        "item": lambda: "a1",
        "measures": lambda: source.sample(list(measures), 2),
        "key": lambda: source.choice(["changed", "goal_review:g1", "Changed", "goal_review:G1", "a:b:c"]),
        "rules": lambda: source.choice([["changed", "own:r1"], ["changed", 5], "changed"]),
    }
    return made[field["type"]]()


def test_both_languages_agree_on_random_goals_ramps_and_bodies():
    questions = random_questions(random.Random(SEED))
    in_python = [json.loads(json.dumps(answer(*each))) for each in questions]
    asked = zip(questions, in_python, ask_node(questions), strict=True)
    assert [each for each in asked if each[1] != each[2]][:1] == []
    codes = {each["code"] for found in in_python for each in found.get("problems", [])}
    assert codes >= {
        "required",
        "too_long",
        "unknown_choice",
        "not_a_day",
        "impossible",
        "wrong_type",
        "past_day",
    }
    assert sum(found.get("problems") == [] for found in in_python) > 30


def test_every_code_is_of_its_chapter_and_named_once():
    codes = data()["activities"]["codes"]
    chapters = [each["id"] for each in data()["activities"]["chapters"]]
    assert all(each["chapter"] == each["code"][:2] and each["chapter"] in chapters for each in codes)
    assert len({each["code"] for each in codes}) == len(codes) == len({each["label"] for each in codes})


def test_no_percent_is_without_a_qualifier_or_has_two():
    bands = [each["percent"] for each in data()["activities"]["qualifiers"] if "percent" in each]
    shares = [share for band in bands for share in range(int(band["low"]), int(band["high"]) + 1)]
    assert shares == list(range(101))


def test_every_kind_refers_to_what_there_is():
    kinds = described_kinds()
    sections = {each["id"] for each in data()["described"]["sections"]}
    for about in kinds.values():
        assert about["section"] in sections and about["shape"] in ("item", "observation", "single")
        assert about["says"] in [field["id"] for field in about["fields"]]
        assert about.get("about") is None or kinds[about["about"]]["shape"] == "item"
        for field in about["fields"]:
            assert field.get("of") is None or kinds[field["of"]]["shape"] == "item"
            ids = [each["id"] for each in field_choices(field)] if field["type"] == "choice" else []
            assert len(ids) == len(set(ids))
    levels = {each["field"] for each in data()["goals"]["levels"]}
    assert levels <= {field["id"] for field in kinds["goal"]["fields"]}


def test_no_kind_of_a_description_is_the_name_of_a_measure():
    assert not set(described_kinds()) & set(measures)
