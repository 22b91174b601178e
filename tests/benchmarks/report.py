"""Run the measurements, all or those named, and write each into its section of RESULTS.md."""

import re
import sys
import tempfile
import textwrap
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from demo_home_visits.build import build
from tests.benchmarks import machine
from tests.benchmarks.figures import Figure, table

RESULTS = Path(__file__).with_name("RESULTS.md")


def phone_section(folder: Path, today: date) -> str:
    """What a therapist waits for, in the browser."""
    from playwright.sync_api import sync_playwright

    from tests.benchmarks import fill_report, phone

    folder.mkdir()
    with sync_playwright() as driver:
        saved = say(phone.saving(driver, folder / "saving"))
        return f"{fill_report.tables(driver, folder, today)}\n\n{table([saved])}"


def hands_section(folder: Path, _today: date) -> str:
    """What visits ask of one hand."""
    from tests.benchmarks.hands import hands

    folder.mkdir()
    return hands(folder)


def reminders_section(folder: Path, _today: date) -> str:
    """What is due among very many clients."""
    from tests.benchmarks.reminders import reminders

    return reminders(folder)


def demo_section(measure: str) -> Callable[[Path, date], str]:
    """A measurement over a demo database of its own."""

    def section(folder: Path, today: date) -> str:
        from tests.benchmarks import caseload, compare, floor, throughput

        scenario = build(today)
        caseload.make_database(folder, scenario)
        measures: dict[str, Any] = {
            "sync": compare.compare, "bytes": floor.floors, "server": throughput.throughput,
        }  # fmt: skip
        return measures[measure](folder, scenario)

    return section


SECTIONS: dict[str, tuple[str, str, Callable[[Path, date], str]]] = {
    "sync": (
        "Sync beside general-purpose replication",
        "The Python client and gunicorn (2 workers of 2 threads, SQLite synchronous=FULL, every entry "
        "examined) beside PouchDB in Node and express-pouchdb, with documents of the same content: "
        "readings without a note, their numbers varied from visit to visit (of 1,000 some 200 are like none "
        "before). All clients keep their records in memory. They take turns; a ratio is of runs that stood "
        "side by side. At once: a device comes back with 1,000 entries, while another sent 1,001. Processor "
        "is of client and server together. Bytes are counted on the wire in a run of its own, headers and "
        "all, without what opens a TCP connection.",
        demo_section("sync"),
    ),
    "bytes": (
        "Bytes an entry",
        "Readings without a note. The floor is the same entries as one gzip stream. Confirmed is what the "
        "device that pushed gets back: verdicts, and each entry's number and hash.",
        demo_section("bytes"),
    ),
    "server": (
        "The server beside bare inserts",
        "Three therapists' devices push at the same time to gunicorn with 2 workers, each 6,000 entries in "
        "12 requests one after the other. A worker does one request at a time, as behind a proxy that waits "
        "for slow lines, or has 2 threads. Entries are made before the clock starts, answers looked at "
        "after it has stopped; packing a request and reading an answer is within. "
        "Bare is one executemany of those very rows into the same table, with its indexes and foreign "
        "keys, and the commit. Examined is one program without HTTP that reads as many entries from JSON, "
        "examines and hashes each (the server's own code), then does those bare inserts: no server that "
        "checks what it stores can do less.",
        demo_section("server"),
    ),
    "phone": (
        "On the phone",
        "Chromium with a profile on disk; gunicorn with 2 workers of 2 threads on SQLite. A fill is from the "
        "chosen passphrase (600,000 rounds, the fewest) to All synced, every time on an empty device; an "
        "entry's processor is browser and server together. Starts are of a new browser process and no server "
        "to ask; the list and the client are opened one after the other while the app goes on with what it "
        "does at a start. 1 entry more is recorded on another device and fetched by a tap on Sync now, until "
        "every list has it. Requests and bytes are bodies of the sync alone. The growth table is of medians.",
        phone_section,
    ),
    "hands": (
        "Taps and keystrokes of a visit",
        "Chromium as a phone, driven by a program that taps what a thumb would: a field is one tap and a "
        "keystroke for each character, a list of choices two taps. Scrolling, looking and measuring are not "
        "in it; the seconds are the program's, which waits for each screen and for nothing else.",
        hands_section,
    ),
    "reminders": (
        "Reminders among very many clients",
        "One worker in one process; forty clients a therapist, every therapist with a reminder due and one "
        "browser. A round takes 50 reminders: claims them, counts what is due for each, encrypts and signs a "
        "message, sends it, settles it and puts in the next. The push service answers from the same "
        "process and decrypts every message.",
        reminders_section,
    ),
}
TITLE = """# Measured

`python3 -m tests.benchmarks` writes this, or named parts of it.
One machine, shared with other work: ratios within a table mean something, times hardly. A phone is slower.
"""


def main(names: list[str]) -> None:
    """Measure what is named, or everything; print it, write it down."""
    unknown = set(names) - set(SECTIONS)
    if unknown:
        sys.exit(f"No such measurement: {', '.join(unknown)}. There are: {', '.join(SECTIONS)}.")
    for name in names or SECTIONS:
        title, how, measure = SECTIONS[name]
        before = machine.load()
        with tempfile.TemporaryDirectory() as folder:
            found = measure(Path(folder) / name, date.today())
        print(f"\n{title}\n\n{found}", flush=True)
        where = f"{date.today().isoformat()}, {machine.describe()}; {before}"
        put(title, f"{textwrap.fill(how, 110)}\n\n{where}\n\n{found}\n")


def put(title: str, text: str) -> None:
    """Write a section in place of what it said before; what is said of it below its table stays."""
    kept = sections(RESULTS.read_text("utf-8"))
    remarks = "".join(re.findall(r"^### .*", kept.get(title, ""), re.DOTALL | re.MULTILINE))
    kept[title] = f"{text}\n{remarks}" if remarks else text
    order = [each for each, _, _ in SECTIONS.values() if each in kept]
    body = "\n".join(f"## {each}\n\n{kept[each].strip()}\n" for each in order)
    RESULTS.write_text(f"{TITLE}\n{body}", "utf-8")


def sections(text: str) -> dict[str, str]:
    """The sections of a Markdown text by their titles."""
    parts = re.split(r"^## (.*)\n", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def say(figure: Figure) -> Figure:
    print(" | ".join(figure.row()), flush=True)
    return figure
