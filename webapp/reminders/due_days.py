"""What is due for one client, from the log: the pure rules of webapp/clinical, asked for today."""

from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from webapp.clinical.reassessment import due_items, reassessment_facts
from webapp.reminders.reckoning import DueItem, Reckoned
from webapp.storage.read import entries_of
from webapp.storage.switches import settings_of


def reckon(session: Session, organisation: str, client: str, now: datetime) -> Reckoned:
    """The due dates of a client as the client's record stands, by the rules the service has in force."""
    settings = settings_of(session, organisation)
    service = settings["reassessment"]
    zone = ZoneInfo(settings["calendar"]["zone"])
    calendar = settings["calendar"] | {"today": now.astimezone(zone).date().isoformat()}
    facts = reassessment_facts(entries_of(session, organisation, client), service, calendar["zone"])
    told = due_items(facts, calendar, service)
    items = (_item(each) for each in told["items"] if each["due"] and each["state"] != "away")
    return Reckoned(tuple(items), _again(facts, calendar["today"], zone))


def _item(told: dict[str, Any]) -> DueItem:
    due_on = date.fromisoformat(told["due"])
    opens = date.fromisoformat(told["opens"]) if told["opens"] else due_on
    return DueItem(told["key"], min(opens, due_on), due_on)


def _again(facts: dict[str, Any], today: str, zone: ZoneInfo) -> datetime | None:
    """When the client comes back: that day brings other due dates without a further entry."""
    days = [each["to"] for each in facts["pauses"]] + [each["reopened"] for each in facts["discharges"]]
    days += [each["from"] for each in facts["pauses"]] + [each["day"] for each in facts["discharges"]]
    ahead = min((day for day in days if day and day > today), default=None)
    return datetime.combine(date.fromisoformat(ahead), time(), zone).astimezone(UTC) if ahead else None
