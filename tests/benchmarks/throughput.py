"""Entries a second through gunicorn, against bare inserts of the same rows into the same tables.

And against the same inserts by a program that first reads and examines every entry, as no server may omit.
"""

import json
import sqlite3
import statistics
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec
import psycopg

from demo_home_visits import serve
from demo_home_visits.build import Scenario
from demo_home_visits.fill import fill
from demo_home_visits.people import TEAM
from sync import strict_json
from sync.client import BUILD, Client
from sync.device import batch, request
from sync.messages import MAX_ITEMS, request_json
from sync.packing import pack
from sync.replies import parse_reply
from sync.transport import Answer
from tests.benchmarks import content
from tests.benchmarks.figures import markdown, ratio, shown
from tests.benchmarks.server import ServiceServer, device, serving
from tests.databases import Cluster
from webapp import examiner
from webapp.storage import Database, Person, upgrade

THERAPISTS = [each["sign_in"] for each in TEAM["people"] if each["role"] == "therapist"]
ENTRIES, RUNS = MAX_ITEMS * len(THERAPISTS), 9
EVERY_FLUSH = ""  # PostgreSQL as it comes: a commit is on the disk before it is answered
HEADINGS = (
    "database", "through HTTP, entries/s: median (range)", "bare, entries/s: median (range)", "HTTP / bare",
    "examined, then bare, entries/s: median (range)", "HTTP / examined", "server's processor an entry",
    "peak memory of a worker",
)  # fmt: skip


def throughput(folder: Path, scenario: Scenario) -> str:
    """Return the table for both databases."""
    rows = [row("SQLite, synchronous=FULL", folder, scenario, None, lambda: sqlite_rows(folder))]
    with postgres(scenario) as (url, plain):
        rows.append(row("PostgreSQL, fsync on", folder, scenario, url, lambda: postgres_rows(plain)))
    return markdown(HEADINGS, rows)


def row(name: str, folder: Path, scenario: Scenario, url: str | None, bare: Callable[[], Any]) -> tuple:
    pushed, inserted, looked_at, used = [], [], [], []
    with serving(folder, url) as server:
        for run in range(RUNS):
            seconds, processor = one_run(server, scenario, 3000 + 10 * run)
            pushed.append(ENTRIES / seconds)
            used.append(processor / ENTRIES * 1000)
            seconds = bare()
            inserted.append(ENTRIES / seconds)
            looked_at.append(ENTRIES / (seconds + examined(server, scenario, 3009 + 10 * run)))
        memory = server.peak_memory()
    shares = [ratio(statistics.median(pushed), statistics.median(each)) for each in (inserted, looked_at)]
    return (
        name, rates(pushed), rates(inserted), shares[0], rates(looked_at), shares[1],
        shown(statistics.median(used)), f"{memory / 1e6:.0f} MB",
    )  # fmt: skip


def one_run(server: ServiceServer, scenario: Scenario, number: int) -> tuple[float, float]:
    """Seconds until every therapist's device has its answer, and the workers' processor seconds."""
    devices = [device(server.url, number + place, ENTRIES, each) for place, each in enumerate(THERAPISTS)]
    for each, client in enumerate(devices):
        content.record(client, scenario, MAX_ITEMS, number + each)
    with ThreadPoolExecutor(len(devices)) as pool:
        posts = list(map(Post, devices))
        used, start = server.processor_seconds(), time.perf_counter()
        answers = list(pool.map(Post.send, posts))
        seconds, used = time.perf_counter() - start, server.processor_seconds() - used
    for post, answer in zip(posts, answers, strict=True):
        post.check(answer)
    return seconds, used


class Post:
    """What a device sends for all that it recorded, ready to be sent: making it is not the server's work."""

    def __init__(self, client: Client) -> None:
        self.client, self.transport = client, client._transport
        self.asked = request(client.state, batch(client.state), BUILD, "a device of the benchmarks")
        assert len(self.asked.push) == len(client.state.outbox) == MAX_ITEMS
        self.data = pack(msgspec.json.encode(request_json(self.asked)))
        self.headers = {
            "X-CSRFToken": client.session()["csrf"],
            "Content-Type": "application/json",
            "Content-Encoding": "gzip",
        }

    def send(self) -> Answer:
        """Send it."""
        return self.transport.post("/api/v1/sync", self.data, self.headers)

    def check(self, answer: Answer) -> None:
        """Every entry was taken."""
        verdicts = parse_reply(answer.json(), len(self.asked.push)).verdicts
        assert [each.verdict for each in verdicts] == ["applied"] * MAX_ITEMS


def examined(server: ServiceServer, scenario: Scenario, number: int) -> float:
    """Seconds in which this process alone reads and examines the entries of one device: no query, no HTTP."""
    client = device(server.url, number, ENTRIES)
    content.record(client, scenario, ENTRIES, number)
    entries, examine = list(client.state.outbox.values()), examiner()
    # The device's clock is made up, to leave room for so many entries: by it, none is of the future.
    now = datetime.fromisoformat(max(entry["recorded_at"] for entry in entries))
    person = Person(entries[0]["author"], "", "", "therapist")
    texts = [json.dumps(entries[each : each + MAX_ITEMS]).encode() for each in range(0, ENTRIES, MAX_ITEMS)]
    start = time.perf_counter()
    candidates = [examine(item, person, now) for text in texts for item in strict_json.parse(text)]
    seconds = time.perf_counter() - start
    assert all(candidate.refusal is None for candidate in candidates)
    return seconds


@contextmanager
def postgres(scenario: Scenario) -> Iterator[tuple[str, str]]:
    """A PostgreSQL database with the scenario, by our address of it and by the driver's."""
    cluster = Cluster.start(EVERY_FLUSH)
    try:
        url = cluster.url(cluster.create())
        upgrade(url)
        database = Database(url, "an invented secret of the benchmarks")
        fill(database, scenario)
        database.dispose()
        yield url, url
    finally:
        cluster.stop()


def sqlite_rows(folder: Path) -> float:
    """Seconds for one executemany of the newest rows and its commit; they were taken out before."""
    connection = sqlite3.connect(folder / serve.DATABASE, isolation_level=None)
    for pragma in ("foreign_keys=ON", "synchronous=FULL", "busy_timeout=5000"):
        connection.execute(f"PRAGMA {pragma}")
    seconds = again(connection.cursor(), "?")
    connection.close()
    return seconds


def postgres_rows(url: str) -> float:
    """The same on PostgreSQL."""
    with psycopg.connect(url, autocommit=True) as connection:
        return again(connection.cursor(), "%s")


def again(cursor: Any, place: str) -> float:
    """Take the newest rows out, then put them in again as quickly as the driver can."""
    cursor.execute(f"SELECT * FROM entries ORDER BY seq DESC LIMIT {ENTRIES}")
    columns = [column[0] for column in cursor.description]
    rows = cursor.fetchall()[::-1]
    cursor.execute(f"DELETE FROM entries WHERE seq >= {rows[0][columns.index('seq')]}")
    names, places = ", ".join(f'"{name}"' for name in columns), ", ".join([place] * len(columns))
    start = time.perf_counter()
    cursor.execute("BEGIN")
    cursor.executemany(f"INSERT INTO entries ({names}) VALUES ({places})", rows)
    cursor.execute("COMMIT")
    return time.perf_counter() - start


def rates(found: list[float]) -> str:
    return f"{statistics.median(found):,.0f} ({min(found):,.0f} to {max(found):,.0f})"
