"""Measured between the Python client and a gunicorn server on SQLite: pushing and pulling 1,000 entries."""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from demo_home_visits import serve
from demo_home_visits.build import Scenario
from demo_home_visits.people import FIRST_THERAPIST, PASSPHRASE
from sync.client import Client
from sync.device import State
from sync.store import MemoryStore
from sync.transport import Answer, HttpTransport
from tests.benchmarks.figures import Figure, Traffic
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


class CountingTransport(HttpTransport):
    """Notes what travels."""

    traffic = Traffic()

    def post(self, path: str, data: bytes, headers: Mapping[str, str]) -> Answer:
        answer = super().post(path, data, headers)
        self.traffic = self.traffic.and_one(len(data), len(answer.body))
        return answer


@contextmanager
def serving(folder: Path) -> Iterator[ServiceServer]:
    server = ServiceServer(folder).start()
    try:
        yield server
    finally:
        server.stop()


@dataclass
class Device:
    """A new device of the first therapist, signed in and holding the caseload."""

    client: Client
    transport: CountingTransport

    @classmethod
    def number(cls, server: LiveServer, number: int) -> "Device":
        transport = CountingTransport(server.url)
        client = Client(transport, MemoryStore(State(f"00000000-0000-7000-8000-{number:012}")))
        client.sign_in(FIRST_THERAPIST, PASSPHRASE)
        client.sync_all()
        return cls(client, transport)

    def record(self, clients: list[str]) -> None:
        for number in range(ENTRIES):
            body = {"text": f"Invented note {number}."}
            self.client.record("note", clients[number % len(clients)], body)

    def push(self) -> None:
        """Exchange until nothing waits; the server takes everything, or this is no measurement."""
        while waiting := len(self.client.state.outbox):
            self.client.sync()
            assert len(self.client.state.outbox) < waiting, "the server did not take an entry"

    def pull(self) -> None:
        """Fetch what another device pushed."""
        before = len(self.client.state.entries)
        self.client.sync_all()
        assert len(self.client.state.entries) == before + ENTRIES, "this is not what was pushed"

    def measured(self, action: Callable[[], None]) -> tuple[float, Traffic]:
        """Return the milliseconds it took, and what travelled."""
        self.transport.traffic = Traffic()
        start = time.perf_counter()
        action()
        return (time.perf_counter() - start) * 1000, self.transport.traffic


def exchanges(folder: Path, scenario: Scenario) -> list[Figure]:
    """Push what one device recorded; fetch it on another that knew all before it."""
    clients = next(iter(scenario.caseloads.values()))
    pushes, pulls = [], []
    with serving(folder) as server:
        for run in range(RUNS):
            writer, reader = Device.number(server, 2 * run), Device.number(server, 2 * run + 1)
            writer.record(clients)
            pushes.append(writer.measured(writer.push))
            pulls.append(reader.measured(reader.pull))
    how = f"gunicorn 2 x 4 threads and client on {os.cpu_count()} cores, SQLite synchronous=FULL"
    return [
        figure(f"push {ENTRIES:,} entries", pushes, f"Python client, 200 a request; {how}"),
        figure(f"pull {ENTRIES:,} entries", pulls, "another device that had all but these; same server"),
    ]


def figure(name: str, runs: list[tuple[float, Traffic]], how: str) -> Figure:
    times, traffic = zip(*runs, strict=True)
    return Figure(name, times, how, traffic[-1])
