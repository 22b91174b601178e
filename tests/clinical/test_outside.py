"""Held against other sources: published tables typed anew, other people's libraries, exact fractions.

Nothing here reads the limits from the data under test.
"""

import math
import random
import statistics
from decimal import ROUND_FLOOR, Decimal
from fractions import Fraction

import pytest

from webapp.clinical import baseline, convert, cuff_for, data, early_warning, judge_reading
from webapp.clinical.decimals import divide_half_up, from_scaled, round_text, to_scaled

CONTEXT = {"age": 70, "precautions": [], "first_visit": False, "settings": {"early_warning": True}}


def half_up(value: Fraction, places: int) -> Decimal:
    """Half up as floor(x + 1/2), in exact arithmetic."""
    step = Decimal(1).scaleb(-places)
    return Decimal(math.floor(value * 10**places + Fraction(1, 2))) * step


# Units: two libraries nobody here wrote.
TEMPERATURES = ["35", "36.8", "37", "37.9", "38", "39.5", "45", "25"]


@pytest.fixture(scope="module")
def pint():
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.fixture(scope="module")
def ucum():
    import ucumvert

    return ucumvert.PintUcumRegistry()


@pytest.mark.parametrize("celsius", TEMPERATURES)
def test_temperature_as_pint_has_it(pint, celsius):
    expected = pint.Quantity(float(celsius), "degC").to("degF").magnitude
    assert float(convert(celsius, "Cel", "[degF]")) == pytest.approx(expected, abs=0.0051)


@pytest.mark.parametrize(("value", "source", "target"), [
    *[(value, "Cel", "[degF]") for value in TEMPERATURES],
    *[(value, "[degF]", "Cel") for value in ("95", "98.6", "99.1", "100.4", "103.2")],
    *[(value, "[in_i]", "cm") for value in ("9", "12.5", "14")],
    *[(value, "cm", "[in_i]") for value in ("22", "34.4", "52")],
])  # fmt: skip
def test_conversion_as_ucumvert_has_it(ucum, value, source, target):
    expected = ucum.Quantity(float(value), ucum.from_ucum(source)).to(ucum.from_ucum(target)).magnitude
    assert float(convert(value, source, target)) == pytest.approx(expected, abs=0.0051)


def test_rounding_to_two_decimals_never_moves_a_fahrenheit_reading_over_a_limit():
    """Thresholds have one decimal in Celsius; a step of 0.1 F is never nearer to one than 0.01 C."""
    for tenths in range(770, 1131):
        exact = (Fraction(tenths, 10) - 32) * 5 / 9
        kept = Fraction(convert(f"{tenths // 10}.{tenths % 10}", "[degF]", "Cel"))
        for limit in (Fraction(n, 10) for n in range(340, 400)):
            assert (exact < limit, exact > limit) == (kept < limit, kept > limit)


# ACC/AHA 2017 Table 6, as a ladder of its own: test the highest first.
def category(systolic: int, diastolic: int) -> str | None:
    if systolic > 180 or diastolic > 120:
        return "severe"
    if systolic >= 140 or diastolic >= 90:
        return "stage_2"
    if 130 <= systolic <= 139 or 80 <= diastolic <= 89:
        return "stage_1"
    if 120 <= systolic <= 129:
        return "elevated"
    # At 100 and below the low zones of NEWS2 speak, and no category of raised pressure.
    return "normal" if systolic > 100 else None


def pressure(systolic: int, diastolic: int) -> dict:
    reading = {"arm": "left", "systolic": str(systolic), "diastolic": str(diastolic)}
    return {"fields": {"posture": "sitting", "method": "automatic", "readings": [reading]}}


def test_categories_over_the_whole_plane():
    names = {"severe", "stage_2", "stage_1", "elevated", "normal"}
    for systolic in range(85, 225, 3):
        for diastolic in range(45, min(130, systolic), 2):
            judged = judge_reading("blood_pressure", pressure(systolic, diastolic), CONTEXT)
            fired = {found["rule"].split(".")[1] for found in judged["findings"]} & names
            assert fired == {category(systolic, diastolic)} - {None}, (systolic, diastolic)


# AHA, Pickering 2005, cuff table.
PICKERING = [(22, 26, "small_adult"), (27, 34, "adult"), (35, 44, "large_adult"), (45, 52, "adult_thigh")]


def test_cuffs_over_every_whole_centimetre():
    for centimetres in range(10, 70):
        expected = next((name for low, high, name in PICKERING if low <= centimetres <= high), None)
        assert cuff_for(str(centimetres)) == expected


def test_derived_pressures_in_exact_fractions():
    for systolic in range(80, 200, 7):
        for diastolic in range(40, systolic - 5, 9):
            facts = judge_reading("blood_pressure", pressure(systolic, diastolic), CONTEXT)["facts"]
            mean = Fraction(systolic + 2 * diastolic, 3)
            assert int(facts["pulse_pressure"]) == systolic - diastolic
            assert Decimal(facts["mean_arterial_pressure"]) == half_up(mean, 0)
            assert Decimal(facts["mean_arterial_pressure_unrounded"]) == half_up(mean, 2)


def test_averages_in_exact_fractions():
    source = random.Random(20261125)
    for _ in range(300):
        values = [source.randint(90, 190) for _ in range(source.randint(1, 6))]
        body = pressure(0, 0)
        body["fields"]["readings"] = [
            {"arm": "left", "systolic": str(value), "diastolic": "60"} for value in values
        ]
        facts = judge_reading("blood_pressure", body, CONTEXT)["facts"]
        mean = Fraction(sum(values), len(values))
        assert Decimal(facts["systolic"]) == half_up(mean, 0)
        assert Decimal(facts["systolic_unrounded"]) == half_up(mean, 2)


