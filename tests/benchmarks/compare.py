"""Sync side by side in one run: 1,000 entries pushed, pulled by a second device, and 1 entry more."""

import os
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from demo_home_visits.build import Scenario
from sync.client import Client
from tests.benchmarks import content, machine, peers
from tests.benchmarks.figures import Traffic, kilobytes, markdown, ratio, shown, spread
from tests.benchmarks.server import ServiceServer, device, serving
from tests.benchmarks.wire import counting

ENTRIES, RUNS = 1000, 11
STEPS = {
    "push": f"push {ENTRIES:,}",
    "pull": f"pull {ENTRIES:,}",
    "one": "push 1 more",
    "both": f"push {ENTRIES:,} and pull {ENTRIES + 1:,} at once",
}
MOVED = {"push": ENTRIES, "pull": ENTRIES, "one": 1, "both": 2 * ENTRIES + 1}
HEADINGS = (
    "what", "who", "time: median (range)", "time / PouchDB", "processor", "requests", "connections", "up",
    "down", "bytes / PouchDB",
)  # fmt: skip


@dataclass
class Contestant:
    """Where one of them listens, and what it took for each step."""

    name: str
    port: int
    processes: Callable[[], list[int]]
    times: dict[str, list[float]] = field(default_factory=lambda: {step: [] for step in STEPS})
    used: dict[str, list[float]] = field(default_factory=lambda: {step: [] for step in STEPS})
    traffic: dict[str, Traffic] = field(default_factory=dict)

    def step(self, step: str, do: Callable[[str], float]) -> None:
        """Do one step and note its milliseconds, by the clock and of the processor."""
        before = machine.processor_seconds(self.processes())
        self.times[step].append(do(step))
        self.used[step].append((machine.processor_seconds(self.processes()) - before) * 1000)


class Ours:
    """Two devices of the Python client."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario, self.number = scenario, 1000
        self.docs: dict[str, list[dict[str, Any]]] = {}

    def begin(self, url: str) -> None:
        """Two devices that know what was there before; the first has recorded what is to be pushed."""
        self.number += 2
        self.writer, self.reader = (device(url, self.number + each, 2 * ENTRIES + 1) for each in (0, 1))
        self.docs["docs"] = self._record(self.writer, ENTRIES, 0)
        machine.settle_down()

    def ready(self, step: str) -> None:
        """Record what a step then moves; what comes down for both ways at once is pushed, too."""
        if step == "one":
            self.docs["one"] = self._record(self.writer, 1, 1)
        if step == "both":
            self.docs["down"] = self._record(self.writer, ENTRIES, 2)
            self.writer.sync_all()
            self.docs["up"] = self._record(self.reader, ENTRIES, 3)
            machine.settle_down()

    def _record(self, client: Client, count: int, kind: int) -> list[dict[str, Any]]:
        content.record(client, self.scenario, count, 10 * self.number + kind)
        return [dict(entry) for entry in client.state.outbox.values()]

    def do(self, step: str) -> float:
        """Do a step until nothing is left to send or to fetch; the milliseconds it took."""
        client = self.reader if step in ("pull", "both") else self.writer
        before, start = len(client.state.entries), time.perf_counter()
        client.sync_all()
        taken = (time.perf_counter() - start) * 1000
        assert len(client.state.entries) == before + MOVED[step]
        assert not client.state.outbox, "the server did not take an entry"
        return taken


def compare(folder: Path, scenario: Scenario) -> str:
    """Return the table. They take turns, so that a busy moment of the machine meets all of them."""
    peers.install()
    ours, devices = Ours(scenario), peers.Devices()
    level_folder, memory_folder = folder / "level", folder / "memory"
    with (
        serving(folder) as server,
        peers.server(level_folder, "leveldb") as level,
        peers.server(memory_folder, "memory") as memory,
    ):
        lintel = Contestant("Lintel", server.port, lambda: our_processes(server))
        rivals = [
            Contestant(name, port, lambda own=process: [own, devices.process])
            for name, (port, process) in (("PouchDB on LevelDB", level), ("PouchDB in memory", memory))
        ]
        for run in range(RUNS):
            one_round(f"run{run}", ours, lintel, devices, rivals)
        count(ours, lintel, devices, rivals)
    devices.close()
    return tables([lintel, *rivals])


def our_processes(server: ServiceServer) -> list[int]:
    return [os.getpid(), *machine.children(server.process.pid)]


def one_round(name: str, ours: Ours, lintel: Contestant, devices: peers.Devices, rivals: list) -> None:
    """One timed run of everybody, with documents of the same content."""
    ours.begin(address(lintel.port))
    for step in STEPS:
        ours.ready(step)
        lintel.step(step, ours.do)
    for rival in rivals:
        devices.tell("begin", url=f"{address(rival.port)}/{name}", **documents(ours))
        for step in STEPS:
            devices.tell("ready", step=step)
            rival.step(step, devices.tell)


def count(ours: Ours, lintel: Contestant, devices: peers.Devices, rivals: list) -> None:
    """One run more, over a wire that counts; not timed."""
    begin: Callable[[str], Any] = ours.begin
    ready: Callable[[str], Any] = ours.ready
    do: Callable[[str], Any] = ours.do
    for each in (lintel, *rivals):
        with counting(each.port) as wire:
            begin(wire.url)
            for step in STEPS:
                ready(step)
                peers.settle()
                before = wire.total
                do(step)
                peers.settle()
                each.traffic[step] = wire.total.minus(before)
        begin, do = _begin(ours, devices), devices.tell
        ready = partial(tell_ready, devices)


def tell_ready(devices: peers.Devices, step: str) -> None:
    devices.tell("ready", step=step)


def _begin(ours: Ours, devices: peers.Devices) -> Callable[[str], Any]:
    return lambda url: devices.tell("begin", url=f"{url}/counted", **documents(ours))


def address(port: int) -> str:
    return f"http://127.0.0.1:{port}"


def documents(ours: Ours) -> dict[str, Any]:
    """What our writer recorded, as documents of the competitor."""
    docs = {name: [{"_id": entry["id"], **entry} for entry in entries] for name, entries in ours.docs.items()}
    return docs | {"one": docs["one"][0]}


def tables(contestants: list[Contestant]) -> str:
    rows = [(words, each.name, *compared(each, contestants[1], step))
            for step, words in STEPS.items() for each in contestants]  # fmt: skip
    return markdown(HEADINGS, rows)


def compared(each: Contestant, rival: Contestant, step: str) -> tuple[str, ...]:
    """One row: an amount, and what it is of the competitor's in the same run."""
    traffic, other = each.traffic[step], rival.traffic[step]
    ratios = sorted(mine / theirs for mine, theirs in zip(each.times[step], rival.times[step], strict=True))
    share = f"{statistics.median(ratios):.2f} ({ratios[0]:.2f} to {ratios[-1]:.2f})"
    return (
        spread(each.times[step]),
        "1" if each is rival else share,
        shown(statistics.fmean(each.used[step])),
        str(traffic.requests),
        str(traffic.connections),
        kilobytes(traffic.sent),
        kilobytes(traffic.received),
        ratio(traffic.sent + traffic.received, other.sent + other.received),
    )
