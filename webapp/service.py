"""What a service decides for all its people: `python3 -m webapp.service early-warning on`."""

import argparse
import sys
from collections.abc import Sequence

from sqlalchemy.exc import SQLAlchemyError

from webapp.config import Settings, SettingsError, from_environment
from webapp.storage.database import Database
from webapp.storage.switches import NoSuchOrganisation, find_organisation, settings_of, switch

WORDS = {True: "on", False: "off"}
WHAT_IT_IS = "show the early-warning total (NEWS2) beside a visit's conclusion"
CAUTION = (
    "It is a score for acute illness in adults. Agree on its use, and on what follows from a total, "
    "with whoever answers for clinical practice in your service."
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Do what was asked; what to tell the shell."""
    options = _parser().parse_args(arguments)
    try:
        settings = from_environment()
    except SettingsError as error:
        return _failed(str(error))
    return early_warning(settings, options.state, options.organisation)


def early_warning(settings: Settings, state: str | None, name: str | None) -> int:
    """Switch the early-warning total, or leave it with no state, and say what is in force."""
    database = Database(settings.database_url)
    try:
        return _switch_and_tell(database, state, name)
    except NoSuchOrganisation as error:
        return _failed(str(error))
    except SQLAlchemyError as error:
        return _failed(f"The database could not be used ({type(error).__name__}). Nothing was changed.")
    finally:
        database.dispose()


def _switch_and_tell(database: Database, state: str | None, name: str | None) -> int:
    with database.reading() as session:
        organisation = find_organisation(session, name)
        before = settings_of(session, organisation.id)["early_warning"]
    if state is not None:
        switch(database, organisation.id, "early_warning", state == "on")
    with database.reading() as session:
        now = settings_of(session, organisation.id)["early_warning"]
    print(_told(organisation.name, before, now))
    return 0


def _told(organisation: str, before: bool, now: bool) -> str:
    told = f"{organisation}: the early-warning total is {WORDS[now]}."
    if now == before:
        return told
    told = f"{told} Phones follow at their next sync."
    return f"{told}\n{CAUTION}" if now else told


def _failed(sentence: str) -> int:
    print(sentence, file=sys.stderr)
    return 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python3 -m webapp.service", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    command = commands.add_parser("early-warning", help=WHAT_IT_IS, description=f"Whether to {WHAT_IT_IS}.")
    command.add_argument("state", choices=("on", "off"), nargs="?", help="without it: what is in force")
    command.add_argument("--organisation", metavar="NAME", help="needed where there are several")
    return parser


if __name__ == "__main__":
    sys.exit(main())
