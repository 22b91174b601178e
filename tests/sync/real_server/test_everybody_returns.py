"""Two hundred devices come back at once, as at the end of a day: all of it arrives, once.

How long it takes is for tests/benchmarks; here only that it comes to an end and what stands there then.
"""

import os
import random
import threading
import time
from concurrent.futures import ThreadPoolExecutor

from sync.errors import AnswerError, ServerRefused
from tests.sync.real_server.gunicorn_server import Gunicorn
from tests.sync.real_server.team import Device, Team

DEVICES = int(os.environ.get("LINTEL_TEST_DEVICES", "200"))
LONGEST_WAIT = 0.5  # seconds; a device's own wait is longer, and grows


def send(device: Device, start: threading.Barrier) -> list[Exception]:
    """What a device does: try, wait by chance, try again until it is done; what it was told on the way."""
    chance, told = random.Random(device.state.device), []
    start.wait()
    while device.state.outbox:
        try:
            device.client.sync()
        except (AnswerError, ServerRefused) as error:
            told.append(error)
            time.sleep(chance.uniform(0, LONGEST_WAIT))
    return told


def test_two_hundred_devices_return_at_once(team: Team, server: Gunicorn):
    """What each of them brings is in the log once; whoever could not be served was told to come again."""
    first = Device(team, server.url)
    devices = [first.another() for _ in range(DEVICES)]
    for device in devices:
        device.visit(1)
    start = threading.Barrier(DEVICES)
    with ThreadPoolExecutor(DEVICES) as pool:
        told = sum(pool.map(lambda device: send(device, start), devices), [])
    for error in told:
        # A queue that is full hangs up; nothing else may be said than that, and "busy".
        assert isinstance(error, AnswerError) or (error.status, error.retry_after) == (503, 5), error
    assert all(dict(device.state.outbox) == {} for device in devices)
    assert team.head() == len(team.saved) == DEVICES
    team.check_settled(first, devices[0], devices[-1])
