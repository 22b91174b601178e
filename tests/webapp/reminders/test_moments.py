"""When to remind: against days worked out by hand with a calendar, and at random against zoneinfo."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webapp.reminders.moments import Habits, Span, in_hours, next_moment, next_working_moment

LONDON = ZoneInfo("Europe/London")
LONG_AGO = datetime(2026, 1, 1, tzinfo=UTC)


def habits(**other) -> Habits:
    return Habits(**{"at": time(7, 30), "zone": LONDON, "days": frozenset({1, 2, 3, 4, 5}), **other})


def span(from_on: str, due_on: str, known_at: datetime = LONG_AGO) -> Span:
    return Span(date.fromisoformat(from_on), date.fromisoformat(due_on), known_at)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)


@pytest.mark.parametrize(
    ("what", "after", "expected"),
    [
        ("the window opens on a Tuesday", "2026-11-20T09:00Z", "2026-11-24T07:30Z"),
        ("the window opened, then the day it is due", "2026-11-24T07:30Z", "2026-12-01T07:30Z"),
        ("overdue, the day after", "2026-12-01T07:30Z", "2026-12-02T07:30Z"),
        ("overdue, a week later", "2026-12-02T07:30Z", "2026-12-09T07:30Z"),
        ("overdue for months: still each week", "2027-06-03T09:00Z", "2027-06-09T06:30Z"),
    ],
)
def test_the_occasions_of_one_reassessment(what, after, expected):
    due = span("2026-11-24", "2026-12-01")  # both are Tuesdays
    assert next_moment([due], habits(), at(after)) == at(expected), what


@pytest.mark.parametrize(
    ("from_on", "due_on", "after", "expected"),
    [
        # Opens on a Saturday: on Monday. Due on a Sunday: before it, on Friday.
        ("2026-11-28", "2026-12-06", "2026-11-25T12:00Z", "2026-11-30T07:30Z"),
        ("2026-11-28", "2026-12-06", "2026-11-30T07:30Z", "2026-12-04T07:30Z"),
        # Overdue from Monday on.
        ("2026-11-28", "2026-12-06", "2026-12-04T07:30Z", "2026-12-07T07:30Z"),
    ],
)
def test_what_falls_on_no_working_day(from_on, due_on, after, expected):
    assert next_moment([span(from_on, due_on)], habits(), at(after)) == at(expected)


def test_quiet_days_are_quiet_and_what_falls_due_in_them_is_told_before():
    away = habits(quiet_from=date(2026, 12, 21), quiet_until=date(2027, 1, 1))
    due = span("2026-12-15", "2026-12-23")
    assert next_moment([due], away, at("2026-12-15T07:30Z")) == at("2026-12-18T07:30Z")
    # Overdue since the 24th; told on the first working day after the quiet: Monday, 4 January 2027.
    assert next_moment([due], away, at("2026-12-18T07:30Z")) == at("2027-01-04T07:30Z")


def test_the_clocks_change():
    """Europe/London: back on 25 October 2026, forward on 28 March 2027, each at 01:00 UTC."""
    every_day = habits(days=frozenset(range(1, 8)))
    assert next_moment([span("2026-10-24", "2026-10-25")], every_day, at("2026-10-23T12:00Z")) == at(
        "2026-10-24T06:30Z"
    )
    assert next_moment([span("2026-10-24", "2026-10-25")], every_day, at("2026-10-24T06:30Z")) == at(
        "2026-10-25T07:30Z"
    )
    skipped = habits(days=frozenset(range(1, 8)), at=time(1, 30))
    assert next_moment([span("2027-03-28", "2027-03-28")], skipped, at("2027-03-27T12:00Z")) == at(
        "2027-03-28T01:30Z"
    )


def test_a_leap_day_and_a_year_s_end():
    every_day = habits(days=frozenset(range(1, 8)))
    assert next_moment([span("2028-02-29", "2028-02-29")], every_day, at("2028-02-28T12:00Z")) == at(
        "2028-02-29T07:30Z"
    )
    assert next_moment([span("2026-12-31", "2026-12-31")], every_day, at("2026-12-31T07:30Z")) == at(
        "2027-01-01T07:30Z"
    )


def test_whoever_made_it_due_is_not_reminded_the_same_day():
    fresh = span("2026-11-20", "2026-12-01", known_at=at("2026-11-24T15:00Z"))
    assert next_moment([fresh], habits(), at("2026-11-23T07:30Z")) == at("2026-11-25T07:30Z")
    overdue_already = span("2026-11-01", "2026-11-10", known_at=at("2026-11-24T15:00Z"))
    assert next_moment([overdue_already], habits(), at("2026-11-24T15:00Z")) == at("2026-11-25T07:30Z")


def test_nothing_due_or_no_working_day_is_no_reminder():
    assert next_moment([], habits(), LONG_AGO) is None
    assert next_moment([span("2026-11-24", "2026-12-01")], habits(days=frozenset()), LONG_AGO) is None


def test_once_more_comes_beside_the_rest():
    asked = habits(snoozed_until=date(2026, 11, 26))
    due = span("2026-11-24", "2026-12-01")
    assert next_moment([due], asked, at("2026-11-25T08:00Z")) == at("2026-11-26T07:30Z")
    assert next_moment([due], asked, at("2026-11-26T07:30Z")) == at("2026-12-01T07:30Z")


@pytest.mark.parametrize(
    ("now", "inside"),
    [
        ("2026-11-25T07:29Z", False),
        ("2026-11-25T07:30Z", True),
        ("2026-11-25T17:29Z", True),
        ("2026-11-25T17:30Z", False),
        ("2026-11-28T09:00Z", False),  # Saturday
    ],
)
def test_what_is_late_waits_for_its_time_of_day(now, inside):
    assert in_hours(habits(), at(now)) is inside


def test_the_next_working_moment():
    assert next_working_moment(habits(), at("2026-11-25T06:00Z")) == at("2026-11-25T07:30Z")
    assert next_working_moment(habits(), at("2026-11-27T07:30Z")) == at("2026-11-30T07:30Z")


DAYS = st.dates(date(2025, 1, 1), date(2030, 12, 31))
ZONES = st.sampled_from(["Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"])


@given(
    DAYS,
    st.integers(0, 60),
    st.sets(st.integers(1, 7), min_size=1),
    ZONES,
    st.integers(0, 1439),
    st.integers(-100, 400),
    st.tuples(DAYS, st.integers(0, 40)) | st.none(),
)
def test_a_reminder_comes_on_a_working_day_at_its_time_and_none_is_skipped(
    from_on, length, days, zone, minute, offset, quiet
):
    mine = habits(
        at=time(*divmod(minute, 60)),
        zone=ZoneInfo(zone),
        days=frozenset(days),
        quiet_from=quiet and quiet[0],
        quiet_until=quiet and quiet[0] + timedelta(days=quiet[1]),
    )
    due = Span(from_on, from_on + timedelta(days=length), LONG_AGO - timedelta(days=900))
    after = datetime.combine(from_on + timedelta(days=offset), time(12), UTC)
    found = next_moment([due], mine, after)
    assert found is not None and found > after
    local = found.astimezone(ZoneInfo(zone))
    assert mine.works_on(local.date())
    skipped = local.replace(tzinfo=None) != datetime.combine(local.date(), mine.at)
    # A time that is skipped by the clocks comes later, by as much as they were put on.
    assert not skipped or local.time() > mine.at
    # What is overdue is told within a week and the way to the next working day.
    assert found - after < timedelta(days=length + max(0, -offset) + 7 + 7 + 41 + 8)
    # Asking again from just before gives the same one: the answer does not hang on when it is asked.
    assert next_moment([due], mine, found - timedelta(microseconds=1)) == found
