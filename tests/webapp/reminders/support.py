"""What the tests of reminders do often: ask the API as a phone, note clients, count rows."""

import json
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import select

from tests.webapp.reminders.push_service import Browser
from tests.webapp.support import House, Phone
from webapp.storage.due_changes import note_due_changes
from webapp.storage.models import Reminder

HABITS = {"at": "07:30", "zone": "UTC", "days": "1234567", "quiet_from": None, "quiet_until": None}


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)


TODAY = date(2026, 11, 25)  # what the clock of the tests says, 09:40 UTC, a Wednesday
TOMORROW_EARLY = at("2026-11-26T07:30Z")


def ask(phone: Phone, path: str = "", message: Any = None) -> Any:
    """One request to /api/v1/reminders; the answer."""
    address = f"/api/v1/reminders{path}"
    if message is None:
        return phone.browser.get(address)
    headers = {"X-CSRFToken": phone.csrf}
    return phone.browser.post(
        address, data=json.dumps(message), headers=headers, content_type="application/json"
    )


def subscribe(phone: Phone, browser: Browser) -> None:
    """Choose habits and have a browser take reminders."""
    assert ask(phone, "/habits", HABITS).status_code == 200
    answer = ask(phone, "/subscribe", browser.subscription(phone.device))
    assert answer.status_code == 200, answer.text


def changed(house: House, *clients: str) -> None:
    """Note clients, as an entry about them does."""
    with house.database.writing() as session:
        note_due_changes(session, house.organisation, clients, house.clock())


def reminders(house: House, state: str | None = None) -> list[Reminder]:
    """The rows of the outbox, in order of their moment."""
    query = select(Reminder).order_by(Reminder.due_at)
    with house.database.reading() as session:
        return list(session.scalars(query if state is None else query.where(Reminder.state == state)))
