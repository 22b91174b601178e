"""Build the whole scenario for a given day: pure, no clock, no chance beyond a fixed seed."""

import json
import random
from dataclasses import dataclass
from datetime import date
from typing import Any

from demo_home_visits.described import Described
from demo_home_visits.entry_maker import EntryMaker, device_id, number_by_device, steady_id, user_id
from demo_home_visits.people import SCENARIO, TEAM
from demo_home_visits.story import Story


@dataclass(frozen=True)
class Scenario:
    """Everything the demo database starts with."""

    organisation: dict[str, Any]
    people: list[dict[str, Any]]
    teams: list[dict[str, Any]]
    caseloads: dict[str, list[str]]
    entries: list[dict[str, Any]]

    def clients(self) -> list[str]:
        """Return every client's id, each once."""
        return list(dict.fromkeys(client for clients in self.caseloads.values() for client in clients))


def build(today: date) -> Scenario:
    """Return the scenario as it stands on the morning of this day."""
    organisation = {**TEAM["organisation"], "id": steady_id("organisation", TEAM["organisation"]["key"])}
    people = [
        {**person, "id": user_id(person["key"]), "device": device_id(person["key"])}
        for person in TEAM["people"]
    ]
    teams = [team_of(team) for team in TEAM["teams"]]
    clients = json.loads((SCENARIO / "clients.json").read_text(encoding="utf-8"))["clients"]
    entries = [entry for client in clients for entry in story_of(client, today, organisation["settings"])]
    return Scenario(organisation, people, teams, caseloads(clients), number_by_device(entries))


def team_of(team: dict[str, Any]) -> dict[str, Any]:
    people = {part: [user_id(key) for key in team[part]] for part in ("members", "leads")}
    return {**team, **people, "id": steady_id("team", team["key"])}


def story_of(client: dict[str, Any], today: date, settings: dict[str, Any]) -> list[dict[str, Any]]:
    therapist = client["therapist"]
    # Ids differ from day to day, so that a phone which has seen yesterday's demo meets no twin of an entry.
    ids = random.Random(f"ids/{client['key']}/{today.isoformat()}")
    maker = EntryMaker(client_id(client), user_id(therapist), device_id(therapist), ids)
    chance = random.Random(f"story/{client['key']}")
    return Story(client, maker, today, settings, chance, Described(client["key"], maker)).tell()


def caseloads(clients: list[dict[str, Any]]) -> dict[str, list[str]]:
    """Return user id -> client ids: the therapist's own and those shared with them."""
    found: dict[str, list[str]] = {}
    for client in clients:
        for key in (client["therapist"], *client["shared_with"]):
            found.setdefault(user_id(key), []).append(client_id(client))
    return found


def client_id(client: dict[str, Any]) -> str:
    return steady_id("client", client["key"])
