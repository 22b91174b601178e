"""After a backup was put back: `python3 -m webapp.service restored`, before the service starts again."""

import argparse
from typing import Any

from webapp.storage.database import Database
from webapp.storage.epochs import renew_epoch
from webapp.storage.switches import find_organisation

WHAT_IT_IS = "say that a backup was put back, so that devices offer again what it lacks"
TOLD = (
    "At its next sync every device offers again what was recorded on it and it still holds, and reads the "
    "record anew. What no device holds any more is lost: `devices` names the numbers that are missing."
)


def describe(commands: Any) -> None:
    """Add the command to the parser."""
    command = commands.add_parser("restored", help=WHAT_IT_IS, description=f"To {WHAT_IT_IS}.")
    command.set_defaults(run=restored)


def restored(database: Database, options: argparse.Namespace) -> str:
    """Give the log of one organisation, or of all, a new epoch; a backup puts all of them back."""
    if options.organisation is None:
        count = renew_epoch(database)
        return f"{count} record{'' if count == 1 else 's'} begun anew. {TOLD}"
    with database.reading() as session:
        organisation = find_organisation(session, options.organisation)
    renew_epoch(database, organisation.id)
    return f"{organisation.name}: the record is begun anew. {TOLD}"
