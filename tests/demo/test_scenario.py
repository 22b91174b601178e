"""The demo scenario is what the app could have recorded: whole, lawful, the same every time, and invented."""

import collections
import re
from datetime import UTC, date, datetime, time, timedelta
from functools import cache

import pytest

from demo_home_visits import people
from demo_home_visits.build import Scenario, build, client_id
from demo_home_visits.entry_maker import user_id
from demo_home_visits.local_time import birth_date, local_instant, on_a_weekday, utc_offset
from sync.canonical import canonical
from webapp import clinical

# A Wednesday in winter, a Sunday at the end of summer time, a leap day, the first day of a year.
DAYS = [date(2026, 11, 25), date(2026, 10, 25), date(2028, 2, 29), date(2027, 1, 1)]
TODAY = DAYS[0]
KINDS = {
    "details", "contact", "precaution", "target", "visit_planned", "visit_started", "visit_conclusion",
    "visit_finished", "note", "blood_pressure", "pulse", "respiration", "temperature", "oxygen_saturation",
    "presentation", "postural_blood_pressure", "timed_up_and_go", "chair_stand",
    "balance_stages", "walking_speed", "grip_strength", "activity_tolerance",
    "activity", "activity_rating", "goal", "goal_review", "place", "hazard", "equipment",
    "lower_leg", "problem", "intervention", "reassessment", "plan_review",
    "reassessed", "care_period", "pause", "postponement", "reassessment_rule",
}  # fmt: skip
# Ofcom, "Telephone numbers for drama use": ranges never given to anybody. 01632 is no place's code.
FICTION = re.compile(r"01632 960\d{3}|07700 900\d{3}")


@cache
def scenario(today: date = TODAY) -> Scenario:
    return build(today)


def entries_of(key: str, *kinds: str) -> list[dict]:
    found = (entry for entry in scenario().entries if entry["client"] == client_id({"key": key}))
    return [entry for entry in found if not kinds or entry["kind"] in kinds]


def measured(kind: str | None = None) -> list[dict]:
    """Return readings that were taken, leaving out withdrawals and what was not measured."""
    kinds = [kind] if kind else clinical.measure_order
    found = (entry for entry in scenario().entries if entry["kind"] in kinds)
    return [entry for entry in found if "fields" in entry["body"]]


def test_the_same_day_gives_the_same_scenario():
    again = build(TODAY)
    assert again == scenario() and again is not scenario()


def test_another_day_moves_the_story_and_keeps_who_is_who():
    later = build(TODAY + timedelta(days=1))
    assert later.clients() == scenario().clients()
    assert later.people == scenario().people
    assert {entry["id"] for entry in later.entries}.isdisjoint(entry["id"] for entry in scenario().entries)


def test_there_is_a_team_and_a_caseload():
    roles = collections.Counter(person["role"] for person in scenario().people)
    assert roles == {"therapist": 3, "lead": 1, "administrator": 1}
    assert len(scenario().clients()) == 25
    assert [(len(team["members"]), team["leads"]) for team in scenario().teams] == [
        (2, [user_id("hester")]),
        (1, [user_id("hester")]),
    ]
    assert set(scenario().caseloads) == {user_id(key) for key in ("oriane", "kasper", "beatriz")}


def test_every_kind_is_used():
    assert {entry["kind"] for entry in scenario().entries} == KINDS


@pytest.mark.parametrize("today", DAYS, ids=str)
def test_every_reading_passes_the_check_without_a_question_left(today):
    for entry in scenario(today).entries:
        if entry["kind"] in clinical.measures and not entry["voids"]:
            found = clinical.check_reading(entry["kind"], entry["body"])
            assert (found["errors"], found["questions"]) == ([], []), entry


@pytest.mark.parametrize("today", DAYS, ids=str)
def test_nothing_is_recorded_today_or_later(today):
    midnight = datetime.combine(today, time(), UTC) - timedelta(hours=1)
    last = max(entry["recorded_at"] for entry in scenario(today).entries)
    assert datetime.fromisoformat(last) < midnight


@pytest.mark.parametrize("today", DAYS, ids=str)
def test_each_device_numbers_what_it_records_without_a_gap(today):
    devices = collections.defaultdict(list)
    for entry in scenario(today).entries:
        devices[entry["device"]].append(entry)
    for entries in devices.values():
        assert [entry["device_seq"] for entry in entries] == list(range(1, len(entries) + 1))
        assert [entry["recorded_at"] for entry in entries] == sorted(
            entry["recorded_at"] for entry in entries
        )


