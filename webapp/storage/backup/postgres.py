"""PostgreSQL: pg_dump and pg_restore, a database beside the real one, and a swap of their names."""

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Engine, make_url, text
from sqlalchemy.exc import OperationalError, ProgrammingError

from webapp.storage.backup.failed import BackupFailed
from webapp.storage.database import make_engine

FOLDERS = "usr/lib/postgresql/*/bin"
IN_USE = "The database is in use. Stop the service, then restore. Nothing was changed."
MAY_NOT = (
    "The user of LINTEL_DATABASE_URL may not make databases on this server, and a restore is made beside "
    "the database it replaces. Allow it (ALTER ROLE ... CREATEDB) or restore as a user who may. Nothing was "
    "changed."
)


def program(name: str) -> str:
    """The path of one of PostgreSQL's programs, the newest there is."""
    found = [path for path in Path("/").glob(f"{FOLDERS}/{name}")]
    newest = max(found, key=lambda path: float(path.parent.parent.name), default=None)
    path = shutil.which(name) or (str(newest) if newest else None)
    if path is None:
        raise BackupFailed(
            f"{name} is not installed. It comes with PostgreSQL's client programs, on Debian or Ubuntu: "
            "sudo apt-get install postgresql-client. Nothing was done."
        )
    return path


def dump(url: str, target: Path, snapshot: str) -> None:
    """Copy the database as another transaction sees it; who writes meanwhile is not held up."""
    _run("pg_dump", url, "--format=custom", "--no-owner", "--no-privileges", f"--snapshot={snapshot}",
         f"--file={target}")  # fmt: skip


def load(source: Path, url: str) -> None:
    """Fill an empty database, all of it or nothing."""
    _run("pg_restore", url, "--no-owner", "--no-privileges", "--single-transaction", "--exit-on-error",
         str(source))  # fmt: skip


def _run(name: str, url: str, *arguments: str) -> None:
    target = make_url(url)
    # A password in the arguments would be read by everybody on the machine.
    variables = {**os.environ, **({"PGPASSWORD": str(target.password)} if target.password else {})}
    plain = target.set(drivername="postgresql", password=None).render_as_string(hide_password=False)
    command = [program(name), f"--dbname={plain}", *arguments]
    done = subprocess.run(command, env=variables, capture_output=True, stdin=subprocess.DEVNULL, text=True)
    if done.returncode != 0:
        # Its lines may quote rows; the first names the matter.
        said = (done.stderr.strip().splitlines() or ["it said nothing"])[0][:200]
        raise BackupFailed(f"{name} failed: {said}. Nothing was changed.")


def name_beside(url: str) -> URL:
    """The address of the database that a restore is made in."""
    target = make_url(url)
    return target.set(database=f"{target.database}_restoring")


@contextmanager
def database_beside(url: str) -> Iterator[str]:
    """A new, empty database next to another, gone afterwards unless it was renamed."""
    beside = name_beside(url)
    try:
        _maintain(url, f'DROP DATABASE IF EXISTS "{beside.database}" WITH (FORCE)',
                  f'CREATE DATABASE "{beside.database}" TEMPLATE template0 ENCODING \'UTF8\'')  # fmt: skip
    except ProgrammingError as error:
        raise BackupFailed(MAY_NOT) from error
    try:
        yield beside.render_as_string(hide_password=False)
    finally:
        _maintain(url, f'DROP DATABASE IF EXISTS "{beside.database}" WITH (FORCE)')


def swap(url: str) -> str:
    """Give the database beside the real one's name, in one transaction; what the one before is called now."""
    name = make_url(url).database
    kept = f"{name}_before_{datetime.now(UTC):%Y%m%dt%H%M%S%f}"
    away = [f'ALTER DATABASE "{name}" RENAME TO "{kept}"'] if exists(url) else []
    try:
        _maintain(url, "BEGIN", *away,
                  f'ALTER DATABASE "{name_beside(url).database}" RENAME TO "{name}"', "COMMIT")  # fmt: skip
    except OperationalError as error:
        raise BackupFailed(IN_USE) from error
    return kept if away else ""


def exists(url: str) -> bool:
    """Whether there is a database of the name to be replaced: on a new server there is none."""
    asked = text("SELECT count(*) FROM pg_database WHERE datname = :name")
    engine = _maintenance(url)
    try:
        with engine.connect() as connection:
            return bool(connection.execute(asked, {"name": make_url(url).database}).scalar_one())
    finally:
        engine.dispose()


def _maintenance(url: str) -> Engine:
    return make_engine(make_url(url).set(database="postgres").render_as_string(hide_password=False))


def _maintain(url: str, *statements: str) -> None:
    engine = _maintenance(url)
    try:
        with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            for statement in statements:
                connection.exec_driver_sql(statement)
    finally:
        engine.dispose()


def export_snapshot(session: Any) -> str:
    """Name what this transaction sees, so that pg_dump sees the same; it may take its time."""
    session.execute(text("SET idle_in_transaction_session_timeout = 0"))
    return str(session.execute(text("SELECT pg_export_snapshot()")).scalar_one())
