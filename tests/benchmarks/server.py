"""The server as a service runs it, and devices of the Python client that hold the caseload already."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from demo_home_visits import serve
from demo_home_visits.people import FIRST_THERAPIST, PASSWORD
from sync.client import Client
from sync.device import State
from sync.store import MemoryStore
from sync.transport import HttpTransport
from tests.benchmarks import machine
from tests.benchmarks.content import Watch
from tests.browser.live_server import ROOT, LiveServer, server_variables

GUNICORN = ("--workers", "2", "--log-level", "warning")
# With threads slow lines and browsers, which open connections long before they use them, hold up nobody.
# Behind a proxy that waits for them instead, a worker may do one request after the other.
THREADS = ("--worker-class", "gthread", "--threads", "2")
ONE_BY_ONE = ("--worker-class", "sync")


@dataclass
class ServiceServer(LiveServer):
    """Gunicorn with two workers, on the database of a demo folder or on another."""

    database: str | None = None
    worker: tuple[str, ...] = THREADS

    def start(self) -> "ServiceServer":
        settings = {
            "LINTEL_DATABASE_URL": self.database or serve.url_of(self.folder / serve.DATABASE),
            "LINTEL_SECRET_KEY": serve.secret(self.folder),
            "LINTEL_DEMO": "1",
        }
        address = ["--bind", f"127.0.0.1:{self.port}"]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "gunicorn", "webapp.wsgi:app", *address, *GUNICORN, *self.worker],
                cwd=ROOT,
                env={**server_variables(), **settings},
                stdout=log,
                stderr=log,
            )
        self.wait_until_answering()
        return self

    def processor_seconds(self) -> float:
        """What its workers have used so far."""
        return machine.processor_seconds(machine.children(self.process.pid))

    def peak_memory(self) -> int:
        """The most memory that any of its workers ever held, in bytes."""
        return max(machine.peak_memory(each) for each in machine.children(self.process.pid))


@contextmanager
def serving(
    folder: Path, database: str | None = None, worker: tuple[str, ...] = THREADS
) -> Iterator[ServiceServer]:
    server = ServiceServer(folder, database=database, worker=worker).start()
    try:
        yield server
    finally:
        server.stop()


def device(url: str, number: int, entries: int, person: str = FIRST_THERAPIST) -> Client:
    """A new device that has fetched its person's caseload; its clock leaves room for so many entries."""
    store = MemoryStore(State(f"00000000-0000-7000-8000-{number:012}"))
    client = Client(HttpTransport(url), store, clock=Watch(entries))
    client.sign_in(person, PASSWORD)
    client.sync_all()
    return client
