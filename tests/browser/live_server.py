"""The demo server as a process of its own, which a test may kill and start again on the same port."""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self

from sqlalchemy import select

from webapp.storage import Database
from webapp.storage.models import Entry
from webapp.storage.read import entry_json

ROOT = Path(__file__).resolve().parents[2]
START_LIMIT_SECONDS = 300
STOP_LIMIT_SECONDS = 60


def free_port() -> int:
    """Return a loopback port that nothing listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@dataclass
class LiveServer:
    """A running copy of the demo: its own folder with database and secret, one fixed port."""

    folder: Path
    port: int = field(default_factory=free_port)
    process: subprocess.Popen | None = None
    options: tuple[str, ...] = ()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def log(self) -> Path:
        return self.folder / "server.log"

    def start(self) -> Self:
        """Start the process and wait until it answers as Lintel."""
        self.launch().wait_until_answering()
        return self

    def launch(self) -> Self:
        """Start the process; it answers in a moment."""
        self.folder.mkdir(parents=True, exist_ok=True)
        command = [
            sys.executable,
            "-m",
            "demo_home_visits.serve",
            "--folder",
            str(self.folder),
            "--no-search",
            "--port",
            str(self.port),
            *self.options,
        ]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(command, cwd=ROOT, env=server_variables(), stdout=log, stderr=log)
        return self

    def wait_until_answering(self) -> None:
        deadline = time.monotonic() + START_LIMIT_SECONDS
        while not self.answers():
            if self.process.poll() is not None:
                raise RuntimeError(f"The server ended with {self.process.returncode}:\n{self.last_words()}")
            if time.monotonic() > deadline:
                self.kill()
                raise RuntimeError(f"The server did not answer in time:\n{self.last_words()}")
            time.sleep(0.05)

    def answers(self) -> bool:
        """True when the process on our port says that it is Lintel."""
        try:
            with urllib.request.urlopen(f"{self.url}/healthz", timeout=2) as reply:
                return json.load(reply) == {"lintel": "ok"}
        except (OSError, ValueError, urllib.error.HTTPError):
            return False

    def last_words(self) -> str:
        return "\n".join(self.log.read_text(encoding="utf-8", errors="replace").splitlines()[-20:])

    def stop(self) -> None:
        """End it the polite way, as Ctrl-C does."""
        self.end_with(signal.SIGTERM)

    def kill(self) -> None:
        """End it as a power cut would: SIGKILL, nothing flushed."""
        self.end_with(signal.SIGKILL)

    def end_with(self, sign: signal.Signals) -> None:
        if self.process is None:
            return
        self.process.send_signal(sign)
        try:
            self.process.wait(STOP_LIMIT_SECONDS)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.process = None

    def log_entries(self) -> list[dict[str, Any]]:
        """The whole log in its order, read past the server."""
        return entries_at(f"sqlite:///{self.folder / 'demo.sqlite3'}")

    def copy_to(self, folder: Path) -> Self:
        """Return a server, not yet started, on a copy of this one's files; this one must be stopped."""
        assert self.process is None, "copy a stopped server: a running one may be writing"
        shutil.copytree(self.folder, folder, dirs_exist_ok=True)
        return type(self)(folder)


def entries_at(database_url: str) -> list[dict[str, Any]]:
    """Every entry of a database, as it travels, in the log's order."""
    database = Database(database_url)
    with database.reading() as session:
        found = [entry_json(row) for row in session.scalars(select(Entry).order_by(Entry.seq))]
    database.dispose()
    return found


def server_variables() -> dict[str, str]:
    """Return the environment without settings of a Lintel that the developer may be running."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("LINTEL_")}
    return {**kept, "PYTHONUNBUFFERED": "1"}
