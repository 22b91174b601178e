"""What is due, held against dateutil and zoneinfo, and against itself in the other language.

The calendar arithmetic of python-dateutil (rrule, relativedelta, its own time zones) is somebody else's; the
counts are those of 42 CFR 409.44 and 484.55 as the data's sources name them, typed anew here.
"""

import json
import os
import random
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil import rrule, tz
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from webapp.clinical import check_rule, data, day_in, due_items, known_rules, plus_days

from .calls import NO_FACTS, answer
from .mutants import noticed, survives
from .node import ask_node
from .random_care import random_question
from .vectors import all_vectors

SEED = 20261127
ASKED = os.environ.get("LINTEL_TEST_EXAMPLES")
SMALL = settings(max_examples=int(ASKED or "60"), deadline=None, database=None, derandomize=ASKED is None)
ZONES = ["Europe/Dublin", "America/New_York", "Pacific/Chatham", "Australia/Lord_Howe", "Asia/Kolkata", "UTC"]
DAYS = st.dates(date(2024, 1, 1), date(2032, 12, 31))
VECTORS = [each for each in all_vectors() if each.topic == "reassessment"]


def only(rule: str, facts: dict, calendar: dict) -> dict:
    (item,) = due_items(NO_FACTS | facts, calendar, {"in_force": [rule]})["items"]
    return item


def last_working_day(day: date, weekend: list[int], holidays: set[date]) -> date:
    """By dateutil: the last day up to `day` that is on none of the weekdays off and no holiday."""
    at_work = [number - 1 for number in range(1, 8) if number not in weekend]
    begin = datetime.combine(day - relativedelta(days=60), datetime.min.time())
    days = rrule.rrule(
        rrule.DAILY, dtstart=begin, until=datetime.combine(day, datetime.min.time()), byweekday=at_work
    )
    return [each.date() for each in days if each.date() not in holidays][-1]


@SMALL
@given(DAYS, st.sampled_from([[], [6, 7], [5, 6], [7]]), st.sets(st.integers(0, 12), max_size=5))
def test_thirty_days_as_dateutil_counts_them(first, weekend, off):
    limit = first + relativedelta(days=30)
    holidays = {limit - relativedelta(days=back) for back in off}
    calendar = {
        "today": first.isoformat(),
        "weekend": weekend,
        "holidays": [each.isoformat() for each in holidays],
    }
    found = only("home_health_30_days", {"visits": [first.isoformat()]}, calendar)
    working = last_working_day(limit, weekend, holidays)
    back = (limit - working).days
    assert found["limit"] == limit.isoformat()
    assert found["due"] == (working if back <= 14 else limit).isoformat()
    assert found["due"] <= found["limit"]


@SMALL
@given(DAYS, st.integers(0, 400))
def test_sixty_days_as_dateutil_counts_them(start, later):
    """The rrule of the days on which a period begins; what is done in the last five of one settles it."""
    starts = rrule.rrule(
        rrule.DAILY, interval=60, dtstart=datetime.combine(start, datetime.min.time()), count=10
    )
    begins = [each.date() for each in starts]
    done = start + timedelta(days=later)
    written = {"care_period.starts_on": [{"day": start.isoformat(), "set_on": start.isoformat()}]}
    facts = {"written": written, "done": [{"day": done.isoformat(), "how": "whole"}]}
    found = only("certification_60_days", facts, {"today": start.isoformat()})
    ends = next(end for end in (each - relativedelta(days=1) for each in begins[1:]) if (end - done).days > 4)
    assert (found["limit"], found["opens"]) == (ends.isoformat(), (ends - relativedelta(days=4)).isoformat())


@SMALL
@given(st.datetimes(datetime(2024, 1, 1), datetime(2032, 12, 31)), st.sampled_from(ZONES))
def test_the_local_day_as_dateutil_and_zoneinfo_have_it(moment, zone):
    utc = moment.replace(tzinfo=UTC, microsecond=0)
    expected = utc.astimezone(tz.gettz(zone)).date().isoformat()
    assert expected == utc.astimezone(ZoneInfo(zone)).date().isoformat()
    assert day_in(utc.strftime("%Y-%m-%dT%H:%M:%S.000Z"), zone) == expected


