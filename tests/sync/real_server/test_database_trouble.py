"""The database is locked, restarted, killed, or undoes what it was asked (F17, F18, F20, F21).

In every case the device is told to come again, nothing is half done, and what was sent goes through later.
"""

import os
import signal
import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager

import psycopg
import pytest

from sync.errors import ServerRefused
from tests.databases import Cluster
from tests.sync.real_server.gunicorn_server import WITH_FAILPOINTS, Gunicorn, serving, wait_until
from tests.sync.real_server.team import Device, Team

ON_POSTGRESQL = pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
ALWAYS = "DO $$ BEGIN RAISE EXCEPTION 'again' USING ERRCODE = '{}'; END $$"
IN_TRANSACTION = "SELECT pid FROM pg_stat_activity WHERE state LIKE 'idle in transaction%'"


@pytest.fixture
def phone(team: Team, server: Gunicorn) -> Device:
    """A phone with one visit sent and one to send."""
    made = Device(team, server.url)
    made.visit()
    made.settle()
    made.visit()
    return made


def check_told_to_come_again(team: Team, phone: Device) -> None:
    """503 with Retry-After, the device as before, and nothing of what it sent in the log."""
    before, rows = phone.state, team.rows()
    check_busy(phone.try_sync())
    assert phone.state == before
    assert team.rows() == rows


def check_busy(error: Exception | None) -> None:
    assert isinstance(error, ServerRefused)
    assert (error.status, error.code, error.retry_after) == (503, "busy", 5)


@pytest.fixture
def impatient(team: Team, database_url: str, tmp_path) -> Iterator[Gunicorn]:
    """The service with shorter waits for a lock, so that the test need not wait as long."""
    wait = "PRAGMA busy_timeout=200" if database_url.startswith("sqlite") else "SET lock_timeout='200ms'"
    with serving(tmp_path, database_url, WITH_FAILPOINTS, LINTEL_TEST_CONNECTION=wait) as running:
        yield running


def test_somebody_else_holds_the_lock_for_too_long(team: Team, impatient: Gunicorn, database_url: str):
    """F18: another program writes and does not end; who only fetches is not kept from it."""
    phone, ben = Device(team, impatient.url), Device(team, impatient.url, "ben")
    phone.visit()
    phone.settle()
    phone.visit()
    with locked_by_a_stranger(database_url):
        check_told_to_come_again(team, phone)
        check_told_to_come_again(team, phone)
        assert ben.try_sync() is None and len(ben.state.entries) == 3
    team.check_settled(phone, ben)


@contextmanager
def locked_by_a_stranger(database_url: str) -> Iterator[None]:
    """The whole file, or every organisation's counter, locked by another program."""
    if database_url.startswith("sqlite"):
        with closing(sqlite3.connect(database_url.removeprefix("sqlite:///"))) as other:
            other.execute("BEGIN IMMEDIATE")
            yield
        return
    with psycopg.connect(database_url) as other:
        other.execute("SELECT 1 FROM organisations FOR UPDATE")
        yield
        other.rollback()


@ON_POSTGRESQL
@pytest.mark.parametrize("state", ["40001", "40P01", "55P03", "57014", "53100", "25006"])
def test_postgresql_undoes_the_transaction(team: Team, server: Gunicorn, phone: Device, state: str):
    """F18, F19, F21: serialisation failure, deadlock, lock timeout, cancelled, disk full, read only."""
    server.at("commit", "sql", sql=ALWAYS.format(state))
    check_told_to_come_again(team, phone)
    assert server.was_taken()
    team.check_settled(phone)


@ON_POSTGRESQL
def test_a_real_deadlock(team: Team, server: Gunicorn, phone: Device, database_url: str):
    """F21: two wait for each other; PostgreSQL throws one out, here the service."""
    with psycopg.connect(database_url) as other, ThreadPoolExecutor(1) as pool:
        other.execute("SET deadlock_timeout = '60s'")  # so that it is not this one
        other.execute("SELECT 1 FROM clients WHERE organisation_id = %s FOR UPDATE", [team.organisation])
        pushed = pool.submit(phone.try_sync)
        with psycopg.connect(database_url, autocommit=True) as watch:
            wait_until(lambda: waiting(watch), "the service waits for a client's row", server.text)
        other.execute("UPDATE organisations SET head = head WHERE id = %s", [team.organisation])
        check_busy(pushed.result(60))
        other.rollback()
    assert {line["error"] for line in server.events("database")} == {"DeadlockDetected"}
    team.check(phone)
    team.check_settled(phone)


