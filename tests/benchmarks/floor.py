"""Bytes of an entry as it travels, against the same entries as one gzip stream and nothing else."""

import json
from pathlib import Path
from typing import Any

from demo_home_visits.build import Scenario
from sync.packing import pack_closely
from tests.benchmarks import content, peers
from tests.benchmarks.figures import Traffic, markdown
from tests.benchmarks.server import device, serving
from tests.benchmarks.wire import counting

COUNTS = (1, 10, 100, 1000)
HEADINGS = (
    "entries", "up, whole", "up, bodies", "floor", "bodies / floor", "down, whole", "floor", "whole / floor",
    "confirmed, whole",
)  # fmt: skip


def floors(folder: Path, scenario: Scenario) -> str:
    """Return the table: bytes an entry, without a note; "whole" is with the headers of every request."""
    with serving(folder) as server, counting(server.port) as wire:
        rows = [row(wire, scenario, count, number) for number, count in enumerate(COUNTS)]
    return markdown(HEADINGS, rows)


def row(wire: Any, scenario: Scenario, count: int, number: int) -> tuple[str, ...]:
    """Push so many on one device and pull them on another."""
    writer, reader = (device(wire.url, 2000 + 2 * number + each, count) for each in (0, 1))
    content.record(writer, scenario, count, 2000 + number)
    pushed = list(writer.state.outbox.values())
    up, down = passed(wire, writer), passed(wire, reader)
    pulled = [reader.state.entries[entry["id"]] for entry in pushed]
    up_floor, down_floor = len(pack_closely(text(pushed))), len(pack_closely(text(pulled)))
    each = [up.sent, up.bodies, up_floor, None, down.received, down_floor, None, up.received]
    told = ["" if amount is None else f"{amount / count:.1f}" for amount in each]
    told[3], told[6] = f"{up.bodies / up_floor:.2f}", f"{down.received / down_floor:.2f}"
    return f"{count:,}", *told


def passed(wire: Any, client: Any) -> Traffic:
    before = wire.total
    client.sync_all()
    peers.settle()
    return wire.total.minus(before)


def text(entries: list[Any]) -> bytes:
    return json.dumps(entries, ensure_ascii=False, separators=(",", ":")).encode()
