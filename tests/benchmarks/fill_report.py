"""The tables of first fills, cold starts and one entry more, and how they grow."""

from datetime import date
from pathlib import Path

from playwright.sync_api import Playwright

from demo_home_visits.build import Scenario, build
from tests.benchmarks.caseload import large_scenario
from tests.benchmarks.figures import kilobytes, markdown, ratio, shown, spread
from tests.benchmarks.first_fill import Measured, measure

CLIENTS, ENTRIES_EACH = 200, 250
SMALL, SHORT, WHOLE = (20, ENTRIES_EACH), (CLIENTS, 25), (CLIENTS, ENTRIES_EACH)
FILLED = (
    "caseload", "entries", "by the clock: median (range)", "processor: browser", "server", "an entry",
    "requests", "sent", "received", "on the device's disk", "peak of the page's process (before)",
    "page's heap afterwards", "peak of a worker",
)  # fmt: skip
USED = (
    "caseload", "Unlock to the day's visits", "to the list of all clients", "to one client", "1 entry more",
    "processor", "requests", "sent", "received", "changes at visits, once after the fill: processor",
)  # fmt: skip


def tables(driver: Playwright, folder: Path, today: date) -> str:
    """Measure every caseload, one after the other."""
    scenarios: list[tuple[str, Scenario]] = [("the demo's", build(today))]
    for clients, each in (SMALL, SHORT, WHOLE):
        scenarios.append((f"{clients} clients of {each} entries", large_scenario(today, clients, each)))
    found = {}
    for number, (words, scenario) in enumerate(scenarios):
        found[words] = measure(driver, folder / f"caseload_{number}", scenario)
        for row in (filled(words, found[words]), used(words, found[words])):
            print(" | ".join(row), flush=True)
    parts = (
        markdown(FILLED, [filled(*each) for each in found.items()]),
        markdown(USED, [used(*each) for each in found.items()]),
        growth(*list(found.values())[1:]),
    )
    return "\n\n".join(parts)


def filled(words: str, found: Measured) -> tuple[str, ...]:
    traffic, browser, server = found.traffic["fill"], found.of("fill", "browser"), found.of("fill", "server")
    return (
        words, f"{found.entries:,}", spread(found.steps["fill"].clock), shown(browser), shown(server),
        shown(per_entry(found, "browser") + per_entry(found, "server")), str(traffic.requests),
        kilobytes(traffic.sent), kilobytes(traffic.received), megabytes(found.bytes["stored"]),
        f"{megabytes(found.bytes['page'])} ({megabytes(found.bytes['before'])})",
        megabytes(found.bytes["heap"]), megabytes(found.bytes["worker"]),
    )  # fmt: skip


def used(words: str, found: Measured) -> tuple[str, ...]:
    traffic = found.traffic["more"]
    return (
        words, *(spread(found.steps[each].clock) for each in ("day", "caseload", "client", "more")),
        shown(found.of("more", "browser") + found.of("more", "server")), str(traffic.requests),
        kilobytes(traffic.sent), kilobytes(traffic.received), shown(found.of("changes", "browser")),
    )  # fmt: skip


def per_entry(found: Measured, what: str) -> float:
    return found.of("fill", what) / found.entries


def growth(small: Measured, short: Measured, whole: Measured) -> str:
    """What an entry of the largest caseload costs beside one of each that is a tenth of it."""
    rows = []
    for words, other in (("10 times the clients", small), ("10 times the entries of each", short)):
        ratios = [
            ratio(per_entry(whole, what), per_entry(other, what)) for what in ("clock", "browser", "server")
        ]
        steps = [ratio(whole.of(step), other.of(step)) for step in ("day", "caseload", "client", "more")]
        rows.append((words, *ratios, *steps))
    headings = (
        "to the largest, by", "the fill's clock an entry: times", "browser's processor an entry", "server's",
        "Unlock to the day", "to the list", "to one client", "1 entry more",
    )  # fmt: skip
    return markdown(headings, rows)


def megabytes(count: float) -> str:
    return f"{count / 1e6:,.0f} MB" if count >= 10e6 else f"{count / 1e6:.1f} MB"