def waiting(watch: psycopg.Connection) -> bool:
    rows = watch.execute("SELECT 1 FROM pg_stat_activity WHERE wait_event_type = 'Lock'").fetchall()
    return len(rows) == 1


@ON_POSTGRESQL
@pytest.mark.parametrize("how", ["fast", "immediate"])
def test_postgresql_restarted_under_the_pool(
    team: Team, server: Gunicorn, phone: Device, cluster: Cluster, how: str
):
    """F20: both workers hold connections that are dead; nobody meets more than "busy", soon nobody any."""
    with ThreadPoolExecutor(8) as pool:
        assert set(pool.map(Device.try_sync, [phone.another() for _ in range(8)])) == {None}
    cluster.control("restart", "-m", how)
    with ThreadPoolExecutor(8) as pool:
        for error in pool.map(Device.try_sync, [phone.another() for _ in range(8)]):
            assert error is None or check_busy(error) is None
    team.check_settled(phone)


@ON_POSTGRESQL
def test_postgresql_stopped_for_a_while(team: Team, phone: Device, cluster: Cluster):
    """F20: while it is away the device is told to come again."""
    cluster.control("stop", "-m", "fast")
    try:
        before = phone.state
        for _ in range(3):
            check_busy(phone.try_sync())
        assert phone.state == before
    finally:
        cluster.control("start")
    team.check_settled(phone)


@ON_POSTGRESQL
@pytest.mark.parametrize("moment", ["entry", "commit"])
def test_postgresql_killed_in_the_transaction(team: Team, server: Gunicorn, phone: Device, moment: str,
                                              database_url: str):  # fmt: skip
    """F17: SIGKILL for the process that serves the transaction; PostgreSQL restarts itself and recovers."""
    server.at(moment, "pause")
    with ThreadPoolExecutor(1) as pool:
        pushed = pool.submit(phone.try_sync)
        server.wait_until_taken()
        with psycopg.connect(database_url, autocommit=True) as watch:
            [(pid,)] = watch.execute(IN_TRANSACTION).fetchall()
        os.kill(pid, signal.SIGKILL)
        wait_until(lambda: recovered(database_url), "PostgreSQL is back")
        server.go_on()
        check_busy(pushed.result(60))
    team.check(phone)
    assert team.head() == 3
    team.check_settled(phone)


def recovered(database_url: str) -> bool:
    try:
        with psycopg.connect(database_url) as connection:
            return connection.execute(IN_TRANSACTION).fetchall() == []
    except psycopg.OperationalError:
        return False


@ON_POSTGRESQL
def test_postgresql_ends_a_transaction_that_waits_too_long(team: Team, database_url: str, tmp_path):
    """F18: a worker that was stopped in the middle does not hold the counter for ever."""
    # Soon, and yet longer than a busy machine leaves a request lying.
    sooner = "SET idle_in_transaction_session_timeout='1s'"
    with serving(tmp_path, database_url, WITH_FAILPOINTS, LINTEL_TEST_CONNECTION=sooner) as server:
        phone, other = Device(team, server.url), Device(team, server.url)
        phone.visit()
        other.visit()
        server.at("commit", "pause")
        with ThreadPoolExecutor(1) as pool:
            stopped = pool.submit(phone.try_sync)
            server.wait_until_taken()
            other.settle()
            assert dict(other.state.outbox) == {}
            server.go_on()
            check_busy(stopped.result(60))
        team.check(phone, other)
        team.check_settled(phone, other)


def test_writers_who_wait_for_each_other_all_get_through(team: Team, server: Gunicorn):
    """F18: a queue for the counter is no fault; who waits too long is told to come again."""
    phone = Device(team, server.url)
    devices = [phone.another() for _ in range(8)]
    for device in devices:
        device.visit(20)
    start = threading.Barrier(8)
    with ThreadPoolExecutor(8) as pool:
        errors = list(pool.map(lambda device: (start.wait(), device.try_sync())[1], devices))
    for error in errors:
        assert error is None or check_busy(error) is None
    assert None in errors
    team.check_settled(phone, *devices)
