"""Run all measurements and write them down."""

import tempfile
from datetime import date
from pathlib import Path

from playwright.sync_api import sync_playwright

from demo_home_visits.build import build
from tests.benchmarks import caseload, machine, phone, server
from tests.benchmarks.figures import Figure, table
from tests.browser.live_server import LiveServer

RESULTS = Path(__file__).with_name("RESULTS.md")
CLIENTS, ENTRIES_EACH = 200, 250
TEXT = """# Measured

`python3 -m tests.benchmarks` wrote this on {day}. One run on one machine: a hint, not a promise.
A phone is slower. Requests and bytes are those of one run's sync, bodies as they travelled.

{machine}

{table}
"""


def main() -> None:
    """Measure, print, write."""
    today, before = date.today(), machine.load()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        figures = measure(driver, Path(folder), today)
    print("\n" + table(figures))
    RESULTS.write_text(
        TEXT.format(day=today.isoformat(), machine=f"{machine.describe()}; {before}", table=table(figures)),
        encoding="utf-8",
    )
    print(f"\nWritten to {RESULTS.relative_to(Path.cwd())}")


def measure(driver, folder: Path, today: date) -> list[Figure]:
    figures = [say(phone.saving(driver, folder / "saving"))]
    small = build(today)
    caseload.make_database(folder / "demo", small)
    figures += map(say, phone.cold_starts(driver, LiveServer(folder / "demo").start(), "the demo's caseload"))
    figures += map(say, server.exchanges(folder / "demo", small))
    print(f"filling a database with {CLIENTS} clients of {ENTRIES_EACH} entries ...", flush=True)
    caseload.make_database(folder / "large", caseload.large_scenario(today, CLIENTS, ENTRIES_EACH))
    words = f"{CLIENTS} clients of {ENTRIES_EACH} entries"
    return figures + [
        say(each) for each in phone.cold_starts(driver, LiveServer(folder / "large").start(), words)
    ]


def say(figure: Figure) -> Figure:
    print(" | ".join(figure.row()), flush=True)
    return figure
