"""`python3 -m webapp.service early-warning on`, `... devices`, `... device revoke ID`, `... restored`."""

import argparse
import sys
from collections.abc import Sequence

from sqlalchemy.exc import SQLAlchemyError

from webapp.config import SettingsError, from_environment
from webapp.service import (
    audit,
    backup,
    devices,
    early_warning,
    held,
    people,
    push_keys,
    restored,
    retention,
)
from webapp.service.refused import Refused
from webapp.storage.database import Database
from webapp.storage.switches import NoSuchOrganisation


def main(arguments: Sequence[str] | None = None) -> int:
    """Do what was asked; what to tell the shell."""
    options = _parser().parse_args(arguments)
    try:
        settings = from_environment()
        database = Database(settings.database_url, settings.secret_key, settings.old_secret_keys)
    except SettingsError as error:
        return _failed(str(error))
    try:
        print(options.run(database, options))
    except (NoSuchOrganisation, Refused) as error:
        return _failed(str(error))
    except SQLAlchemyError as error:
        return _failed(f"The database could not be used ({type(error).__name__}). Nothing was changed.")
    finally:
        database.dispose()
    return 0


def _failed(sentence: str) -> int:
    print(sentence, file=sys.stderr)
    return 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python3 -m webapp.service", description="What a service decides for all its people."
    )
    commands = parser.add_subparsers(dest="command", required=True)
    for command in (early_warning, devices, held, people, retention, backup, restored, audit, push_keys):
        command.describe(commands)
    for name, named in commands.choices.items():
        if name == "audit":
            continue  # its acts have it
        named.add_argument("--organisation", metavar="NAME", help="needed where there are several")
    return parser


if __name__ == "__main__":
    sys.exit(main())
