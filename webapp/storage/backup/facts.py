"""What a backup says of itself, and whether this Lintel can restore it."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, select
from sqlalchemy.orm import Session

from webapp.storage.backup.failed import BackupFailed
from webapp.storage.models import Organisation
from webapp.storage.upgrade import migration_config

FORMAT = 1
NO_BACKUP = "This is no backup of Lintel, or it is damaged. Nothing was changed. Take another copy of it."


@dataclass(frozen=True)
class Facts:
    """A backup in a few words: of which kind of database, how new, when, and how far each log had come."""

    at: str
    backend: str
    revision: str
    sha256: str
    organisations: Sequence[dict[str, Any]]

    def as_json(self) -> str:
        """The facts as they lie in the file."""
        return json.dumps({"lintel_backup": FORMAT, **asdict(self)}, indent=1)


def read_facts(text: bytes) -> Facts:
    """The facts in a backup; BackupFailed when these are none, or of a format of later days."""
    try:
        found = json.loads(text)
        spoken = found.pop("lintel_backup")
        if spoken != FORMAT:
            raise BackupFailed("This backup was made by a newer Lintel. Restore it with that one.")
        return Facts(**found)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise BackupFailed(NO_BACKUP) from error


def check_fits(facts: Facts, backend: str) -> None:
    """Refuse a backup of another kind of database, or of a newer revision."""
    if facts.backend != backend:
        raise BackupFailed(
            f"This is a backup of a {facts.backend} database, and LINTEL_DATABASE_URL names a {backend} one. "
            "Nothing was changed."
        )
    scripts = ScriptDirectory.from_config(migration_config(None)).walk_revisions()
    if facts.revision not in {script.revision for script in scripts}:
        raise BackupFailed(
            f"This backup was made by a newer Lintel (revision {facts.revision}). Update Lintel, then "
            "restore it. Nothing was changed."
        )


def revision_of(connection: Connection) -> str:
    """How far a database's tables have been brought; BackupFailed for one that has none of ours."""
    found = MigrationContext.configure(connection).get_current_revision()
    if found is None:
        raise BackupFailed("There is nothing of Lintel in this database yet.")
    return found


def heads_of(session: Session) -> list[dict[str, Any]]:
    """How far each organisation's log had come, and its audit."""
    query = select(Organisation.id, Organisation.head, Organisation.audit_seq, Organisation.audit_hash)
    return [dict(row._mapping) for row in session.execute(query.order_by(Organisation.id))]
