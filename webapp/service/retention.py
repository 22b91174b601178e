"""How long records are kept, and erasing one: `retention`, `hold`, `erase`."""

import argparse
import sys
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from webapp.service.refused import Refused
from webapp.storage.database import Database
from webapp.storage.erasing import GROUNDS, NotErased, due_clients, erase_client, set_hold, set_retention
from webapp.storage.models import Organisation
from webapp.storage.switches import find_organisation

LAW = "How long records must be kept is for you to know: Lintel erases nothing by itself."
NOW_BACK_UP = (
    "Devices remove it at their next sync. Older backups still hold it: make a backup now, it lists this "
    "erasure so that no restore brings the record back, and delete the older ones when their time is over."
)


def describe(commands: Any) -> None:
    """Add the commands to the parser."""
    keeping = commands.add_parser("retention", help="how long records are kept, and whose time is over")
    keeping.add_argument("--years", metavar="N", help="after the last entry; `none`: for ever")
    keeping.add_argument("--list", action="store_true", help="clients on no caseload whose time is over")
    keeping.set_defaults(run=retention)
    holding = commands.add_parser("hold", help="forbid the erasure of a client's record, or allow it again")
    holding.add_argument("client")
    holding.add_argument("state", choices=("on", "off"))
    holding.set_defaults(run=hold)
    erasing = commands.add_parser("erase", help="erase a client's record for good")
    erasing.add_argument("client")
    erasing.add_argument("--ground", required=True, choices=sorted(GROUNDS))
    erasing.add_argument("--confirm", metavar="CLIENT", help="the same id again, instead of typing it")
    erasing.set_defaults(run=erase)


def retention(database: Database, options: argparse.Namespace) -> str:
    """Set the term, list whose record is due, or say what is in force."""
    now = datetime.now(UTC)
    organisation = _organisation(database, options)
    if options.years is not None:
        years = _years(options.years)
        with database.writing() as session:
            set_retention(session, organisation.id, years, now)
    with database.reading() as session:
        years = session.get_one(Organisation, organisation.id).retention_years
        due = due_clients(session, organisation.id, now)
    term = "kept for ever" if years is None else f"due {years} years after their last entry"
    lines = [f"{organisation.name}: records are {term}. {len(due)} are due.", LAW]
    if options.list:
        lines += [f"{row.client}  last entry {row.last:%Y-%m-%d}, due since {row.since:%Y-%m-%d}"
                  f"{', legal hold' if row.held else ''}" for row in due]  # fmt: skip
    return "\n".join(lines)


def _years(text: str) -> int | None:
    if text == "none":
        return None
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 200):
        raise Refused("--years is a whole number from 1 to 200, or none.")
    return int(text)


def hold(database: Database, options: argparse.Namespace) -> str:
    """Put a legal hold on a record, or lift it."""
    organisation, client, on = _organisation(database, options), _client(options), options.state == "on"
    with database.writing() as session:
        if not set_hold(session, organisation.id, client, on, datetime.now(UTC)):
            raise Refused(f"{organisation.name} has no client {client}.")
    return f"{client}: {'a legal hold is on it, it cannot be erased' if on else 'no legal hold'}."


def erase(database: Database, options: argparse.Namespace) -> str:
    """Erase one client's record, once the id was given twice."""
    organisation, client = _organisation(database, options), _client(options)
    confirmed = options.confirm or _asked(organisation.name, client, options.ground)
    if confirmed.strip().lower() != client:
        raise Refused("That is another id. Nothing was erased.")
    try:
        with database.writing() as session:
            entries = erase_client(session, organisation.id, client, options.ground, datetime.now(UTC))
    except NotErased as error:
        raise Refused(str(error)) from error
    return f"{client}: erased, {entries} entries.\n{NOW_BACK_UP}"


def _asked(organisation: str, client: str, ground: str) -> str:
    if not sys.stdin.isatty():
        raise Refused("Nothing was erased. Name the id a second time with --confirm.")
    print(f"{organisation}: this erases the whole record of {client} for good ({GROUNDS[ground]}).")
    return input("Type the id again: ")


def _organisation(database: Database, options: argparse.Namespace) -> Organisation:
    with database.reading() as session:
        return find_organisation(session, options.organisation)


def _client(options: argparse.Namespace) -> str:
    try:
        return str(UUID(str(options.client).strip()))
    except ValueError as error:
        raise Refused("A client is named by its id; `retention --list` shows ids.") from error
