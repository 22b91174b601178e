"""The engine's bench as a process that a test may kill, and what a page of it can do."""

import json
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Self

from playwright.sync_api import BrowserContext, Page

from tests.browser.engine_server import NAME, PASSWORD, build, build_kept
from tests.browser.live_server import ROOT, LiveServer, entries_at, free_port, server_variables

CONTROLLED = "() => navigator.serviceWorker.controller !== null"


@dataclass
class Bench(LiveServer):
    """A server that serves the bench page; see engine_server."""

    port: int = field(default_factory=free_port)

    def launch(self) -> Self:
        """Start the process, building first when nothing is built yet."""
        if not (self.folder / "built").exists():
            build(self.folder)
        command = [sys.executable, "-m", "tests.browser.engine_server", str(self.folder), str(self.port)]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(command, cwd=ROOT, env=server_variables(), stdout=log, stderr=log)
        return self

    @property
    def ids(self) -> dict[str, str]:
        return json.loads((self.folder / "ids.json").read_text("utf-8"))

    def log_entries(self) -> list[dict[str, Any]]:
        """The whole log in its order, read past the server."""
        return entries_at(f"sqlite:///{self.folder / 'lintel.sqlite3'}")

    def switch(self, name: str, on: bool) -> None:
        """Turn the portal or the way-out worker ("off") on and off."""
        path = self.folder / name
        path.touch() if on else path.unlink(missing_ok=True)

    def new_version(self, mark: str) -> None:
        build(self.folder, mark)

    def earlier_version(self, kept: Path) -> None:
        """Serve the store and engine of an earlier version from now on."""
        build_kept(self.folder, kept)

    def settle_anew(self, ids: dict[str, str]) -> None:
        """Begin with an empty log, and with these ids for its people and clients."""
        self.stop()
        for name in ("lintel.sqlite3", "lintel.sqlite3-wal", "lintel.sqlite3-shm", "ids.json"):
            (self.folder / name).unlink(missing_ok=True)
        (self.folder / "wanted.json").write_text(json.dumps(ids), "utf-8")
        self.start()


def open_controlled(context: BrowserContext, bench: Bench) -> Page:
    """A page of the bench, controlled by its service worker."""
    page = context.new_page()
    page.goto(f"{bench.url}/app/")
    page.wait_for_function(CONTROLLED)
    return page


def sign_in(page: Page, bench: Bench, who: str = NAME) -> None:
    """Sign in by the form; ends on the app's page."""
    page.goto(f"{bench.url}/sign-in")
    submit(page, who)


def submit(page: Page, who: str = NAME) -> None:
    """Fill in the form that is open, and send it."""
    page.fill("input[name=name]", who)
    page.fill("input[name=password]", PASSWORD)
    page.click("button[type=submit]")
    page.wait_for_url("**/app/")


def wait_for(found, seconds: float = 60):
    """Return the first true answer of `found`, or fail."""
    deadline = time.monotonic() + seconds
    while not (answer := found()):
        assert time.monotonic() < deadline, "it did not come about in time"
        time.sleep(0.05)
    return answer
