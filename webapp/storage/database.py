"""One database: an engine, and units of work that either read or write."""

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from time import monotonic, sleep
from typing import Any

from sqlalchemy import Engine, create_engine, event, make_url, text
from sqlalchemy.engine import Connection
from sqlalchemy.orm import Session

from sync.receipts import Receipts
from webapp.storage.audit.chain import Keys, derive

_WRITES, _MIGRATES, _NOTES = "lintel_writes", "lintel_migrates", "lintel_notes"
_BUSY_MILLISECONDS, _BUSY_MILLISECONDS_OF_UPGRADE = 5000, 60_000
_ASK_AGAIN_SECONDS = 0.002
_RECEIPTS = b"lintel receipts 1"
_POSTGRES_OPTIONS = "-c lock_timeout=3s -c idle_in_transaction_session_timeout=10s -c timezone=UTC"


class Database:
    """Where everything is kept: SQLite by default, PostgreSQL for a service.

    What is audited can only be changed by who opens it with the service's `secret`; `old_secrets` are those
    it had before, with which earlier rows of the audit and earlier receipts are checked.
    """

    def __init__(self, url: str, secret: str | None = None, old_secrets: Iterable[str] = ()) -> None:
        self.url = url
        secrets = [secret, *old_secrets] if secret else []
        self.audit_keys = Keys.derived(secrets[0], secrets[1:]) if secrets else None
        self.receipts = Receipts([derive(each, _RECEIPTS) for each in secrets])
        self.engine = make_engine(url)
        self._writer = self.engine.execution_options(**{_WRITES: True})
        self._noter = self._writer.execution_options(**{_NOTES: True})
        self._reader = self.engine
        if self.engine.dialect.name == "postgresql":
            # An answer is made by several queries; a commit between them must not make it contradict itself.
            # SQLite's deferred transaction is such a snapshot already.
            self._reader = self.engine.execution_options(isolation_level="REPEATABLE READ")

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that reads, all of it from one moment; whatever it changes is forgotten."""
        with Session(self._reader, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session that writes: one transaction, committed at the end or wholly undone."""
        with self._transaction(self._writer) as session:
            yield session

    @contextmanager
    def noting(self) -> Iterator[Session]:
        """As `writing`, for what the next request would write anew: nobody waits until it is on the disk.

        Losing power may undo it, and nothing that was written by `writing` before or after.
        """
        with self._transaction(self._noter) as session:
            if self.engine.dialect.name == "postgresql":
                session.execute(text("SET LOCAL synchronous_commit = off"))
            yield session

    @contextmanager
    def _transaction(self, engine: Engine) -> Iterator[Session]:
        info = {"audit_keys": self.audit_keys}
        with Session(engine, expire_on_commit=False, info=info) as session, session.begin():
            yield session

    @contextmanager
    def migrating(self) -> Iterator[Session]:
        """As `writing`, and tables that others refer to may be made anew: on SQLite, which cannot alter them.

        References are checked at the end instead of at every step. Dispose of the database afterwards.
        """
        engine = self._writer.execution_options(**{_MIGRATES: True})
        with Session(engine, expire_on_commit=False) as session, session.begin():
            yield session
            if engine.dialect.name == "sqlite":
                _check_references(session.connection())

    def dispose(self) -> None:
        """Close every connection."""
        self.engine.dispose()


def make_engine(url: str) -> Engine:
    """An engine for a database URL, set up the same way for the app, the migrations and the tests."""
    target = make_url(url)
    if target.get_backend_name() == "sqlite":
        return _sqlite(target)
    target = target.set(drivername="postgresql+psycopg")
    # Error texts would carry the parameters, and those are personal data.
    return create_engine(
        target,
        pool_pre_ping=True,
        hide_parameters=True,
        connect_args={"options": _POSTGRES_OPTIONS, "connect_timeout": 5},
    )


def _sqlite(target: Any) -> Engine:
    engine = create_engine(target, hide_parameters=True)
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    # The driver's own BEGIN comes late and never IMMEDIATE; _begin_sqlite does it instead.
    connection.isolation_level = None
    for pragma in (f"busy_timeout={_BUSY_MILLISECONDS}", "foreign_keys=ON", "synchronous=FULL"):
        connection.execute(f"PRAGMA {pragma}").close()
    _log_ahead(connection)


def _log_ahead(connection: Any) -> None:
    """WAL for a database that is not in it yet, also when several workers open a new one at once.

    SQLite does not wait its busy timeout when two would turn the same file over: one is told at once that
    it is locked, and finds it done when it asks again.
    """
    patient_until = monotonic() + _BUSY_MILLISECONDS / 1000
    while True:
        try:
            connection.execute("PRAGMA journal_mode=WAL").close()
            return
        except sqlite3.OperationalError:
            if monotonic() > patient_until:
                raise
            sleep(0.02)


def _begin_sqlite(connection: Connection) -> None:
    options = connection.get_execution_options()
    if options.get(_MIGRATES):
        # Only outside a transaction, and the way SQLite's own documents give for altering a table.
        connection.exec_driver_sql("PRAGMA foreign_keys=OFF")
        # Another worker that starts may be at it.
        connection.exec_driver_sql(f"PRAGMA busy_timeout={_BUSY_MILLISECONDS_OF_UPGRADE}")
    if options.get(_WRITES):
        # Said each time: the connection may have noted something before.
        connection.exec_driver_sql(f"PRAGMA synchronous={'NORMAL' if options.get(_NOTES) else 'FULL'}")
    if options.get(_WRITES) and not options.get(_MIGRATES):
        _begin_writing(connection)
    else:
        connection.exec_driver_sql("BEGIN IMMEDIATE" if options.get(_WRITES) else "BEGIN")


def _begin_writing(connection: Connection) -> None:
    """Wait for whoever writes, as long as SQLite itself would be told to, and begin.

    SQLite asks ever more rarely the longer it waits: under load whoever came last goes first, and one that
    waited long may never have a turn (seen: 443 ms, while others wrote in 40 each). Asked at an even pace all
    have the same chance, and nobody sleeps on after the other is done.
    """
    driver: Any = connection.connection.driver_connection
    patient_until = monotonic() + _BUSY_MILLISECONDS / 1000
    driver.execute("PRAGMA busy_timeout=0").close()
    try:
        while monotonic() < patient_until:
            try:
                driver.execute("BEGIN IMMEDIATE").close()
                return
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
                    break
            sleep(_ASK_AGAIN_SECONDS)
        # Once more, so that it fails in the way that everybody above knows.
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    finally:
        driver.execute(f"PRAGMA busy_timeout={_BUSY_MILLISECONDS}").close()


def _check_references(connection: Connection) -> None:
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    if broken:
        raise RuntimeError(f"{len(broken)} rows would refer to nothing, the first in {broken[0][0]}")
