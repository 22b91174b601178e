"""Switching the early-warning total: `python3 -m webapp.service early-warning on`."""

import argparse
from typing import Any

from webapp.storage.database import Database
from webapp.storage.switches import find_organisation, settings_of, switch

WORDS = {True: "on", False: "off"}
WHAT_IT_IS = "show the early-warning total (NEWS2) beside a visit's conclusion"
CAUTION = (
    "It is a score for acute illness in adults. Agree on its use, and on what follows from a total, "
    "with whoever answers for clinical practice in your service."
)


def describe(commands: Any) -> None:
    """Add the command to the parser."""
    command = commands.add_parser("early-warning", help=WHAT_IT_IS, description=f"Whether to {WHAT_IT_IS}.")
    command.add_argument("state", choices=("on", "off"), nargs="?", help="without it: what is in force")
    command.set_defaults(run=early_warning)


def early_warning(database: Database, options: argparse.Namespace) -> str:
    """Switch the early-warning total, or leave it with no state, and say what is in force."""
    with database.reading() as session:
        organisation = find_organisation(session, options.organisation)
        before = settings_of(session, organisation.id)["early_warning"]
    if options.state is not None:
        switch(database, organisation.id, "early_warning", options.state == "on")
    with database.reading() as session:
        now = settings_of(session, organisation.id)["early_warning"]
    return _told(organisation.name, before, now)


def _told(organisation: str, before: bool, now: bool) -> str:
    told = f"{organisation}: the early-warning total is {WORDS[now]}."
    if now == before:
        return told
    told = f"{told} Phones follow at their next sync."
    return f"{told}\n{CAUTION}" if now else told
