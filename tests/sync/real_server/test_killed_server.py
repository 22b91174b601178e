"""The server is killed at every moment that matters, and at random ones under load (F15-F17, F22)."""

import os
import random
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

from tests.sync.real_server.gunicorn_server import Gunicorn
from tests.sync.real_server.team import Device, Team

KILLS = int(os.environ.get("LINTEL_TEST_KILLS", "3"))
SEED = int(os.environ.get("LINTEL_TEST_SEED", "17"))
# Moment -> whether the entries are in the log when the server is back.
MOMENTS = {
    "request": False,  # it was read, nothing was done
    "entry": False,  # the entries are written, the counter is not
    "commit": False,  # everything is written, nothing committed
    "committed": True,
    "answer": True,  # nothing of the answer left
    "half": True,  # half of the answer left
}


def test_killed_at_every_moment(team: Team, server: Gunicorn):
    """F17: SIGKILL for the whole server before, inside and after the transaction."""
    phone, tablet = Device(team, server.url), Device(team, server.url, "ben")
    phone.visit()
    for moment, stays in MOMENTS.items():
        phone.settle()
        sent, before = phone.visit(), team.head()
        server.at(moment, "die")
        assert phone.try_sync() is not None and server.was_taken(), moment
        server.kill()
        server.go_on()
        assert set(sent) <= set(phone.state.outbox), moment
        assert len(team.rows()) == before + (3 if stays else 0), moment
        team.check(phone)
        server.start()
    team.check_settled(phone, tablet)


def test_one_worker_is_killed_and_the_other_goes_on(team: Team, server: Gunicorn):
    """F17: a worker dies alone; nobody starts anything by hand."""
    phone = Device(team, server.url)
    for moment in ("entry", "committed"):
        phone.visit()
        server.at(moment, "die alone")
        assert phone.try_sync() is not None and server.was_taken(), moment
        server.go_on()
        team.check(phone)
        team.check_settled(phone)


def test_killed_again_and_again_under_load(team: Team, server: Gunicorn):
    """F15, F17: four devices record and sync without pause while the server dies at random moments."""
    chance = random.Random(SEED)
    devices = [Device(team, server.url, name) for name in ("ann", "ann", "ben", "ben")]
    for _ in range(KILLS):
        with working(devices):
            threading.Event().wait(chance.uniform(0.05, 0.6))
            server.kill()
        team.check(*devices)
        server.start()
    team.check_settled(*devices)
    assert len(team.saved) >= 2 * KILLS


@contextmanager
def working(devices: list[Device]) -> Iterator[None]:
    """Devices that go on recording and syncing, whatever comes back."""
    done = threading.Event()

    def work(device: Device) -> None:
        while not done.is_set():
            device.visit(2)
            device.try_sync()

    with ThreadPoolExecutor(len(devices)) as pool:
        working = [pool.submit(work, device) for device in devices]
        try:
            yield
        finally:
            done.set()
        for one in working:
            one.result(60)
