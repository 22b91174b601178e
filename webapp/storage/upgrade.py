"""Bringing a database to the newest revision."""

from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, text

from webapp.storage.database import Database

if TYPE_CHECKING:
    from alembic.config import Config

# Any constant does; it makes two starting workers migrate one after the other.
_MIGRATION_LOCK = 0x4C_69_6E_74


def upgrade(url: str, revision: str = "head") -> None:
    """Run the migrations a database still lacks, in one transaction."""
    from alembic import command  # here: a worker that answers requests migrates nothing and need not hold it

    database = Database(url)
    try:
        with database.migrating() as session:
            connection = session.connection()
            if connection.dialect.name == "postgresql":
                connection.execute(text("SET LOCAL lock_timeout = '60s'"))
                connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _MIGRATION_LOCK})
            command.upgrade(migration_config(connection), revision)
    finally:
        database.dispose()


def migration_config(connection: Connection) -> "Config":
    """Alembic's configuration for one connection; there is no ini file."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config
