"""Days of the calendar as ISO text: arithmetic without hours, so that no change of the clock can move one."""

import re
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from .load import data

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_LAST = date.max.toordinal()


def is_day(value: Any) -> bool:
    """Whether a value is a day of the calendar such as "2028-02-29"."""
    try:
        return isinstance(value, str) and bool(_DAY.fullmatch(value) and date.fromisoformat(value))
    except ValueError:
        return False


def plus_days(day: str, count: int) -> str:
    """The day so many days later; the calendar ends with the year 9999."""
    return date.fromordinal(min(max(date.fromisoformat(day).toordinal() + count, 1), _LAST)).isoformat()


def days_from(start: str, end: str) -> int:
    """How many days the second day is after the first."""
    return (date.fromisoformat(end) - date.fromisoformat(start)).days


def day_in(moment: str, zone: str) -> str:
    """The day in a zone ("Europe/Dublin") at a moment in UTC; ValueError for an unknown zone or moment."""
    try:
        return datetime.fromisoformat(moment).astimezone(ZoneInfo(zone)).date().isoformat()
    except (ZoneInfoNotFoundError, OSError) as error:
        raise ValueError(f"unknown time zone {zone}") from error


def is_working(day: str, calendar: Mapping[str, Any]) -> bool:
    """Whether work is done on a day: neither one of `weekend` (Monday is 1) nor of `holidays`."""
    off = calendar.get("weekend") or []
    return date.fromisoformat(day).isoweekday() not in off and day not in (calendar.get("holidays") or [])


def say_day(day: str) -> str:
    """The day in words: "1 July 2026"."""
    year, month, number = (int(part) for part in day.split("-"))
    return f"{number} {data()['reassessment']['months'][month - 1]} {year}"
