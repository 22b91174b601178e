"""The quick look at a reading says yes where the whole check has nothing to say, and nowhere else."""

import copy
import importlib
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_home_visits.build import build
from webapp.clinical import check_reading, measures, quick_check
from webapp.clinical.load import data
from webapp.schemas.check import SCHEMAS
from webapp.schemas.quick_look import quick_look

READINGS = [
    entry
    for entry in build(date(2026, 3, 4)).entries
    if entry["kind"] in measures and not entry["voids"] and "fields" in entry["body"]
]
NUMBERS = ["0", "10", "36.8", "9", "20", "30", "45", "60", "88", "95.5", "100", "101", "200", "300", "301"]
module = importlib.import_module("webapp.clinical.quick_check")  # its name in the package is the function
NOTHING = {"errors": [], "questions": []}


def numbers_of(measure):
    """The ids of its numbers, those within rows too."""
    parts = [*measure["fields"], *(part for field in measure["fields"] for part in field.get("item", []))]
    return {part["id"]: part for part in parts if part["type"] == "number"}


def value_of(draw, field):
    """A value that the schema of a field takes, often one that the check has a word to say about."""
    kind = field["type"]
    if kind == "number":
        edges = [*field.get("impossible", {}).values(), *field.get("unlikely", {}).values()]
        return draw(st.sampled_from([*edges, *NUMBERS]))
    ids = [each["id"] for each in field.get("choices", [])]
    if kind == "choice":
        return draw(st.sampled_from(ids))
    if kind == "choices":
        return draw(st.lists(st.sampled_from(ids), unique=True, max_size=3))
    if kind == "series":
        return draw(st.lists(rows(field), min_size=field["min"], max_size=field["max"]))
    return draw(st.sampled_from(["", "words"])) if kind == "text" else draw(st.booleans())


@st.composite
def rows(draw, field):
    """One row of a series."""
    chosen = [part for part in field["item"] if draw(st.integers(0, 9))]
    return {part["id"]: value_of(draw, part) for part in chosen}


@st.composite
def readings(draw):
    """A reading of the demo with a few fields, units or questions answered changed."""
    entry = copy.deepcopy(draw(st.sampled_from(READINGS)))
    measure, body = measures[entry["kind"]], entry["body"]
    for field in draw(st.lists(st.sampled_from(measure["fields"]), max_size=4)):
        if draw(st.integers(0, 4)) == 0:
            body["fields"].pop(field["id"], None)
        else:
            body["fields"][field["id"]] = value_of(draw, field)
    several = {own: part for own, part in numbers_of(measure).items() if len(part["units"]) > 1}
    for own, part in several.items():
        if draw(st.booleans()):
            codes = [each["code"] for each in part["units"]]
            body.setdefault("units", {})[own] = draw(st.sampled_from(codes))
    if draw(st.booleans()):
        body["confirmed"] = draw(st.lists(st.sampled_from([each["id"] for each in measure["fields"]])))
    return entry


@settings(max_examples=700)
@given(readings())
def test_it_says_yes_only_where_the_check_finds_nothing(entry):
    kind, body = entry["kind"], entry["body"]
    if quick_look(SCHEMAS[kind])(body):
        unconfirmed = {**body, "confirmed": []}
        assert quick_check(kind, body) == (check_reading(kind, unconfirmed) == NOTHING)


def test_what_is_in_order_is_seen_to_be_so():
    looked_at = [(entry["kind"], {**entry["body"], "confirmed": []}) for entry in READINGS]
    found = {kind: [] for kind in measures}
    for kind, body in looked_at:
        found[kind].append(quick_check(kind, body))
        assert found[kind][-1] == (check_reading(kind, body) == NOTHING), body
    assert all(map(any, found.values())), "a measure of which it can never say yes"


def test_each_row_is_looked_at():
    body = copy.deepcopy(next(each["body"] for each in READINGS if each["kind"] == "blood_pressure"))
    body["confirmed"] = []
    row = {"arm": "left", "systolic": "120", "diastolic": "80"}
    for last, good in (("119", True), ("80", False), ("81", True), ("200", True), ("201", False)):
        body["fields"]["readings"] = [row, {**row, "systolic": last}]
        assert (check_reading("blood_pressure", body) == NOTHING) is good
        assert quick_check("blood_pressure", body) is good


def test_what_was_not_measured_is_left_to_the_check():
    assert not quick_check("pulse", {"not_measured": {"reason": "refused"}})


@pytest.mark.parametrize(
    "change",
    [
        {"fields": {"temperature": {"shown": {"ge": ["temperature", "1"]}}}},
        {"fields": {"temperature": {"required": {"has": ["some_formula", "x"]}}}},
        {"check": {"field": "site", "unless": {"eq": ["as_typed", "x"]}}},
    ],
)
def test_data_that_asks_for_more_is_left_to_the_check(change, monkeypatch):
    body = {"fields": {"site": "oral", "temperature": "36.8"}}
    assert quick_check("temperature", body)
    measure = copy.deepcopy(measures["temperature"])
    for field in measure["fields"]:
        field.update(change.get("fields", {}).get(field["id"], {}))
    if "check" in change:
        made_up = {"id": "made_up", "level": "error", "message": "Made up."}
        measure["checks"].append({**made_up, **change["check"]})
    monkeypatch.setitem(data()["measures"], "temperature", measure)
    monkeypatch.setattr(module, "_looks", module._looks.__wrapped__)
    assert not quick_check("temperature", body)


@pytest.mark.parametrize(("required", "shown"), [(True, True), (False, True), (True, False)])
def test_what_is_empty_is_looked_at_where_it_is_required(required, shown, monkeypatch):
    measure = copy.deepcopy(measures["temperature"])
    remark = {"id": "remark", "type": "text", "label": "Remark", "required": required}
    measure["fields"].append(remark | ({} if shown else {"shown": {"eq": ["site", "axillary"]}}))
    monkeypatch.setitem(data()["measures"], "temperature", measure)
    monkeypatch.setattr(module, "_looks", module._looks.__wrapped__)
    rest = {"site": "oral", "temperature": "36.8"}
    assert quick_check("temperature", {"fields": rest | {"remark": "words"}}) == shown
    for nothing in ({}, {"remark": ""}):
        assert quick_check("temperature", {"fields": rest | nothing}) != (required and shown)
