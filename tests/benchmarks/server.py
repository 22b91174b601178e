"""Measured between the Python client and a gunicorn server on SQLite: pushing and pulling 1,000 entries."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from demo_home_visits import serve
from demo_home_visits.build import Scenario
from demo_home_visits.people import FIRST_THERAPIST, PASSPHRASE
from sync.client import Client
from sync.device import State
from sync.store import MemoryStore
from sync.transport import HttpTransport
from tests.benchmarks.figures import Figure
from tests.browser.live_server import ROOT, LiveServer, server_variables

ENTRIES, RUNS = 1000, 5
GUNICORN = ("--workers", "2", "--threads", "4", "--worker-class", "gthread", "--log-level", "warning")


@dataclass
class ServiceServer(LiveServer):
    """The server as a service runs it, on the database of a demo folder."""

    def start(self) -> "ServiceServer":
        settings = {
            "LINTEL_DATABASE_URL": serve.url_of(self.folder / serve.DATABASE),
            "LINTEL_SECRET_KEY": serve.secret(self.folder),
            "LINTEL_DEMO": "1",
        }
        command = [
            sys.executable,
            "-m",
            "gunicorn",
            "webapp:create_app()",
            "--bind",
            f"127.0.0.1:{self.port}",
        ]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [*command, *GUNICORN],
                cwd=ROOT,
                env={**server_variables(), **settings},
                stdout=log,
                stderr=log,
            )
        self.wait_until_answering()
        return self


@contextmanager
def serving(folder: Path) -> Iterator[ServiceServer]:
    server = ServiceServer(folder).start()
    try:
        yield server
    finally:
        server.stop()


def device(server: LiveServer, number: int) -> Client:
    """Return a new device of the first therapist, signed in and holding nothing."""
    own = f"00000000-0000-7000-8000-{number:012}"
    client = Client(HttpTransport(server.url), MemoryStore(State(own)))
    client.sign_in(FIRST_THERAPIST, PASSPHRASE)
    return client


def push_all(client: Client) -> None:
    """Exchange until nothing waits; the server takes everything, or this is no measurement."""
    while waiting := len(client.state.outbox):
        client.sync()
        assert len(client.state.outbox) < waiting, "the server did not take an entry"


def milliseconds(action) -> float:
    start = time.perf_counter()
    action()
    return (time.perf_counter() - start) * 1000


def exchanges(folder: Path, scenario: Scenario) -> list[Figure]:
    """Push what one device recorded; fetch the whole caseload on another."""
    client_ids = next(iter(scenario.caseloads.values()))
    pushes, pulls = [], []
    with serving(folder) as server:
        for run in range(RUNS):
            writer, reader = device(server, 2 * run), device(server, 2 * run + 1)
            writer.sync_all()
            for number in range(ENTRIES):
                writer.record(
                    "note", client_ids[number % len(client_ids)], {"text": f"Invented note {number}."}
                )
            pushes.append(milliseconds(partial(push_all, writer)))
            pulls.append(milliseconds(reader.sync_all) * ENTRIES / len(reader.state.entries))
    how = f"{os.cpu_count()} cores shared by both, gunicorn 2 x 4 threads, SQLite synchronous=FULL"
    return [
        Figure(f"push {ENTRIES:,} entries", tuple(pushes), f"Python client, pages of 200; {how}"),
        Figure(
            f"pull {ENTRIES:,} entries", tuple(pulls), "a new device's first sync, per 1,000 of its entries"
        ),
    ]
