"""Four workers as processes of their own on one database, left alone and killed at random moments.

LINTEL_TEST_REMINDERS sets how many reminders there are (10,000 were sent on both databases).
"""

import os
import random
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import func, select

from tests.webapp.reminders.conftest import PRIVATE
from tests.webapp.reminders.crowd import fill
from tests.webapp.reminders.push_service import PushService
from tests.webapp.support import SECRET
from webapp.storage import Database
from webapp.storage.models import Reminder

ROOT = Path(__file__).resolve().parents[3]
PEOPLE = int(os.environ.get("LINTEL_TEST_REMINDERS", "160"))
WORKERS = 4
DEADLINE = 60 + PEOPLE / 5


class Workers:
    """Workers that run, are killed and started again."""

    def __init__(self, url: str, push_service: PushService, *lease: str) -> None:
        self._lease = lease
        self._environment = os.environ | {
            "LINTEL_DATABASE_URL": url,
            "LINTEL_SECRET_KEY": SECRET,
            "LINTEL_DEMO": "1",
            "LINTEL_PUSH_PRIVATE_KEY": PRIVATE,
            "LINTEL_PUSH_CONTACT": "mailto:pilot@example.org",
            "LINTEL_PUSH_HOSTS": push_service.host,
        }
        self.running = [self._start() for _ in range(WORKERS)]

    def _start(self) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "webapp.reminders", "--pause", "0.2", *self._lease]
        return subprocess.Popen(command, cwd=ROOT, env=self._environment, stderr=subprocess.DEVNULL)

    def kill_one(self) -> None:
        """Kill one without warning, and start another in its place."""
        gone = self.running.pop(random.randrange(WORKERS))
        gone.kill()
        gone.wait(30)
        self.running.append(self._start())

    def stop(self) -> list[int]:
        """Ask all to end, once they listen to that; their exit codes."""
        for worker in self.running:
            wait_until_listening(worker.pid)
            worker.send_signal(signal.SIGTERM)
        return [worker.wait(60) for worker in self.running]


def wait_until_listening(process: int) -> None:
    """Until a process has begun to catch SIGTERM: one that still starts is ended by it, as by any other."""
    status, patient_until = Path(f"/proc/{process}/status"), time.monotonic() + DEADLINE
    while time.monotonic() < patient_until:
        caught = int(re.search(r"^SigCgt:\s*(\w+)$", status.read_text(), re.MULTILINE).group(1), 16)
        if caught >> (signal.SIGTERM - 1) & 1:
            return
        time.sleep(0.05)
    raise AssertionError("a worker never began to listen")


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    opened = Database(database_url, SECRET)
    yield opened
    opened.dispose()


def wait_until_sent(database: Database) -> None:
    patient_until = time.monotonic() + DEADLINE
    while time.monotonic() < patient_until:
        with database.reading() as session:
            sent = session.scalar(select(func.count()).select_from(Reminder).where(Reminder.state == "sent"))
        if sent == PEOPLE:
            return
        time.sleep(0.2)
    raise AssertionError(f"{sent} of {PEOPLE} are sent")


def test_four_workers_send_each_reminder_once(database, database_url, push_service):
    browsers = fill(database, push_service, PEOPLE)
    workers = Workers(database_url, push_service)
    try:
        wait_until_sent(database)
    finally:
        codes = workers.stop()
    assert codes == [0] * WORKERS
    assert {len(browser.received) for browser in browsers} == {1}
    assert push_service.faults == []
    # Each has the next one waiting.
    with database.reading() as session:
        states = dict(session.execute(select(Reminder.state, func.count()).group_by(Reminder.state)).all())
    assert states == {"sent": PEOPLE, "waiting": PEOPLE}


def test_workers_that_are_killed_lose_none_and_repeat_only_under_the_same_topic(
    database, database_url, push_service
):
    browsers = fill(database, push_service, PEOPLE)
    workers = Workers(database_url, push_service, "--lease", "6", "--timeout", "1")
    try:
        for _ in range(4):
            time.sleep(random.uniform(0.5, 1.2))
            workers.kill_one()
        wait_until_sent(database)
    finally:
        workers.stop()
    assert all(browser.received for browser in browsers)
    assert {message["topic"] for browser in browsers for message in browser.received} == {"due"}
    # A second one has the number of the first: it is the same reminder, and the phone shows one.
    assert all(len({message["body"]["again"] for message in browser.received}) == 1 for browser in browsers)
