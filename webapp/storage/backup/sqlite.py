"""SQLite: copying a database that is being written to, and putting another file in its place."""

import os
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import make_url

from webapp.storage.backup.archive import put_in_place
from webapp.storage.backup.failed import BackupFailed

IN_USE = "The database is in use. Stop the service, then restore. Nothing was changed."


def file_of(url: str) -> Path:
    """The file a database lies in."""
    name = make_url(url).database
    if not name or name == ":memory:":
        raise BackupFailed("This database lies in memory: there is nothing to back up.")
    return Path(name)


def url_of(path: Path) -> str:
    """The address of a file."""
    return f"sqlite:///{path.resolve()}"


def dump(url: str, target: Path) -> None:
    """Copy the database as it is at one moment; who writes meanwhile is not held up."""
    source = file_of(url)
    if not source.exists():
        raise BackupFailed(f"There is no database at {source}.")
    target.unlink()
    with closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True, isolation_level=None)) as connection:
        connection.execute("VACUUM INTO ?", [str(target)])
    os.chmod(target, 0o600)
    check(target)


def check(path: Path) -> None:
    """Refuse a file that SQLite does not find whole."""
    try:
        with closing(sqlite3.connect(path)) as connection:
            if connection.execute("PRAGMA integrity_check").fetchone() == ("ok",):
                return
    except sqlite3.DatabaseError:
        pass
    raise BackupFailed("The database in this copy is damaged. Nothing was changed.")


def as_one_file(path: Path) -> None:
    """Have everything lie in the file itself, nothing beside it; an error when anybody else has it open."""
    with closing(sqlite3.connect(path, timeout=1, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE").fetchall()


def swap(fresh: Path, url: str) -> str:
    """Put a checked file in the place of the database; where the one before is kept."""
    path = file_of(url)
    as_one_file(fresh)
    if not path.exists():
        put_in_place(fresh, path)
        return ""
    kept = path.with_name(f"{path.name}.before-{datetime.now(UTC):%Y%m%dT%H%M%S%f}")
    try:
        # Fails while anybody else is connected; then nothing of the old one lies beside its file any more.
        as_one_file(path)
    except sqlite3.OperationalError as error:
        raise BackupFailed(IN_USE) from error
    except sqlite3.DatabaseError:
        _set_aside_rest(path, kept)
    try:
        os.link(path, kept)
    except OSError:
        shutil.copyfile(path, kept)
        os.chmod(kept, 0o600)
    put_in_place(fresh, path)
    return str(kept)


def _set_aside_rest(path: Path, kept: Path) -> None:
    """The old file is damaged: what lies beside it must not be taken for the new one's."""
    for ending in ("-wal", "-shm"):
        rest = Path(f"{path}{ending}")
        if rest.exists():
            os.replace(rest, f"{kept}{ending}")
