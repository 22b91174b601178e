"""A caseload as large as one is likely to get: the demo's clients over and over, each with many visits."""

import json
import random
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from demo_home_visits import serve
from demo_home_visits.build import Scenario, build, client_id
from demo_home_visits.described import Described
from demo_home_visits.entry_maker import EntryMaker, device_id, number_by_device, user_id
from demo_home_visits.fill import fill
from demo_home_visits.people import SCENARIO
from demo_home_visits.story import Story
from webapp.storage import Database, upgrade

THERAPIST = "oriane"
VISITS_TODAY = 6
WEEKS = 12  # what is described of the demo's clients begins at visits that far back


def large_scenario(today: date, clients: int, entries_each: int) -> Scenario:
    """Return one therapist's caseload of so many clients with so many entries each."""
    small = build(today)
    templates = [each for each in demo_clients() if each["visits"]["every"]]
    stories = {}
    for number in range(clients):
        template = templates[number % len(templates)]
        client = variant(template, number, weeks=max(WEEKS, entries_each // 10))
        told = story(client, template["key"], today, small.organisation["settings"])
        stories[client_id(client)] = told[:entries_each]
    entries = number_by_device([entry for each in stories.values() for entry in each])
    return Scenario(small.organisation, small.people, [], {user_id(THERAPIST): list(stories)}, entries)


def demo_clients() -> list[dict[str, Any]]:
    return json.loads((SCENARIO / "clients.json").read_text(encoding="utf-8"))["clients"]


def variant(template: dict[str, Any], number: int, weeks: int) -> dict[str, Any]:
    """Return a client like the template, one of many: seen every week, no slips, at most one visit a day."""
    clock = f"{9 + number:02}:00" if number < VISITS_TODAY else None
    return {
        **template,
        "key": f"large/{number}",
        "name": f"{template['name']} {number}",
        "preferred_name": f"{template['preferred_name']} {number}",
        "visits": {"weeks": weeks, "every": 1, "today": clock, "tomorrow": None},
        "events": [],
    }


def story(
    client: dict[str, Any], described_as: str, today: date, settings: dict[str, Any]
) -> list[dict[str, Any]]:
    """Return the client's entries, what is planned for today first: cutting at the end must not lose it."""
    chance = random.Random(client["key"])
    maker = EntryMaker(client_id(client), user_id(THERAPIST), device_id(THERAPIST), chance)
    entries = Story(client, maker, today, settings, chance, Described(described_as, maker)).tell()
    return sorted(entries, key=lambda entry: entry["body"].get("date") != today.isoformat())


def make_database(folder: Path, scenario: Scenario) -> None:
    """Fill the folder of a demo server with this scenario, as an hour ago.

    Before the audit notes what a person reads, it looks through what they did in the last quarter of an hour;
    nobody writes tens of thousands of entries in that time.
    """
    folder.mkdir(parents=True, exist_ok=True)
    url = serve.url_of(folder / serve.DATABASE)
    upgrade(url)
    database = Database(url, serve.secret(folder))
    fill(database, scenario, datetime.now(UTC) - timedelta(hours=1))
    database.dispose()
