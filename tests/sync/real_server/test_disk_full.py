"""The disk of the database is full (F19): busy, nothing half done, still readable; then space returns.

Full for real on a small file system in memory where the tests may mount one; and, so that the check never
goes missing, by SQLite's own limit of pages.
"""

import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest

from sync.errors import ServerRefused
from tests.databases import Cluster, copy_of, is_root
from tests.sync.real_server.gunicorn_server import WITH_FAILPOINTS, Gunicorn, serving
from tests.sync.real_server.team import Device, Team
from webapp.storage import upgrade

LONG = "Long " * 300
MOST_VISITS = 200
NO_MORE_PAGES = "PRAGMA max_page_count=150"


@contextmanager
def small_disk(folder: Path, megabytes: int) -> Iterator[Path]:
    """A file system of a few megabytes in memory; skipped where the tests may not mount."""
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m,mode=755", "tmpfs", str(folder)]
    if not is_root() or subprocess.run(mount, capture_output=True).returncode != 0:
        pytest.skip("only root may mount a small disk; SQLite's own limit is tried in any case")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def fill(disk: Path) -> Path:
    """Take what is left of a disk."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"x" * 4096)
        except OSError:
            return filler


def fill_until_busy(team: Team, phone: Device) -> None:
    """Visits with long notes until the database takes no more; what was taken before stays."""
    for _ in range(MOST_VISITS):
        phone.visit(100, text=LONG)
        before, rows = phone.state, team.rows()
        error = phone.try_sync()
        if error is not None:
            assert isinstance(error, ServerRefused), error
            assert (error.status, error.code, error.retry_after) == (503, "busy", 5)
            assert (phone.state, team.rows()) == (before, rows)
            return
    raise AssertionError("the disk was never full")


def check_full(team: Team, server: Gunicorn, phone: Device, ben: Device) -> None:
    """Refused again and again without any trace, while everything can be read."""
    fill_until_busy(team, phone)
    rows = team.rows()
    for _ in range(3):
        assert phone.try_sync().status == 503
    assert team.rows() == rows
    team.check(phone)
    ben.settle()
    assert len(ben.state.entries) == len(rows)
    answer = ben.transport.get(f"/api/v1/clients/{team.clients['both']}/entries")
    assert answer.status == 200 and answer.json()


def cast(database_url: str, server: Gunicorn) -> tuple[Team, Device, Device]:
    """A team with one visit in the log, and two who have synced."""
    team = Team(database_url)
    phone, ben = Device(team, server.url), Device(team, server.url, "ben")
    phone.visit()
    team.check_settled(phone, ben)
    return team, phone, ben


def test_sqlite_on_a_full_disk(tmp_path: Path, sqlite_template: Path):
    """F19: the file system has no block left."""
    with small_disk(tmp_path / "disk", 4) as disk:
        url = copy_of(sqlite_template, disk)
        with serving(tmp_path, url, WITH_FAILPOINTS) as server:
            team, phone, ben = cast(url, server)
            filler = fill(disk)
            check_full(team, server, phone, ben)
            filler.unlink()
            team.check_settled(phone, ben)
            team.database.dispose()


def test_sqlite_with_no_page_left(tmp_path: Path, sqlite_template: Path):
    """F19: the same by the limit of pages; space returns with the server's next start."""
    url = copy_of(sqlite_template, tmp_path)
    with serving(tmp_path, url, WITH_FAILPOINTS, LINTEL_TEST_CONNECTION=NO_MORE_PAGES) as server:
        team, phone, ben = cast(url, server)
        check_full(team, server, phone, ben)
        server.variables["LINTEL_TEST_CONNECTION"] = ""
        server.kill()
        server.start()
        team.check_settled(phone, ben)
        team.database.dispose()


def test_postgresql_on_a_full_disk(tmp_path: Path, cluster: Cluster):
    """F19: the disk of the tables is full; that of PostgreSQL's own log is another, as it should be."""
    with small_disk(cluster.folder / "disk", 24) as disk:
        folder = disk / "tables"
        folder.mkdir()
        shutil.chown(folder, "postgres")
        with tables_on(cluster, folder) as url, serving(tmp_path, url, WITH_FAILPOINTS) as server:
            team, phone, ben = cast(url, server)
            filler = fill(disk)
            check_full(team, server, phone, ben)
            assert {line["error"] for line in server.events("database")} == {"DiskFull"}
            filler.unlink()
            team.check_settled(phone, ben)
            team.database.dispose()


@contextmanager
def tables_on(cluster: Cluster, folder: Path) -> Iterator[str]:
    """A migrated database whose tables lie in a folder of ours."""
    name = "on_a_small_disk"
    with psycopg.connect(cluster.url("postgres"), autocommit=True) as connection:
        connection.execute(f"CREATE TABLESPACE small LOCATION '{folder}'")
        connection.execute(f"CREATE DATABASE {name} TABLESPACE small")
    try:
        upgrade(cluster.url(name))
        yield cluster.url(name)
    finally:
        cluster.drop(name)
        with psycopg.connect(cluster.url("postgres"), autocommit=True) as connection:
            connection.execute("DROP TABLESPACE small")
