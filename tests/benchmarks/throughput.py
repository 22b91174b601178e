"""Entries a second through gunicorn, against bare inserts of the same rows into the same tables.

And against the same inserts by a program that first reads and examines every entry, as no server may omit.
"""

import sqlite3
import statistics
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
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
from sync.device import request
from sync.messages import MAX_ITEMS, request_json
from sync.packing import pack
from tests.benchmarks import content, machine
from tests.benchmarks.figures import markdown, shown
from tests.benchmarks.server import ONE_BY_ONE, THREADS, ServiceServer, device, serving
from tests.databases import Cluster
from webapp import examiner
from webapp.storage import Database, Person, upgrade

THERAPISTS = [each["sign_in"] for each in TEAM["people"] if each["role"] == "therapist"]
REQUESTS, RUNS = 12, 7
ENTRIES = REQUESTS * MAX_ITEMS * len(THERAPISTS)
EVERY_FLUSH = ""  # PostgreSQL as it comes: a commit is on the disk before it is answered
WORKERS = {"one request at a time": ONE_BY_ONE, "2 threads": THREADS}
HEADINGS = (
    "database", "each worker", "through HTTP, entries/s: median (range)", "bare, entries/s: median (range)",
    "HTTP / bare, run by run: median (range)", "examined, then bare, entries/s: median (range)",
    "HTTP / examined, run by run: median (range)", "server's processor an entry", "peak memory of a worker",
)  # fmt: skip


def throughput(folder: Path, scenario: Scenario) -> str:
    """Return the table for both databases."""
    rows = [
        row("SQLite, synchronous=FULL", kind, folder, scenario, None, lambda: sqlite_rows(folder))
        for kind in WORKERS
    ]
    with postgres(scenario) as (url, plain):
        rows += [
            row("PostgreSQL, fsync on", kind, folder, scenario, url, lambda: postgres_rows(plain))
            for kind in WORKERS
        ]
    return markdown(HEADINGS, rows)


def row(
    name: str, kind: str, folder: Path, scenario: Scenario, url: str | None, bare: Callable[[], Any]
) -> tuple:
    pushed, inserted, looked_at, used = [], [], [], []
    with serving(folder, url, WORKERS[kind]) as server:
        room = RUNS * ENTRIES
        first = 3000 + 100 * list(WORKERS).index(kind)
        devices = [device(server.url, first + place, room, each) for place, each in enumerate(THERAPISTS)]
        for run in range(RUNS):
            for place, client in enumerate(devices):
                content.record(client, scenario, REQUESTS * MAX_ITEMS, first + 10 * run + place)
            pushers = [Pusher(client) for client in devices]
            seconds, processor = one_run(server, pushers)
            pushed.append(ENTRIES / seconds)
            used.append(processor / ENTRIES * 1000)
            seconds = bare()
            inserted.append(ENTRIES / seconds)
            looked_at.append(ENTRIES / (seconds + examined(pushers)))
        memory = server.peak_memory()
    shares = [share(pushed, each) for each in (inserted, looked_at)]
    return (
        name, kind, rates(pushed), rates(inserted), shares[0], rates(looked_at), shares[1],
        shown(statistics.median(used)), f"{memory / 1e6:.0f} MB",
    )  # fmt: skip


def one_run(server: ServiceServer, pushers: list["Pusher"]) -> tuple[float, float]:
    """Seconds until every therapist's device has all its answers, and the workers' processor seconds."""
    machine.settle_down()
    with ThreadPoolExecutor(len(pushers)) as pool:
        used, start = server.processor_seconds(), time.perf_counter()
        list(pool.map(Pusher.push, pushers))
        seconds, used = time.perf_counter() - start, server.processor_seconds() - used
    for pusher in pushers:
        pusher.check()
    return seconds, used


class Pusher:
    """Pushes what a device recorded, one full request after the other, with as little work as that takes.

    A device makes its entries ready and takes in the answers; that is not the server's work.
    """

    def __init__(self, client: Client) -> None:
        self._client, self._answers = client, []
        entries = list(client.state.outbox.values())
        first = request(client.state, (), BUILD, "a device of the benchmarks")
        self.requests = [
            request_json(replace(first, push=tuple(entries[start : start + MAX_ITEMS])))
            for start in range(0, len(entries), MAX_ITEMS)
        ]
        self._headers = {
            "X-CSRFToken": client.session()["csrf"],
            "Content-Type": "application/json",
            "Content-Encoding": "gzip",
        }

    def push(self) -> None:
        """Send everything; each request goes on from where the answer to the one before came to."""
        for message in self.requests:
            if self._answers:
                message["pull"]["after"] = self._answers[-1]["pull"]["after"]
            data = pack(msgspec.json.encode(message))
            answer = self._client._transport.post("/api/v1/sync", data, self._headers)
            self._answers.append(answer.json())

    def check(self) -> None:
        """Every entry was taken; the device goes on from there."""
        taken = [each["verdict"] for answer in self._answers for each in answer["verdicts"]]
        assert taken == ["applied"] * REQUESTS * MAX_ITEMS
        after = self._answers[-1]["pull"]["after"]
        self._client._store.put(replace(self._client.state, outbox={}, after=after))


def examined(pushers: list[Pusher]) -> float:
    """Seconds in which this process alone reads and examines the same entries: no query, no HTTP."""
    examine, now, seconds = examiner(), datetime.now(UTC), 0.0
    for push in [message["push"] for pusher in pushers for message in pusher.requests]:
        person, text = Person(push[0]["author"], "", "", "therapist"), msgspec.json.encode(push)
        start = time.perf_counter()
        candidates = [examine(item, person, now) for item in strict_json.parse(text)]
        seconds += time.perf_counter() - start
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
    seconds = again(connection.cursor(), "?", ("PRAGMA foreign_keys=OFF", "PRAGMA foreign_keys=ON"))
    connection.close()
    return seconds


def postgres_rows(url: str) -> float:
    """The same on PostgreSQL."""
    with psycopg.connect(url, autocommit=True) as connection:
        unchecked = (f"SET session_replication_role = {role}" for role in ("replica", "origin"))
        return again(connection.cursor(), "%s", tuple(unchecked))


def again(cursor: Any, place: str, unchecked: tuple[str, str]) -> float:
    """Take the newest rows out, then put them in again as quickly as the driver can.

    References are not checked while rows are taken out: to look for what refers to each would take minutes.
    """
    cursor.execute(f"SELECT * FROM entries ORDER BY seq DESC LIMIT {ENTRIES}")
    columns = [column[0] for column in cursor.description]
    rows = cursor.fetchall()[::-1]
    off, on = unchecked
    cursor.execute(off)
    cursor.execute(f"DELETE FROM entries WHERE seq >= {rows[0][columns.index('seq')]}")
    cursor.execute(on)
    names, places = ", ".join(f'"{name}"' for name in columns), ", ".join([place] * len(columns))
    start = time.perf_counter()
    cursor.execute("BEGIN")
    cursor.executemany(f"INSERT INTO entries ({names}) VALUES ({places})", rows)
    cursor.execute("COMMIT")
    return time.perf_counter() - start


def share(ours: list[float], theirs: list[float]) -> str:
    """What ours is of theirs, run by run: the two stood side by side, whatever else the machine did."""
    found = [mine / other for mine, other in zip(ours, theirs, strict=True)]
    return f"{statistics.median(found):.2f} ({min(found):.2f} to {max(found):.2f})"


def rates(found: list[float]) -> str:
    return f"{statistics.median(found):,.0f} ({min(found):,.0f} to {max(found):,.0f})"
