"""When somebody is to be reminded of what is due. Pure: days, habits and moments are given.

Reminders come on three occasions: when the time for a reassessment begins, on the day it is due, and each
week it is overdue. The occasions, the week and the first habits are our own choice, no published rule.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

OVERDUE_AGAIN = 7
FIRST_HABITS = {"at": "07:30", "zone": "UTC", "days": "12345"}
# A reminder that could not be sent is not made up for in the night: this long after its time of day at most.
LATEST_HOURS = 10
# How far a reminder may be moved off days that are not working days before it simply waits for the next.
_FARTHEST = 14


@dataclass(frozen=True)
class Span:
    """A reassessment: sensible from one day, due by another; known since a moment."""

    from_on: date
    due_on: date
    known_at: datetime


@dataclass(frozen=True)
class Habits:
    """When somebody works and wants to hear: local time, zone, ISO weekdays, quiet days, a day asked for."""

    at: time
    zone: ZoneInfo
    days: frozenset[int]
    quiet_from: date | None = None
    quiet_until: date | None = None
    snoozed_until: date | None = None

    def works_on(self, day: date) -> bool:
        """Whether reminders may come on a day."""
        return day.isoweekday() in self.days and not self.is_quiet(day)

    def is_quiet(self, day: date) -> bool:
        """Whether a day lies in the time of quiet, its first and its last day included."""
        begins, ends = self.quiet_from or date.max, self.quiet_until or date.min
        return begins <= day <= ends

    def moment(self, day: date) -> datetime:
        """The moment of a day's reminder; a time that the clocks skip is the one an hour later."""
        return datetime.combine(day, self.at, self.zone).astimezone(UTC)

    def day_of(self, moment: datetime) -> date:
        """The local day of a moment."""
        return moment.astimezone(self.zone).date()


def next_moment(spans: Iterable[Span], habits: Habits, after: datetime) -> datetime | None:
    """The first moment after another at which to remind; None when nothing is due or no day is worked."""
    if not habits.days:
        return None
    since = habits.day_of(after)
    days = {day for span in spans for day in _occasions(span, habits, since)}
    if habits.snoozed_until:
        days.add(_on_or_after(habits.snoozed_until, habits))
    return min((moment for moment in map(habits.moment, days) if moment > after), default=None)


def in_hours(habits: Habits, now: datetime) -> bool:
    """Whether a reminder whose time has passed may still be sent at this moment."""
    today = habits.day_of(now)
    late = now - habits.moment(today)
    return habits.works_on(today) and timedelta() <= late < timedelta(hours=LATEST_HOURS)


def next_working_moment(habits: Habits, now: datetime) -> datetime:
    """The first time of day for reminders after now."""
    today = habits.day_of(now)
    first = habits.moment(_on_or_after(today, habits))
    return first if first > now else habits.moment(_on_or_after(today + timedelta(days=1), habits))


def _occasions(span: Span, habits: Habits, since: date) -> Iterator[date]:
    # Whoever made it due saw it then: that day needs no reminder.
    fresh = habits.day_of(span.known_at) + timedelta(days=1)
    yield _on_or_after(max(span.from_on, fresh), habits)
    if span.due_on >= fresh:
        yield _on_or_before(span.due_on, habits)
    overdue = span.due_on + timedelta(days=1)
    # The last one before `since` may have been moved on to a day after it.
    weeks = max(0, (since - overdue).days // OVERDUE_AGAIN - _FARTHEST // OVERDUE_AGAIN)
    for week in range(weeks, weeks + _FARTHEST // OVERDUE_AGAIN + 3):
        day = overdue + timedelta(days=OVERDUE_AGAIN * week)
        if day >= fresh:
            yield _on_or_after(day, habits)


def _on_or_after(day: date, habits: Habits) -> date:
    while not habits.works_on(day):
        day = (habits.quiet_until if habits.is_quiet(day) and habits.quiet_until else day) + timedelta(days=1)
    return day


def _on_or_before(day: date, habits: Habits) -> date:
    for back in range(_FARTHEST + 1):
        earlier = day - timedelta(days=back)
        if habits.works_on(earlier):
            return earlier
    return _on_or_after(day, habits)
