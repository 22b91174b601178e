"""`webapp:create_app()` for gunicorn, with places where a test can have it die, wait or fail. Only for tests.

A test writes {"moment", "does", ...} into the file that LINTEL_TEST_FAILPOINT names; the first worker to
come to that moment takes the file away and does it, once.
"""

import json
import os
import signal
import threading
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from argon2 import PasswordHasher
from sqlalchemy import Engine, event
from sqlalchemy.orm import Session

from webapp import create_app
from webapp.storage import passwords

FILE = Path(os.environ["LINTEL_TEST_FAILPOINT"])
LONGEST_PAUSE = 60
inside = threading.local()


def reach(moment: str, connection: Any = None) -> None:
    """Do what a test asked for at this moment, if it did."""
    if not FILE.exists():
        return
    try:
        wanted = json.loads(FILE.read_text())
        if wanted["moment"] != moment:
            return
        os.rename(FILE, taken(FILE))  # for one worker only
    except FileNotFoundError:
        return
    DEEDS[wanted["does"]](wanted, connection)


def taken(file: Path) -> Path:
    """The file's name once a worker has come to the moment."""
    return file.with_suffix(".taken")


def die(_wanted: Any, _connection: Any) -> None:
    os.killpg(os.getpgrp(), signal.SIGKILL)


def die_alone(_wanted: Any, _connection: Any) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def pause(_wanted: Any, _connection: Any) -> None:
    until = time.monotonic() + LONGEST_PAUSE
    while taken(FILE).exists() and time.monotonic() < until:
        time.sleep(0.01)


def fail(_wanted: Any, _connection: Any) -> None:
    raise RuntimeError("a test asked for it")


def run_sql(wanted: Any, connection: Any) -> None:
    inside.busy = True
    try:
        connection.exec_driver_sql(wanted["sql"])
    finally:
        inside.busy = False


DEEDS = {"die": die, "die alone": die_alone, "pause": pause, "fail": fail, "sql": run_sql}


def prepare(connection: Any, _record: Any) -> None:
    """Settings of a connection that a test wants otherwise, such as shorter waits."""
    for setting in filter(None, os.environ.get("LINTEL_TEST_CONNECTION", "").split(";")):
        cursor = connection.cursor()
        cursor.execute(setting)
        cursor.close()
        connection.commit()


@event.listens_for(Engine, "after_cursor_execute")
def executed(connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
    if statement.startswith("INSERT INTO entries"):
        inside.wrote = True
        reach("entry", connection)
    elif "FROM caseload" in statement and statement.startswith("SELECT DISTINCT"):
        reach("clients read", connection)


@event.listens_for(Engine, "before_cursor_execute")
def executing(connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
    if statement.startswith("INSERT INTO devices"):
        reach("device", connection)


@event.listens_for(Engine, "commit")
def committing(connection: Any) -> None:
    if getattr(inside, "wrote", False):
        reach("commit", connection)
        inside.wrote, inside.commits = False, True


@event.listens_for(Session, "after_commit")
def committed(_session: Any) -> None:
    # Comes after a savepoint too; only a real commit passed `committing`.
    commits, inside.commits = getattr(inside, "commits", False), False
    if commits:
        reach("committed")


@event.listens_for(Engine, "rollback")
def undone(_connection: Any) -> None:
    inside.wrote = False


def app(environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
    """The application, with the moments outside of it."""
    if environ["PATH_INFO"] != "/api/v1/sync":
        return application(environ, start_response)
    os.write(1, json.dumps({"event": "test worker", "process": os.getpid()}).encode() + b"\n")
    reach("request")
    body = b"".join(application(environ, start_response))
    reach("answer")
    return halves(body)


def halves(body: bytes) -> Iterable[bytes]:
    """A body in two parts, between which something may happen."""
    yield body[: len(body) // 2]
    reach("half")
    yield body[len(body) // 2 :]


# Argon2id at its cheapest, as where the passwords were made: the devices sign in often and guard nothing.
passwords.HASHER = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
application = create_app()
if os.environ.get("LINTEL_TEST_BUILT"):
    # The browser's tests bring a page of their own.
    application.config["BUILT_FOLDER"] = Path(os.environ["LINTEL_TEST_BUILT"])
# After the product's own settings of a connection.
event.listen(application.extensions["lintel.database"].engine, "connect", prepare)
if os.environ.get("LINTEL_TEST_BREAK_NUMBERS"):
    from tests.sync.real_server import broken_numbers

    broken_numbers.install(reach)
