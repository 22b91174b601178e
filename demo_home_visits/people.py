"""Who can sign in to the demo. Everybody here is invented, and the password is public on purpose."""

import json
from pathlib import Path

SCENARIO = Path(__file__).resolve().parent / "scenario"
PASSWORD = "quiet lantern copper meadow"
TEAM = json.loads((SCENARIO / "team.json").read_text(encoding="utf-8"))
FIRST_THERAPIST = TEAM["people"][0]["sign_in"]


def name_of(key: str) -> str:
    """Return the name of a person of the team."""
    return next(person["name"] for person in TEAM["people"] if person["key"] == key)


def sign_ins() -> list[tuple[str, str, str]]:
    """Return (sign-in name, name, role) of everybody in the demo team."""
    return [(person["sign_in"], person["name"], person["role"]) for person in TEAM["people"]]