# RCP NEWS2 Chart 1, each row as (highest value of the zone, score), the last zone open.
CHART = {
    "respiration": [(8, 3), (11, 1), (20, 0), (24, 2), (None, 3)],
    "oxygen_saturation": [(91, 3), (93, 2), (95, 1), (None, 0)],
    "systolic": [(90, 3), (100, 2), (110, 1), (219, 0), (None, 3)],
    "pulse": [(40, 3), (50, 1), (90, 0), (110, 1), (130, 2), (None, 3)],
    "temperature": [(350, 3), (360, 1), (380, 0), (390, 1), (None, 2)],
}


def chart_score(part: str, value: int) -> int:
    return next(score for top, score in CHART[part] if top is None or value <= top)


def whole_set(value: dict[str, int]) -> dict:
    tenths = value["temperature"]
    return {
        "respiration": {"fields": {"how": "count_60", "breaths": str(value["respiration"])}},
        "oxygen_saturation": {"fields": {"supply": "air", "saturation": str(value["oxygen_saturation"])}},
        "blood_pressure": pressure(value["systolic"], 40),
        "pulse": {"fields": {"how": "count_60", "beats": str(value["pulse"])}},
        "presentation": {"fields": {"consciousness": "alert", "warning_signs": ["none"]}},
        "temperature": {"fields": {"site": "oral", "temperature": from_scaled(tenths * 100_000)}},
    }


def test_early_warning_as_the_chart_scores_it():
    source = random.Random(2017)
    for _ in range(400):
        value = {
            "respiration": source.randint(4, 40),
            "oxygen_saturation": source.randint(80, 100),
            "systolic": source.randint(60, 240),
            "pulse": source.randint(30, 160),
            "temperature": source.randint(340, 410),
        }
        expected = {part: chart_score(part, number) for part, number in value.items()}
        found = early_warning(whole_set(value), CONTEXT)
        assert {part: found["parts"][part]["score"] for part in value} == expected
        assert found["total"] == sum(expected.values())
        band = "high" if found["total"] >= 7 else "medium" if found["total"] >= 5 else None
        band = band or ("low_medium" if 3 in expected.values() else "low" if found["total"] else "none")
        assert found["band"] == band


# TROPHY placebo arm: visit-to-visit SD 6.8 mmHg; reference change value at 95 %, two-sided.
def test_the_change_limit_is_the_published_formula():
    row = data()["baseline"]["change_limits"][0]
    assert (row["sd"], row["z"]) == ("6.8", "1.96")
    assert float(row["limit"]) == pytest.approx(math.sqrt(2) * 1.96 * 6.8, abs=0.0005)


def test_baseline_is_the_median_as_the_standard_library_has_it():
    source = random.Random(6)
    for _ in range(300):
        values = [f"{source.randint(350, 390) / 10:g}" for _ in range(source.randint(1, 6))]
        expected = statistics.median(Decimal(value) for value in values[:3])
        assert Decimal(baseline(values)["value"]) == expected


# Temperature: the nursing table of usual ranges, by site.
USUAL = {
    "oral": (358, 373),
    "axillary": (348, 363),
    "tympanic": (361, 379),
    "rectal": (368, 382),
    "temporal": (352, 367),
}


# Geneva 2019 (mean and two standard deviations) where it reaches further, rounded inwards to 0.1 degrees.
WIDER = {"oral": (358, 374), "axillary": (348, 369), "tympanic": (358, 379), "rectal": (364, 382)}


@pytest.mark.parametrize("site", USUAL)
def test_usual_temperature_by_site(site):
    low, high = USUAL[site]
    lowest, highest = WIDER.get(site, USUAL[site])
    for tenths in range(330, 410):
        body = {"fields": {"site": site, "temperature": from_scaled(tenths * 100_000)}}
        findings = judge_reading("temperature", body, CONTEXT)["findings"]
        fired = {found["rule"].split(".")[1] for found in findings}
        where = "below" if tenths < low else "above" if tenths > high else "within"
        if where != "within" and lowest <= tenths <= highest:
            where = "ranges_differ"
        assert f"{site}_{where}" in fired
        assert ("fever" in fired or "very_high" in fired) == (tenths >= 380)
        armpit = site == "axillary" and 348 <= tenths <= 350
        assert ("armpit_low" in fired) == armpit
        assert ("hypothermia" in fired) == (tenths < 350 and not armpit)


# The arithmetic itself, against the decimal module.
def test_rounding_against_decimal():
    source = random.Random(1)
    for _ in range(2000):
        text = from_scaled(source.randint(-(10**12), 10**12))
        places = source.randint(0, 4)
        shifted = Decimal(text).scaleb(places) + Decimal("0.5")
        assert Decimal(round_text(text, places)) == shifted.to_integral_value(ROUND_FLOOR).scaleb(-places)
        assert from_scaled(to_scaled(text)) == text


HALVES = [(5, 2, 3), (-5, 2, -2), (4, 2, 2), (1, 3, 0), (2, 3, 1)]


@pytest.mark.parametrize(("number", "by", "expected"), HALVES)
def test_half_goes_up(number, by, expected):
    assert divide_half_up(number, by) == expected
