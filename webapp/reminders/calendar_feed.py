"""A person's reassessments as an iCalendar feed (RFC 5545): a day each, no names unless they were chosen."""

from datetime import datetime, timedelta
from hashlib import sha256

from icalendar import Calendar, Event
from sqlalchemy.orm import Session

from webapp.reminders.outbox import due_of
from webapp.storage.finding import client_names
from webapp.storage.models import Due, ReminderHabits

SUMMARY = "Reassessment due"
DESCRIPTION = "Open Lintel for the client and the reason."
REFRESH = timedelta(hours=6)


def feed(session: Session, row: ReminderHabits, now: datetime) -> bytes:
    """The feed of one person: of each client on the caseload to stay, what is due first."""
    calendar = Calendar()
    calendar.add("prodid", "-//Lintel//Reassessments//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", "Reassessments")
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    first = _first_due(session, row, now)
    wanted = [due.client_id for due in first] if row.calendar_names else []
    names = client_names(session, row.organisation_id, wanted) if wanted else {}
    for due in first:
        calendar.add_component(_event(due, names.get(due.client_id)))
    return calendar.to_ical()


def _first_due(session: Session, row: ReminderHabits, now: datetime) -> list[Due]:
    rows = session.scalars(due_of(row, now, Due).order_by(Due.due_on, Due.client_id, Due.rule))
    first: dict[str, Due] = {}
    for due in rows:
        first.setdefault(due.client_id, due)
    return list(first.values())


def _event(due: Due, name: str | None) -> Event:
    event = Event()
    # The same day after day, so that a calendar moves an event instead of adding one; it names nobody.
    about = f"{due.organisation_id} {due.client_id}"
    event.add("uid", f"{sha256(about.encode()).hexdigest()[:40]}@lintel")
    event.add("dtstamp", due.known_at)
    event.add("dtstart", due.due_on)
    event.add("summary", f"{SUMMARY}: {name}" if name else SUMMARY)
    event.add("description", DESCRIPTION)
    event.add("class", "PRIVATE")
    event.add("transp", "TRANSPARENT")
    return event