@SMALL
@given(
    st.dates(date(2024, 1, 1), date(2031, 1, 1)), st.sampled_from(ZONES), st.integers(0, 23), st.booleans()
)
def test_a_visit_is_on_the_day_its_wall_clock_showed(day, zone, hour, with_offset):
    """Written by the wall clock, kept in UTC, read again: the same day, whatever the clock did that night."""
    wall = datetime(day.year, day.month, day.day, hour, 30, tzinfo=tz.gettz(zone))
    wall = tz.resolve_imaginary(wall)
    offset = int(wall.utcoffset().total_seconds() // 60)
    moment = wall.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    visit = {
        "id": "a", "seq": 1, "kind": "visit_started", "client": "c", "visit": "v", "body": {"first": True},
        "recorded_at": moment, "utc_offset": offset if with_offset else None,
    }  # fmt: skip
    asked = {"today": day.isoformat(), "zone": zone}
    service = {"in_force": ["home_health_30_days"]}
    given = {"entries": [visit], "calendar": asked, "service": service}
    (item,) = answer("reassessment_due", given)["items"]
    assert item["limit"] == (wall.date() + relativedelta(days=30)).isoformat()


@SMALL
@given(DAYS, st.lists(st.tuples(st.integers(-5, 40), st.integers(0, 20)), max_size=4))
def test_days_away_counted_one_by_one(changed, spans):
    """The service's own week ends when seven days in care have gone by: counted by walking the calendar."""
    spans = [
        (changed + timedelta(days=begin), changed + timedelta(days=begin + length)) for begin, length in spans
    ]
    day, in_care = changed, 0
    while in_care < 7:
        day += timedelta(days=1)
        in_care += not any(begin <= day < end for begin, end in spans)
    pauses = [{"from": begin.isoformat(), "to": end.isoformat(), "reason": "other"} for begin, end in spans]
    facts = {"changes": [{"day": changed.isoformat(), "title": "Pulse"}], "pauses": pauses}
    found = only("changed", facts, {"today": (changed + timedelta(days=100)).isoformat()})
    assert found["limit"] == day.isoformat()


def test_adding_days_over_the_edges_of_the_calendar():
    assert plus_days("9999-12-30", 5) == "9999-12-31" and plus_days("0001-01-02", -5) == "0001-01-01"
    questions = [("preview_dates", {"rule": known_rules()["home_health_30_days"], "start": "9999-12-20",
                                    "calendar": {"weekend": []}, "count": 2})]  # fmt: skip
    assert ask_node(questions) == [answer(*each) for each in questions]


def test_both_languages_agree_on_what_is_due():
    source = random.Random(SEED)
    questions = [random_question(source) for _ in range(1500)]
    in_python = [json.loads(json.dumps(answer(*each))) for each in questions]
    asked = zip(questions, in_python, ask_node(questions), strict=True)
    assert [each for each in asked if each[1] != each[2]][:1] == []
    items = [item for found in in_python for item in found["items"]]
    states = {item["state"] for item in items}
    assert states == {"later", "open", "due", "overdue", "away", "waiting"}
    assert sum(found["discharged"] is not None for found in in_python) > 50
    assert sum(item["put_off"] is not None for item in items) > 50
    assert {item["rule"] for item in items} >= set(known_rules())


def test_whatever_is_recorded_a_legal_limit_is_never_put_later():
    """Pauses, days off and putting off take nothing from the count of a legal rule."""
    source = random.Random(SEED + 1)
    for _ in range(600):
        _, asked = random_question(source)
        facts = NO_FACTS | asked["facts"] | {"discharges": []}
        bare = {**facts, "pauses": [], "put_off": []}
        legal = {"in_force": ["home_health_30_days", "certification_60_days"]}
        now = {
            each["key"]: each for each in due_items(facts, asked["calendar"], legal)["items"] if each["legal"]
        }
        plain = {"today": asked["calendar"]["today"]}
        then = {each["key"]: each for each in due_items(bare, plain, legal)["items"] if each["legal"]}
        assert {key: each["limit"] for key, each in now.items()} == {
            key: each["limit"] for key, each in then.items()
        }
        assert all(
            each["due"] <= each["limit"] for each in now.values() if each["due"] and not each["put_off"]
        )


def test_the_built_in_rules_hold_together():
    told = data()["reassessment"]
    assert {rule["id"]: check_rule(rule) for rule in told["rules"]} == {
        rule["id"]: [] for rule in told["rules"]
    }
    assert set(told["in_force"]) <= set(known_rules())
    kinds = data()["described"]["kinds"]
    done = {each["id"] for each in told["done_by"]}
    scopes = {each["id"] for each in kinds["reassessed"]["fields"][0]["choices"]}
    assert done == scopes | {"first", "plan_review"}
    reasons = {each["id"] for each in kinds["pause"]["fields"][1]["choices"]}
    assert all(set(rule.get("reasons", [])) <= reasons for rule in told["rules"])


def numbers():
    told = data()["reassessment"]
    for rule in told["rules"]:
        for name in ("days", "window", "opens", "visits", "before"):
            if name in rule:
                yield pytest.param(rule, name, id=f"{rule['id']}.{name}")
    yield pytest.param(told, "farthest_move", id="farthest_move")
    for name in ("days", "visits"):
        yield pytest.param(told["own_rule"]["opens"], name, id=f"own_rule.{name}")
    for name, ends in told["numbers"].items():
        yield from (pytest.param(ends, end, id=f"numbers.{name}.{end}") for end in ("low", "high"))
    for name in ("visits_every_days", "written_after_days"):
        yield pytest.param(told["preview"], name, id=f"preview.{name}")


@pytest.mark.parametrize(("holder", "key"), list(numbers()))
def test_a_number_of_a_rule_moved_by_one_is_noticed(holder, key):
    assert survives(holder, key, 10**6, VECTORS) == []


@pytest.mark.parametrize("rule", data()["reassessment"]["rules"], ids=lambda rule: rule["id"])
@pytest.mark.parametrize("key", ["legal", "clock", "moves"])
def test_what_a_rule_does_changed_is_noticed(rule, key):
    other = {"legal": [not rule["legal"]], "clock": {"stops", "runs_on"} - {rule["clock"]},
             "moves": {"earlier", "never"} - {rule["moves"]}}  # fmt: skip
    right = rule[key]
    try:
        for value in other[key]:
            rule[key] = value
            assert noticed(VECTORS), (key, value)
    finally:
        rule[key] = right
