"""Gunicorn as a service would run it: two workers, a port of its own, killed and started again at will."""

import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.webapp.support import SECRET

ROOT = Path(__file__).resolve().parents[3]
PRODUCT, WITH_FAILPOINTS = "webapp.wsgi:app", "tests.sync.real_server.failpoints:app"
PATIENCE = 60.0


class Gunicorn:
    """One server: its process group, its port, its log."""

    def __init__(self, folder: Path, database_url: str, app: str = PRODUCT, **variables: str) -> None:
        self.port, self.app, self.log = free_port(), app, folder / "gunicorn.log"
        self.failpoint, self.taken = folder / "failpoint.json", folder / "failpoint.taken"
        self.variables = {
            "LINTEL_DATABASE_URL": database_url,
            "LINTEL_SECRET_KEY": SECRET,
            "LINTEL_DEMO": "1",
            "LINTEL_TEST_FAILPOINT": str(self.failpoint),
            **variables,
        }
        self.surprises = 0
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it and wait until it answers."""
        options = ["--bind", f"127.0.0.1:{self.port}", "--workers", "2", "--threads", "4", "--preload",
                   "--no-control-socket", "--log-level", "warning"]  # fmt: skip
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "gunicorn", *options, self.app],
                cwd=ROOT, env={**os.environ, **self.variables}, stdout=log, stderr=log,
                start_new_session=True,
            )  # fmt: skip
        wait_until(self.answers, "the server answers", self.text)

    def kill(self) -> None:
        """SIGKILL for the master and all its workers at once, and for nobody else."""
        if self.process is None:
            return
        try:
            os.killpg(self.process.pid, signal.SIGKILL)
        except ProcessLookupError:
            pass  # it killed itself, as a test had asked
        self.process.wait(PATIENCE)
        self.process = None

    def begin(self) -> None:
        """Have it up and told to do nothing."""
        self.go_on()
        self.surprises = 0
        if self.process is None or not self.answers():
            self.kill()
            self.start()
        self.forget_log()

    def end(self) -> None:
        """Nothing may have surprised it but what the test asked for."""
        self.go_on()
        assert len(self.events("unexpected")) == self.surprises

    def answers(self) -> bool:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
        try:
            connection.request("GET", "/healthz")
            return connection.getresponse().status == 200
        except (OSError, http.client.HTTPException):
            return False
        finally:
            connection.close()

    def text(self) -> str:
        return self.log.read_text("utf-8", "replace")

    def events(self, name: str) -> list[dict[str, object]]:
        """What it logged under a name."""
        lines = (line for line in self.text().splitlines() if line.startswith("{"))
        return [line for line in map(json.loads, lines) if line.get("event") == name]

    def forget_log(self) -> None:
        self.log.write_bytes(b"")

    def at(self, moment: str, does: str, **more: str) -> None:
        """Have the next worker that comes to a moment do something there."""
        draft = self.failpoint.with_suffix(".new")
        draft.write_text(json.dumps({"moment": moment, "does": does, **more}))
        draft.rename(self.failpoint)

    def wait_until_taken(self) -> None:
        wait_until(self.was_taken, "a worker comes to the moment", self.text)

    def was_taken(self) -> bool:
        return self.taken.exists()

    def go_on(self) -> None:
        """End a pause; forget a deed, done or not."""
        self.taken.unlink(missing_ok=True)
        self.failpoint.unlink(missing_ok=True)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_until(happens, what: str, tell=lambda: "") -> None:
    """Wait for something, generously: a slow machine fails no test."""
    until = time.monotonic() + PATIENCE
    while not happens():
        assert time.monotonic() < until, f"waited in vain until {what}\n{tell()[-3000:]}"
        time.sleep(0.02)


@contextmanager
def serving(folder: Path, database_url: str, app: str = PRODUCT, **variables: str) -> Iterator[Gunicorn]:
    """A running server; afterwards it is gone, and nothing surprised it that no test asked for."""
    server = Gunicorn(folder, database_url, app, **variables)
    try:
        server.begin()
        yield server
        server.end()
    finally:
        server.kill()
