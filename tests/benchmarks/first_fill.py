"""A device filled for the first time, started cold, and brought 1 entry more; how that grows."""

import subprocess
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

from playwright.sync_api import Page, Playwright, Request

from demo_home_visits.build import Scenario
from demo_home_visits.entry_maker import user_id
from tests.benchmarks import caseload, content, fill_page, machine
from tests.benchmarks.figures import Traffic
from tests.benchmarks.fill_page import look_anew, now, when_seen, when_told
from tests.benchmarks.server import ServiceServer, device, serving
from tests.browser.profile import Profile, command_line
from tests.browser.support import sign_in, wait_for_service_worker
from tests.browser.unlocking import PASSPHRASE, choose
from tests.browser.watch import Watch

FILLS, STARTS, MORE = 3, 5, 3
PERSON = user_id(caseload.THERAPIST)


@dataclass
class Step:
    """One thing done several times: milliseconds by the clock and of the processor."""

    clock: list[float] = field(default_factory=list)
    browser: list[float] = field(default_factory=list)
    server: list[float] = field(default_factory=list)


@dataclass
class Measured:
    """All that was measured with one caseload."""

    clients: int
    entries: int
    steps: dict[str, Step] = field(default_factory=dict)
    traffic: dict[str, Traffic] = field(default_factory=dict)
    bytes: dict[str, float] = field(default_factory=dict)

    def note(self, step: str, clock: float, browser: float, server: float = 0) -> None:
        noted = self.steps.setdefault(step, Step())
        noted.clock.append(clock)
        noted.browser.append(browser)
        noted.server.append(server)

    def of(self, step: str, what: str = "clock") -> float:
        return median(getattr(self.steps[step], what))


class Phone:
    """One device: a browser profile on disk, at first empty."""

    def __init__(self, driver: Playwright, folder: Path, server: ServiceServer, found: Measured) -> None:
        self.profile, self.server, self.found = Profile(driver, folder, Watch()), server, found
        self.serving = True

    def open(self) -> Page:
        context = self.profile.open(unlocks=False)
        context.set_default_timeout(120_000)
        context.add_init_script(fill_page.NOTES)
        return context.new_page()

    def used(self) -> tuple[float, float]:
        """Processor milliseconds of the browser and of the server's workers so far."""
        server = self.server.processor_seconds() if self.serving else 0
        return machine.processor_seconds(self.profile.processes()) * 1000, server * 1000

    def step(self, name: str, page: Page, do: Callable[[], object], done: Callable[[], float]) -> None:
        """Do something, and note what it took until it was done by the page's clock."""
        look_anew(page)
        before, start = self.used(), now(page)
        do()
        clock = done() - start
        after = self.used()
        self.found.note(name, clock, after[0] - before[0], after[1] - before[1])

    def fill(self) -> None:
        """Sign in, choose a passphrase, and wait until everything is on the device."""
        page = self.open()
        requests = heard(page)
        sign_in(page, self.server.url)
        page.get_by_role("heading", name="Guard this phone").wait_for()
        wait_for_service_worker(page)
        page.evaluate("(person) => listen(`lintel-${person}`)", PERSON)
        self.found.bytes["before"] = self.page_peak()
        self.step("fill", page, lambda: choose(page), lambda: when_seen(page, "synced"))
        self.found.traffic["fill"] = traffic_of(requests)
        before, start = self.used(), now(page)
        done = when_told(page, "cards", 2)
        self.found.note("changes", done - start, self.used()[0] - before[0])
        self.memory(page)
        self.profile.close()
        self.found.bytes["stored"] = size_of(self.profile.folder / "Default" / "IndexedDB")

    def page_peak(self) -> float:
        """The most memory that the page's process ever held; much of it is the browser's own code."""
        renderers = [each for each in self.profile.processes() if "--type=renderer" in command_line(each)]
        return max(map(machine.peak_memory, renderers))

    def memory(self, page: Page) -> None:
        heap = fill_page.heap(page.context.new_cdp_session(page))
        self.found.bytes |= {"page": self.page_peak(), "heap": heap, "worker": self.server.peak_memory()}

    def unlock(self, page: Page, path: str) -> None:
        page.goto(f"{self.server.url}{path}")
        page.get_by_label("Passphrase", exact=True).fill(PASSPHRASE)

    def start(self) -> None:
        """Start with no server to ask: the day, then the whole caseload, then one client."""
        self.serving = False
        page = self.open()
        self.unlock(page, "/app/")
        press = page.get_by_role("button", name="Unlock", exact=True)
        self.step("day", page, press.click, lambda: when_seen(page, "day"))
        places = page.get_by_role("navigation", name="Places")
        tap = places.get_by_role("link", name="Caseload")
        self.step("caseload", page, tap.click, lambda: when_seen(page, "caseload"))
        assert page.evaluate(fill_page.LINES) == self.found.clients
        client = page.locator("main ul.lines a.line").nth(self.found.clients // 2)
        self.step("client", page, client.click, lambda: when_seen(page, "client"))
        self.profile.close()

    def one_more(self, write: Callable[[], None]) -> None:
        """Bring in one entry that another device recorded, with the app open."""
        page = self.open()
        self.unlock(page, "/app/phone")
        page.get_by_role("button", name="Unlock", exact=True).click()
        when_seen(page, "synced")
        page.evaluate("(person) => listen(`lintel-${person}`)", PERSON)
        press = page.get_by_role("button", name="Sync now")
        for _ in range(MORE):
            page.wait_for_timeout(3000)  # what the app does by itself when nothing waits
            write()
            requests = heard(page)
            self.step("more", page, press.click, lambda: when_told(page, "cards"))
            page.wait_for_timeout(500)
            self.found.traffic["more"] = traffic_of(requests)
        self.profile.close()


def heard(page: Page) -> list[Request]:
    """Return a list to which every request of a page is added from now on."""
    requests: list[Request] = []
    page.on("requestfinished", lambda request: requests.append(request))
    return requests


def traffic_of(requests: list[Request]) -> Traffic:
    """Return what the sync alone moved; the app itself came before."""
    traffic = Traffic()
    for request in requests:
        if request.url.endswith("/api/v1/sync"):
            sizes = request.sizes()
            traffic = traffic.and_one(sizes["requestBodySize"], sizes["responseBodySize"])
    return traffic


def size_of(folder: Path) -> float:
    """Bytes on disk."""
    said = subprocess.run(["du", "-sk", folder], capture_output=True, text=True, check=True).stdout
    return int(said.split()[0]) * 1024


def measure(driver: Playwright, folder: Path, scenario: Scenario) -> Measured:
    """Fill devices from a database of this scenario, then use the last of them."""
    clients = set(scenario.caseloads[PERSON])
    found = Measured(len(clients), sum(entry["client"] in clients for entry in scenario.entries))
    caseload.make_database(folder, scenario)
    with serving(folder) as server:
        phones = [Phone(driver, folder / f"phone_{number}", server, found) for number in range(FILLS)]
        for phone in phones:
            phone.fill()
        writer = device(server.url, 7000, 100)
        phones[-1].one_more(lambda: write_one(writer, scenario))
        phones[-1].serving = False
    for _ in range(STARTS):
        phones[-1].start()
    return found


def write_one(writer, scenario: Scenario) -> None:
    """Another device of the therapist records one reading and sends it."""
    content.record(writer, scenario, 1, 1)
    writer.sync_all()
    assert not writer.state.outbox, "the server did not take the entry"
