"""Local time of the demo's place, worked out here because a bare machine may have no time zone data."""

from datetime import UTC, date, datetime, time, timedelta

SUMMER_OFFSET_MINUTES = 60


def utc_offset(day: date) -> int:
    """Return minutes ahead of UTC: summer time runs between the last Sundays of March and October."""
    summer = last_sunday(day.year, 3) <= day < last_sunday(day.year, 10)
    return SUMMER_OFFSET_MINUTES if summer else 0


def last_sunday(year: int, month: int) -> date:
    last = date(year, month, 31)
    return last - timedelta(days=(last.weekday() + 1) % 7)


def local_instant(day: date, clock: str, minutes: int = 0) -> datetime:
    """Return the UTC moment of a local wall time such as "09:30", some minutes later."""
    wall = datetime.combine(day, time.fromisoformat(clock), UTC)
    return wall + timedelta(minutes=minutes - utc_offset(day))


def on_a_weekday(day: date) -> date:
    """Return the Friday before when the day falls on a weekend: the team does not visit then."""
    return day - timedelta(days=max(0, day.weekday() - 4))


def birth_date(today: date, years: int, days: int) -> date:
    """Return the birth date of someone who turned `years` that many days ago."""
    birthday = today - timedelta(days=days)
    # 29 February has no counterpart in most years; the 28th keeps the age the same.
    return birthday.replace(year=birthday.year - years, day=min(birthday.day, 28))
