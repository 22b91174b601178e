"""What is wrong with an entry is told by code, field and sentence; what is right is taken.

Each case is examined alone, without a database; then all of them together go through a push on each database.
"""

import copy
import json
from typing import Any

import pytest

from sync.strict_json import parse
from tests.webapp.support import PRESSURE, TEMPERATURE, House, entry_of, refusal_of

UUID = "00000000-0000-4000-8000-00000000000a"
DETAILS = {
    "set": {"name": "Invented Person", "birth_date": "1940-02-29"},
    "seen": {"name": [], "birth_date": [UUID]},
}
CONCLUSION = {"suggested": "go_on", "chosen": "go_on", "reasons": [], "override_reason": None, "missing": [],
              "data_version": "1"}  # fmt: skip
TARGET = {
    "measure": "blood_pressure",
    "field": "systolic",
    "low": "110",
    "high": "150",
    "set_by": "the doctor",
    "note": "",
}
OWN_RULE = {"name": "Every ten days", "type": "every_days", "days": "10", "why": "New hip"}
RISE = {"value": "15.5", "unit": "[in_i]"}
PLANNED = {"date": "2027-01-04", "time": "09:30", "minutes": 45, "purpose": "", "therapist": UUID}

POSTURE = {
    "start": "lying", "rest_systolic": "130", "rest_diastolic": "80", "one_systolic": "126",
    "one_diastolic": "78", "one_symptoms": ["none"], "three_systolic": "128", "three_diastolic": "79",
    "three_symptoms": ["none"], "ended": "finished",
}  # fmt: skip
WALK = {"pace": "usual", "aid": "none", "distance": "4", "seconds": "4.6"}
GOOD = [
    ("temperature", TEMPERATURE),
    ("temperature", {"fields": {"site": "oral", "temperature": "98.2"}, "units": {"temperature": "[degF]"}}),
    ("temperature", {"not_measured": {"reason": "refused", "note": ""}}),
    ("temperature", {"fields": {"site": "oral", "temperature": "41"}, "confirmed": ["temperature"]}),
    ("blood_pressure", PRESSURE),
    ("pulse", {"fields": {"site": "radial_left", "how": "typed", "rate": "72", "rhythm": "regular"}}),
    ("respiration", {"fields": {"how": "count_30", "breaths": "8", "pattern": "regular"}}),
    ("oxygen_saturation", {"fields": {"supply": "oxygen", "flow": "2", "saturation": "91"}}),
    ("presentation", {"fields": {"consciousness": "alert", "warning_signs": ["none"]}}),
    ("postural_blood_pressure", {"fields": POSTURE}),
    ("activity_tolerance", {"fields": {"task": "stairs", "after_effort": "5", "ended": "finished"}}),
    ("timed_up_and_go", {"fields": {"aid": "stick", "seconds": "13.5", "ended": "finished"}}),
    ("chair_stand", {"fields": {"arms": "no", "stands": "9", "ended": "finished"}}),
    ("balance_stages", {"fields": {"side_by_side": "10", "instep": "6.5", "ended": "finished"}}),
    ("walking_speed", {"fields": {**WALK, "ended": "finished"}}),
    ("grip_strength", {"fields": {"tries": [{"hand": "left", "force": "22.5"}], "ended": "finished"}}),
    ("details", DETAILS),
    ("contact", {"name": "A neighbour", "relation": "neighbour", "phone": "01632 960000"}),
    ("precaution", {"code": "falls_risk", "text": ""}),
    ("precaution", {"code": "falls_risk", "text": "", "ended": {"day": "2026-11-25", "why": "Walks safely"}}),
    ("target", {**TARGET, "ended": {"day": "2026-11-25", "why": "No longer needed"}}),
    ("target", TARGET),
    ("target", {**TARGET, "low": None}),
    ("activity", {"item": None, "set": {"name": "Socks", "code": "d540"}, "seen": {}}),
    ("activity", {"item": UUID, "set": {"why": None, "ended": None}, "seen": {"why": [UUID]}}),
    ("activity_rating", {"about": UUID, "fields": {"difficulty": "8", "told_by": "client"}}),
    ("goal", {"item": None, "set": {"name": "The chair", "baseline": "-1"}, "seen": {}}),
    ("place", {"item": None, "set": {"name": "Door", "type": "entrance", "rise": RISE}, "seen": {}}),
    ("hazard", {"item": UUID, "set": {"ended": {"how": "done", "day": "2026-11-25"}}, "seen": {}}),
    ("lower_leg", {"about": None, "fields": {"length": {"value": "43.5", "unit": "cm"}}}),
    ("reassessment", {"item": None, "set": {"date": "2027-01-04", "reason": "Four weeks"}, "seen": {}}),
    ("care_period", {"item": None, "set": {"starts_on": "2026-11-01", "ends_on": None}, "seen": {}}),
    ("care_period", {"item": None, "set": {"ends_on": "2027-01-30"}, "seen": {"starts_on": [UUID]}}),
    ("reassessed", {"about": None, "fields": {"scope": "functional", "note": "Walks further"}}),
    ("postponement", {"about": None, "fields": {"due": "changed", "until": "2127-01-04", "reason": "Away"}}),
    ("pause", {"item": None, "set": {"from": "2026-11-20", "reason": "hospital"}, "seen": {}}),
    ("pause", {"item": UUID, "set": {"ended": {"how": "resumed", "day": "2026-11-25"}}, "seen": {}}),
    ("discharge", {"item": None, "set": {"day": "2026-11-25", "reason": "moved"}, "seen": {}}),
    ("reassessment_rule", {"item": None, "set": OWN_RULE, "seen": {}}),
    ("client_rules", {"item": None, "set": {"left_out": ["changed"], "why": "Says so"}, "seen": {}}),
    ("visit_planned", PLANNED),
    ("visit_started", {"first": True}),
    ("visit_conclusion", CONCLUSION),
    ("visit_conclusion", {**CONCLUSION, "chosen": "take_care", "override_reason": "looks tired"}),
    ("visit_finished", {"note": ""}),
    ("visit_finished", {"note": "", "signed_by": "Oriane Tetteh"}),
    ("note", {"text": "مريم 😀 e\u0301\u202e\n<img src=x onerror=alert(1)> ' OR 1=1-- {{7*7}}"}),
]