def test_ids_are_unique_version_7_and_of_their_moment():
    ids = [entry["id"] for entry in scenario().entries]
    assert len(set(ids)) == len(ids)
    for entry in scenario().entries:
        assert entry["id"][14] == "7" and entry["id"][19] in "89ab"
        moment = datetime.fromtimestamp(int(entry["id"].replace("-", "")[:12], 16) / 1000, UTC)
        assert moment == datetime.fromisoformat(entry["recorded_at"])


def test_every_entry_has_a_canonical_form():
    assert all(canonical(entry) for entry in scenario().entries)


@pytest.mark.parametrize("today", DAYS, ids=str)
def test_each_therapist_has_four_to_six_visits_today_and_some_tomorrow(today):
    planned = [entry["body"] for entry in scenario(today).entries if entry["kind"] == "visit_planned"]
    for user in scenario(today).caseloads:
        days = collections.Counter(body["date"] for body in planned if body["therapist"] == user)
        assert 4 <= days[today.isoformat()] <= 6
        assert days[(today + timedelta(days=1)).isoformat()] >= 1


def test_no_two_visits_of_a_day_overlap_for_one_therapist():
    starts = collections.defaultdict(list)
    for entry in scenario().entries:
        body = entry["body"]
        if entry["kind"] == "visit_planned" and body["date"] >= TODAY.isoformat():
            hours, minutes = body["time"].split(":")
            starts[body["therapist"], body["date"]].append(int(hours) * 60 + int(minutes))
    for minutes in starts.values():
        minutes.sort()
        assert all(later - earlier >= 45 for earlier, later in zip(minutes, minutes[1:], strict=False))


@pytest.mark.parametrize("today", DAYS, ids=str)
def test_ages_are_from_58_to_94(today):
    clients = [clinical.client_card(story, today.isoformat()) for story in by_client(today).values()]
    ages = sorted(card["age"] for card in clients)
    assert (ages[0], ages[-1]) == (58, 94) and len(ages) == 25


def by_client(today: date) -> dict[str, list[dict]]:
    stories = collections.defaultdict(list)
    for entry in scenario(today).entries:
        stories[entry["client"]].append(entry)
    return stories


def test_phone_numbers_are_those_reserved_for_fiction():
    phones = [entry["body"]["set"]["phone"] for entry in scenario().entries if "phone" in details_of(entry)]
    phones += [entry["body"]["phone"] for entry in scenario().entries if entry["kind"] == "contact"]
    assert len(phones) >= 50
    assert [phone for phone in phones if not FICTION.fullmatch(phone)] == []


def details_of(entry: dict) -> dict:
    return entry["body"].get("set", {}) if entry["kind"] == "details" else {}


def test_names_are_diverse_and_one_is_written_from_right_to_left():
    names = [details_of(entry)["name"] for entry in scenario().entries if "name" in details_of(entry)]
    assert len(set(names)) == 25
    assert sum(not name.isascii() for name in names) >= 6
    assert sum(any("\u0590" <= letter <= "\u06ff" for letter in name) for name in names) == 1


def test_sign_in_names_belong_to_nobody():
    assert all(name.endswith(".example") for name, _, _ in people.sign_ins())
    assert len(people.PASSWORD.split()) == 4


def test_home_oxygen_is_judged_on_the_prescribed_range():
    codes = {entry["body"]["code"] for entry in entries_of("desmond", "precaution")}
    assert codes >= {"oxygen_at_home", "spo2_88_92_prescribed"}
    values = [entry["body"]["fields"] for entry in entries_of("desmond", "oxygen_saturation")]
    assert all(fields["supply"] == "oxygen" and 86 <= int(fields["saturation"]) <= 94 for fields in values)


def test_a_known_irregular_pulse_is_counted_for_a_minute():
    fields = [entry["body"]["fields"] for entry in entries_of("lucja", "pulse")]
    assert len(fields) >= 10
    assert {each["rhythm"] for each in fields} == {"irregularly_irregular"}
    assert {each["how"] for each in fields} == {"count_60"}


def test_one_blood_pressure_has_been_out_of_range_for_months():
    pressures = entries_of("barnaby", "blood_pressure")
    assert len(pressures) >= 10
    assert all(
        int(each["systolic"]) >= 150 for entry in pressures for each in entry["body"]["fields"]["readings"]
    )


