"""A release is prepared while devices sync (F24): the log is migrated under the running service.

What the next release might do: make the table of entries anew with one column more, in the transaction of
`webapp.storage.upgrade`. The release that runs goes on meanwhile and afterwards.
"""

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import pytest
from alembic.migration import MigrationContext
from alembic.operations import Operations
from sqlalchemy import Boolean, Column, inspect, true

from tests.sync.real_server.gunicorn_server import WITH_FAILPOINTS, Gunicorn, serving, wait_until
from tests.sync.real_server.team import Device, Team
from tests.sync.real_server.test_database_trouble import check_busy
from webapp.storage import Database, upgrade

ADDED = "of_the_next_release"


@pytest.fixture
def impatient(team: Team, database_url: str, tmp_path: Path) -> Iterator[Gunicorn]:
    """The service with shorter waits for a lock, so that the test need not wait as long."""
    wait = "PRAGMA busy_timeout=200" if database_url.startswith("sqlite") else "SET lock_timeout='200ms'"
    with serving(tmp_path, database_url, WITH_FAILPOINTS, LINTEL_TEST_CONNECTION=wait) as running:
        yield running


@contextmanager
def migrating(database_url: str, fails: bool = False) -> Iterator[None]:
    """The migration, made but not committed until the end of the block; one that `fails` is undone."""
    database = Database(database_url)
    try:
        with database.migrating() as session:
            operations = Operations(MigrationContext.configure(session.connection()))
            with operations.batch_alter_table("entries", recreate="auto") as table:
                table.add_column(Column(ADDED, Boolean(), nullable=False, server_default=true()))
            yield
            if fails:
                raise ZeroDivisionError
    except ZeroDivisionError:
        pass
    finally:
        database.dispose()


def taken_back(database_url: str) -> None:
    database = Database(database_url)
    with database.migrating() as session:
        operations = Operations(MigrationContext.configure(session.connection()))
        with operations.batch_alter_table("entries", recreate="auto") as table:
            table.drop_column(ADDED)
    database.dispose()


def is_there(team: Team) -> bool:
    team.database.dispose()  # what was prepared for the former table is no good
    return ADDED in {column["name"] for column in inspect(team.database.engine).get_columns("entries")}


@pytest.mark.parametrize("fails", [False, True], ids=["done", "undone"])
def test_the_log_is_migrated_under_devices_that_sync(
    team: Team, impatient: Gunicorn, database_url: str, fails: bool
):
    """F24: whoever comes meanwhile is told to come again; nothing that was stored or waits is touched."""
    devices = [Device(team, impatient.url, name) for name in ("ann", "ann", "ben")]
    devices[0].visit()
    team.check_settled(*devices)
    done, errors = threading.Event(), []

    def work(device: Device) -> None:
        while not done.is_set():
            device.visit(2)
            errors.append(device.try_sync())

    with ThreadPoolExecutor(len(devices)) as pool:
        working = [pool.submit(work, device) for device in devices]
        try:
            wait_until(lambda: None in errors, "they are at work", impatient.text)
            with migrating(database_url, fails):
                before = len(errors)
                wait_until(lambda: any(errors[before:]), "somebody meets it", impatient.text)
            after = len(errors)
            wait_until(lambda: None in errors[after + len(devices) :], "they go on", impatient.text)
        finally:
            done.set()
        for one in working:
            one.result(60)
    assert is_there(team) != fails
    for error in errors:
        assert error is None or check_busy(error) is None
    team.check(*devices)
    team.check_settled(*devices)
    if not fails:
        taken_back(database_url)
        team.check_settled(*devices)


def test_a_worker_that_starts_migrates_nothing_away(team: Team, server: Gunicorn, database_url: str):
    """F24: `upgrade` on a database that is up to date, again and again under devices that sync."""
    devices = [Device(team, server.url, name) for name in ("ann", "ben")]
    for _ in range(3):
        for device in devices:
            device.visit()
        with ThreadPoolExecutor(3) as pool:
            upgraded = pool.submit(upgrade, database_url)
            errors = list(pool.map(Device.try_sync, devices))
            upgraded.result(60)
        for error in errors:
            assert error is None or check_busy(error) is None
    team.check_settled(*devices)
