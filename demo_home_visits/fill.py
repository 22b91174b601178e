"""Fill an empty database with the scenario, by the same way in that a device's entries take."""

from datetime import UTC, datetime, timedelta
from typing import Any

from demo_home_visits.build import Scenario
from demo_home_visits.people import PASSWORD
from webapp import examiner
from webapp.storage.append import append_entries
from webapp.storage.caseload import assign_caseload, create_client
from webapp.storage.database import Database
from webapp.storage.people import Person, create_organisation, create_user
from webapp.storage.teams import join_team, make_team

BATCH = 200


class RefusedByServer(Exception):
    """The server did not take an entry of the scenario: a fault of the scenario."""


def fill(database: Database, scenario: Scenario, at: datetime | None = None) -> None:
    """Make organisation, people, clients, caseloads and teams, then append every entry.

    `at`: when the service is to have received them, if that is not now.
    """
    organisation = scenario.organisation
    create_organisation(
        database, organisation["name"], id=organisation["id"], settings=organisation["settings"]
    )
    people = {person["id"]: add_person(database, organisation["id"], person) for person in scenario.people}
    for client in scenario.clients():
        create_client(database, organisation["id"], id=client)
    since = before_first(scenario.entries)
    for user, clients in scenario.caseloads.items():
        assign_caseload(database, people[user], clients, since=since)
    make_teams(database, scenario, since)
    for person in scenario.people:
        append_all(database, people[person["id"]], person["device"], scenario.entries, at)


def add_person(database: Database, organisation: str, person: dict[str, Any]) -> Person:
    return create_user(
        database,
        organisation,
        sign_in_name=person["sign_in"],
        display_name=person["name"],
        role=person["role"],
        password=PASSWORD,
        id=person["id"],
    )


def make_teams(database: Database, scenario: Scenario, since: datetime) -> None:
    organisation = scenario.organisation["id"]
    with database.writing() as session:
        for team in scenario.teams:
            make_team(session, organisation, team["name"], since, id=team["id"])
            for key, part in (("members", "member"), ("leads", "lead")):
                for person in team[key]:
                    join_team(session, organisation, team["id"], person, part, since)


def before_first(entries: list[dict[str, Any]]) -> datetime:
    first = min(entry["recorded_at"] for entry in entries)
    return datetime.fromisoformat(first).astimezone(UTC) - timedelta(days=1)


def append_all(
    database: Database,
    person: Person,
    device: str,
    entries: list[dict[str, Any]],
    at: datetime | None = None,
) -> None:
    """Append what this person recorded on this device, oldest first, as that device would have sent it."""
    own = [entry for entry in entries if entry["author"] == person.id and entry["device"] == device]
    for start in range(0, len(own), BATCH):
        batch = own[start : start + BATCH]
        verdicts = append_entries(database, person, batch, examine=examiner(), device=device, now=at)
        refused = [verdict for verdict in verdicts if verdict.verdict != "applied"]
        if refused:
            raise RefusedByServer(f"{len(refused)} entries, the first: {refused[0]}")