def test_one_oxygen_saturation_falls_over_the_months():
    values = [int(entry["body"]["fields"]["saturation"]) for entry in entries_of("jose", "oxygen_saturation")]
    third = len(values) // 3
    assert sum(values[:third]) / third - sum(values[-third:]) / third >= 3


def test_an_arm_that_must_not_be_used_is_not_used():
    for key, arm in (("harjeet", "left"), ("kwabena", "right")):
        used = {
            each["arm"]
            for entry in entries_of(key, "blood_pressure")
            for each in entry["body"]["fields"]["readings"]
        }
        assert used and arm not in used


def test_two_readings_are_amended_and_one_is_withdrawn():
    amended = [entry for entry in scenario().entries if entry["amends"]]
    voided = [entry for entry in scenario().entries if entry["voids"]]
    assert {entry["kind"] for entry in amended} == {"blood_pressure", "pulse"} and len(voided) == 1
    known = {entry["id"]: entry for entry in scenario().entries}
    for entry in [*amended, *voided]:
        original = known[entry["amends"] or entry["voids"]]
        assert original["kind"] == entry["kind"] and original["client"] == entry["client"] and entry["reason"]
    assert all(known[entry["amends"]]["body"] != entry["body"] for entry in amended)


def test_an_address_and_a_target_are_disputed_by_two_devices():
    card = clinical.client_card(entries_of("adela"), TODAY.isoformat())
    assert [each["field"] for each in card["disagreements"]] == ["address", "target.blood_pressure.systolic"]
    writers = {
        entry["device"] for entry in entries_of("adela", "details") if details_of(entry).keys() == {"address"}
    }
    assert len(writers) == 2


def test_a_new_referral_has_a_first_visit_today_and_no_reading():
    assert not entries_of("margery", *clinical.measure_order)
    assert [entry["body"]["date"] for entry in entries_of("margery", "visit_planned")] == [TODAY.isoformat()]


def test_what_was_not_measured_says_why():
    reasons = {
        entry["body"]["not_measured"]["reason"]
        for entry in scenario().entries
        if "not_measured" in entry["body"]
    }
    assert reasons == {"refused", "could_not", "no_equipment"}


def test_every_past_visit_is_whole():
    visits = collections.defaultdict(collections.Counter)
    for entry in scenario().entries:
        if entry["visit"] and not entry["amends"] and not entry["voids"]:
            visits[entry["visit"]][entry["kind"]] += 1
    past = [kinds for kinds in visits.values() if kinds["visit_finished"]]
    assert len(past) >= 200
    wanted = {"visit_planned", "visit_started", "visit_conclusion", "visit_finished", *clinical.counting()}
    assert all(wanted <= set(kinds) for kinds in past)


def test_conclusions_are_not_all_alike_and_one_was_overridden_with_a_reason():
    bodies = [entry["body"] for entry in scenario().entries if entry["kind"] == "visit_conclusion"]
    assert {body["suggested"] for body in bodies} >= {"go_on", "take_care"}
    overridden = [body for body in bodies if body["chosen"] != body["suggested"]]
    assert overridden and all(body["override_reason"] for body in overridden)


@pytest.mark.parametrize(
    ("day", "minutes"),
    [
        (date(2026, 3, 28), 0),
        (date(2026, 3, 29), 60),
        (date(2026, 10, 24), 60),
        (date(2026, 10, 25), 0),
    ],
)
def test_summer_time_changes_on_the_last_sundays(day, minutes):
    assert utc_offset(day) == minutes


def test_a_wall_time_becomes_the_right_moment():
    assert local_instant(date(2026, 7, 1), "09:30") == datetime(2026, 7, 1, 8, 30, tzinfo=UTC)
    assert local_instant(date(2026, 12, 1), "09:30", 40) == datetime(2026, 12, 1, 10, 10, tzinfo=UTC)


def test_weekends_become_the_friday_before():
    days = [date(2026, 11, 20) + timedelta(days=number) for number in range(4)]
    assert [on_a_weekday(day).day for day in days] == [20, 20, 20, 23]


@pytest.mark.parametrize("today", [date(2028, 2, 29), date(2027, 2, 28), date(2026, 3, 1)])
def test_a_birth_date_gives_the_age_it_was_made_for(today):
    for days in (0, 1, 60, 364):
        born = birth_date(today, 80, days)
        age = today.year - born.year - ((today.month, today.day) < (born.month, born.day))
        assert age == 80
