"""A service with many therapists, each with one client due and one browser: rows in bulk, all invented."""

import uuid
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import insert

from tests.webapp.reminders.push_service import Browser, PushService
from webapp.reminders.outbox import WAITING
from webapp.reminders.subscriptions import hash_of_endpoint
from webapp.storage import Database, create_organisation
from webapp.storage.models import (
    Base,
    Caseload,
    Client,
    Due,
    PushSubscription,
    Reminder,
    ReminderHabits,
    User,
)

EARLY = "07:30"


def noon_zone(now: datetime) -> str:
    """A time zone in which it is about noon: reminders are sent at any hour of the test's day."""
    ahead = 12 - now.hour
    return f"Etc/GMT{-ahead:+d}" if ahead else "Etc/GMT"


def fill(database: Database, push_service: PushService, people: int) -> list[Browser]:
    """Make the crowd, every reminder of it due since an hour; its browsers."""
    now = datetime.now(UTC)
    organisation = create_organisation(database, "Much Larger Home Therapy")
    browsers = [push_service.browser() for _ in range(people)]
    rows: dict[type[Base], list[dict[str, Any]]] = {}
    for number, browser in enumerate(browsers):
        for model, row in _person(organisation, number, browser, now):
            rows.setdefault(model, []).append(row)
    with database.writing() as session:
        for model in (User, Client, Caseload, Due, ReminderHabits, PushSubscription, Reminder):
            session.execute(insert(model), rows[model])
    return browsers


def _person(
    organisation: str, number: int, browser: Browser, now: datetime
) -> Iterator[tuple[type[Base], dict[str, Any]]]:
    user, client = str(uuid.uuid4()), str(uuid.uuid4())
    long_ago, today = now - timedelta(days=9), now.date()
    keys = browser.subscription(str(uuid.uuid4()))
    own = {"organisation_id": organisation, "user_id": user}
    about = {"organisation_id": organisation, "client_id": client}
    yield User, {
        "organisation_id": organisation, "id": user, "sign_in_name": f"{number}@example.org",
        "display_name": f"Therapist {number}", "role": "therapist", "password_hash": "", "active": True,
        "created_at": long_ago,
    }  # fmt: skip
    yield Client, {"organisation_id": organisation, "id": client, "created_at": long_ago}
    yield Caseload, {**own, "client_id": client, "since": long_ago, "emergency": False}
    days = {"from_on": today - timedelta(days=3), "due_on": today + timedelta(days=3)}
    yield Due, {**about, "rule": "every", **days, "known_at": long_ago}
    yield ReminderHabits, {**own, "at": EARLY, "zone": noon_zone(now), "days": "1234567",
                           "reminded_at": long_ago, "calendar_names": False}  # fmt: skip
    yield PushSubscription, {
        **own, "endpoint_hash": hash_of_endpoint(browser.endpoint), "endpoint": browser.endpoint,
        "p256dh": keys["p256dh"], "auth": keys["auth"], "device_id": keys["device"], "created_at": long_ago,
    }  # fmt: skip
    yield Reminder, {**own, "id": str(uuid.uuid4()), "due_at": now - timedelta(hours=1), "state": WAITING,
                     "attempts": 0, "sent_to": []}  # fmt: skip