@pytest.mark.parametrize(("kind", "body"), GOOD, ids=lambda value: value if isinstance(value, str) else "")
def test_what_is_right_is_taken(kind, body):
    assert refusal_of(entry_of(kind, body, visit=UUID)) is None


def test_what_is_right_comes_back_unchanged_from_both_databases(ann):
    entries = [ann.entry(kind, body, visit=UUID) for kind, body in GOOD]
    assert [verdict["verdict"] for verdict in ann.sync(*entries)["verdicts"]] == ["applied"] * len(GOOD)
    assert [stored["body"] for stored in ann.pull()["entries"]] == [body for _, body in GOOD]


def changed(body: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    """A copy of a body with one value put, or taken out when the value is Ellipsis."""
    made = copy.deepcopy(body)
    *steps, last = path.split(".")
    place: Any = made
    for step in steps:
        place = place[int(step)] if isinstance(place, list) else place.setdefault(step, {})
    if value is ...:
        del place[last]
    else:
        place[last] = value
    return made


T, P = ("temperature", TEMPERATURE), ("blood_pressure", PRESSURE)
D, V = ("details", DETAILS), ("visit_planned", PLANNED)
C, G = ("visit_conclusion", CONCLUSION), ("target", TARGET)
S, F = "fields.readings.0.systolic", "fields.temperature"
A = ("activity", {"item": None, "set": {"name": "Socks", "code": "d540"}, "seen": {}})
R = ("reassessment", {"item": None, "set": {"date": "2027-01-04", "reason": "Four weeks"}, "seen": {}})
H = ("place", {"item": None, "set": {"name": "Door", "type": "entrance", "rise": RISE}, "seen": {}})
E = ("precaution", {"code": "falls_risk"})
Q = ("postponement", {"about": None, "fields": {"due": "changed", "until": "2127-01-04", "reason": "Away"}})
K = ("reassessment_rule", {"item": None, "set": OWN_RULE, "seen": {}})
BAD = [
    (A, "set.code", "d999", "unknown_choice", "set.code"),
    (A, "set.name", ..., "required", "name"),
    (A, "set.name", " ", "required", "name"),
    (A, "set.matters", "very", "unknown_choice", "set.matters"),
    (A, "set.ended", {"how": "done", "day": "2026-11-25"}, "unknown_choice", "set.ended.how"),
    (A, "set.ended", {"how": "reached"}, "required", "set.ended.day"),
    (A, "set", {}, "required", "name"),
    (A, "item", "one", "not_an_id", "item"),
    (A, "seen.name", ["one"], "not_an_id", "seen.name.0"),
    (A, "seen.colour", [UUID], "unknown_field", "seen.colour"),
    (R, "item", UUID, "unknown_field", "item"),
    (R, "set.date", "1999-01-01", "past_day", "date"),
    (R, "set.reason", ..., "required", "reason"),
    (H, "set.rise", {"value": "0", "unit": "cm"}, "impossible", "rise"),
    (H, "set.rise", {"value": "15,5", "unit": "cm"}, "decimal_comma", "set.rise"),
    (H, "set.rise", {"value": "15.5", "unit": "m"}, "unknown_choice", "set.rise.unit"),
    (H, "set.rise", "15.5", "wrong_type", None),
    (H, "set.steps", "1.5", "too_many_decimals", "set.steps"),
    (T, F, "99.9", "impossible", "temperature"),
    (T, F, "3", "impossible", "temperature"),
    (T, F, "41", "unconfirmed", "temperature"),
    (T, F, "36,8", "not_canonical", "temperature"),
    (T, F, "036.8", "not_canonical", "temperature"),
    (T, F, "36.80", None, "temperature"),
    (T, F, "36.85", "too_many_decimals", "temperature"),
    (T, F, "warm", "not_a_number", "temperature"),
    (T, F, "", None, "temperature"),
    (T, F, None, "required", "temperature"),
    (T, F, ..., "required", "temperature"),
    (T, F, 37, "wrong_type", "temperature"),
    (T, F, True, "wrong_type", "temperature"),
    (T, F, ["36.8"], "wrong_type", "temperature"),
    (T, F, {"value": "36.8"}, "wrong_type", "temperature"),
    (T, "fields.site", "elbow", "unknown_choice", "site"),
    (T, "fields.site", ["oral"], "wrong_type", "site"),
    (T, "fields.colour", "red", "unknown_field", "colour"),
    (T, "units.temperature", "K", "wrong_unit", "units.temperature"),
    (T, "units.temperature", "cel", "wrong_unit", "units.temperature"),
    (T, "units.temperature", "[degF]", "impossible", "temperature"),
    (T, "units.site", "Cel", "unknown_field", "units.site"),
    (T, "technique", ["stand_on_one_leg"], "unknown_choice", "technique.0"),
    (T, "technique", "no_hot_or_cold_drink", "wrong_type", "technique"),
    (T, "fields", ..., "required", None),
    (T, "fields", [], "wrong_type", None),
    (T, "extra", 1, "unknown_field", "extra"),
    (T, "not_measured", {"reason": "refused"}, None, None),
    (P, S, "400", "impossible", "readings.0.systolic"),
    (P, S, "20", "impossible", "readings.0.systolic"),
    (P, S, "70", "swapped", "readings.0.diastolic"),
    (P, S, "76", "swapped", "readings.0.diastolic"),
    (P, S, "210", "unconfirmed", "readings.0.systolic"),
    (P, S, "128.5", None, "readings.0.systolic"),
    (P, S, ..., "required", "readings.0.systolic"),
    (P, "fields.readings.0.arm", "middle", "unknown_choice", "readings.0.arm"),
    (P, "fields.readings", [], "wrong_count", "readings"),
    (P, "fields.readings", PRESSURE["fields"]["readings"] * 7, "wrong_count", "readings"),
    (P, "fields.readings", {}, "wrong_type", "readings"),
    (P, "fields.readings", ["128/76"], "wrong_type", "readings.0"),
    (P, "fields.posture", ..., "required", "posture"),
    (P, "fields.method", "listening", "required", "palpated_systolic"),
    (D, "set.birth_date", "2026-11-26", "future_date", "set.birth_date"),
    (D, "set.birth_date", "29.02.1940", "not_a_date", "set.birth_date"),
    (D, "set.birth_date", "1941-02-29", "not_a_date", "set.birth_date"),
    (D, "set.birth_date", "1940-2-29", "not_a_date", "set.birth_date"),
    (D, "set.sex", "x", "unknown_choice", "set.sex"),
    (D, "set.name", " ", "required", "set.name"),
    (D, "set.name", "x" * 201, "too_long", "set.name"),
    (D, "set.shoe_size", "44", "unknown_field", "set.shoe_size"),
    (D, "seen.name", ["x"], "not_an_id", "seen.name.0"),
    (D, "seen", ..., "required", "seen"),
    (V, "time", "9:30", "not_a_time", "time"),
    (V, "time", "24:00", "not_a_time", "time"),
    (V, "date", "2027-02-30", "not_a_date", "date"),
    (V, "minutes", 0, "impossible", "minutes"),
    (V, "minutes", "45", None, "minutes"),
    (V, "minutes", True, None, "minutes"),
    (V, "therapist", "Ann", "not_an_id", "therapist"),
    (C, "chosen", "urgent_help", "required", "override_reason"),
    (C, "chosen", "run", "unknown_choice", "chosen"),
    (C, "missing", ["height"], "unknown_choice", "missing.0"),
    (G, "low", "150.5", "swapped", "low"),
    (G, "low", "1,5", "decimal_comma", "low"),
    (G, "measure", "height", "unknown_choice", "measure"),
    (G, "field", "arm", "unknown_choice", "field"),
    (("note", {"text": "x"}), "text", "", "required", "text"),
    (("note", {"text": "x"}), "text", 5, "wrong_type", "text"),
    (("note", {"text": "x"}), "text", "a\x00b", "bad_text", "text"),
    (("note", {"text": "x"}), "text", "a\ud800b", "bad_text", "text"),
    (("visit_started", {"first": True}), "first", 1, "wrong_type", "first"),
    (("visit_started", {"first": True}), "first", "true", "wrong_type", "first"),
    (E, "ended", {"day": "2999-01-01", "why": "Walks safely"}, "future_date", "ended.day"),
    (E, "ended", {"day": "2026-11-25", "why": " "}, "required", "ended.why"),
    (E, "ended", {"day": "2026-11-25"}, "required", "ended.why"),
    (G, "ended", {"day": "yesterday", "why": "Walks safely"}, "not_a_date", "ended.day"),
    (Q, "fields.until", "1999-01-01", "past_day", "until"),
    (Q, "fields.reason", ..., "required", "reason"),
    (Q, "fields.due", "Some day", "unknown_choice", "due"),
    (Q, "fields.due", 5, None, "due"),
    (K, "set.days", ..., "required", "days"),
    (K, "set.days", "0", "impossible", "days"),
    (K, "set.type", "when_it_rains", "unknown_choice", "set.type"),
    (("precaution", {"code": "falls_risk"}), "code", "vampires", "unknown_choice", "code"),
]


@pytest.mark.parametrize(("base", "path", "value", "code", "field"), BAD)
def test_what_is_wrong_is_held_with_code_field_and_sentence(base, path, value, code, field):
    kind, body = base
    verdict = refusal_of(entry_of(kind, changed(body, path, value), visit=UUID))
    assert verdict["verdict"] == "held"
    if code is not None:
        assert verdict["code"] == code
    if field is not None:
        assert verdict["field"] == field
    assert verdict["message"][-1] in ".?" and len(verdict["message"].split()) >= 3


def test_what_is_wrong_is_held_alike_by_both_databases(ann):
    entries = [ann.entry(kind, changed(body, path, value), visit=UUID)
               for (kind, body), path, value, _, _ in BAD]  # fmt: skip
    assert {verdict["verdict"] for verdict in ann.sync(*entries)["verdicts"]} == {"held"}
    assert ann.pull()["entries"] == []


@pytest.mark.parametrize("number", ["36.8", "1e309", "-0", "-0.0", "9007199254740993", "1E2"])
def test_bare_decimals_are_held(number):
    verdict = refusal_of(parse(json.dumps(entry_of()).replace('"36.8"', number).encode()))
    assert (verdict["verdict"], verdict["code"], verdict["field"]) == ("held", "not_exact", "temperature")


def test_a_clock_a_day_ahead_is_taken():
    assert refusal_of(entry_of(recorded_at="2026-11-26T09:40:00.000Z")) is None


def test_a_birthday_today_is_no_future_even_where_it_is_already_tomorrow(house: House, ann):
    house.clock.moment = house.clock.moment.replace(hour=20)
    body = changed(DETAILS, "set.birth_date", "2026-11-26")
    assert ann.verdict(ann.entry("details", body, utc_offset=300))["verdict"] == "applied"
    assert ann.verdict(ann.entry("details", body, utc_offset=0))["code"] == "future_date"


def test_a_withdrawal_needs_no_body(ann):
    entry = ann.entry()
    withdrawal = ann.entry(voids=entry["id"], reason="wrong client", body={})
    assert [verdict["verdict"] for verdict in ann.sync(entry, withdrawal)["verdicts"]] == ["applied"] * 2


def test_an_entry_nested_too_deeply_is_held_alone(ann):
    deep: Any = "x"
    for _ in range(24):
        deep = [deep]
    verdicts = ann.sync(ann.entry(body={"fields": deep}), ann.entry())["verdicts"]
    assert [(verdict["verdict"], verdict.get("code")) for verdict in verdicts] == [
        ("held", "too_deep"), ("applied", None)]  # fmt: skip
