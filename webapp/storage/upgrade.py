"""Bringing a database to the newest revision."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, text

from webapp.storage.database import Database

# Any constant does; it makes two starting workers migrate one after the other.
_MIGRATION_LOCK = 0x4C_69_6E_74


def upgrade(url: str, revision: str = "head") -> None:
    """Run the migrations a database still lacks, in one transaction."""
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


def migration_config(connection: Connection) -> Config:
    """Alembic's configuration for one connection; there is no ini file."""
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config
