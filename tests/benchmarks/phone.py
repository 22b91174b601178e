"""Measured in the browser: saving until durable, and a cold start without a network."""

import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Page, Playwright, Response, expect

from tests.benchmarks import machine
from tests.benchmarks.figures import Figure, Traffic
from tests.browser.engine_bench import Bench, open_controlled
from tests.browser.live_server import LiveServer
from tests.browser.profile import Profile
from tests.browser.support import sign_in, wait_for_service_worker
from tests.browser.unlocking import PASSPHRASE
from tests.browser.watch import Watch

SAVES, STARTS = 200, 7
FILLED = "from the sign-in page to All synced; browser, server and their start"
FIRST_SYNC_LIMIT = 600_000
READING = {
    "fields": {
        "posture": "sitting", "method": "automatic",
        "readings": [{"arm": "left", "systolic": "128", "diastolic": "76"}] * 2,
    },
    "units": {}, "technique": ["rested_5_minutes", "back_supported"], "confirmed": [],
}  # fmt: skip
SAVE_MANY_TIMES = """async ([person, client, body, times]) => {
  const store = await bench.openStore(person);
  const taken = [];
  for (let number = 0; number < times; number += 1) {
    const start = performance.now();
    await store.save({kind: 'blood_pressure', client, body});
    taken.push(performance.now() - start);
  }
  return taken;
}"""
# The moment at which the day's visits stand on the screen, by the page's own clock.
NOTE_FIRST_LIST = """
new MutationObserver((_, observer) => {
  if (document.querySelectorAll('main a').length < 4) return;
  observer.disconnect();
  requestAnimationFrame(() => setTimeout(() => { globalThis.listShownAt = performance.now(); }));
}).observe(document, {childList: true, subtree: true});
"""


@contextmanager
def profile_on_disk(driver: Playwright) -> Iterator[Profile]:
    with tempfile.TemporaryDirectory() as folder:
        profile = Profile(driver, Path(folder) / "profile", Watch())
        yield profile
        profile.close()


def saving(driver: Playwright, folder: Path) -> Figure:
    """Save readings one after another, each until its transaction is on disk."""
    bench = Bench(folder)
    bench.folder.mkdir()
    bench.start()
    try:
        with profile_on_disk(driver) as profile:
            page = open_controlled(profile.open(), bench)
            place = [bench.ids["person"], bench.ids["one"]]
            taken = page.evaluate(SAVE_MANY_TIMES, [*place, READING, SAVES])
    finally:
        bench.stop()
    return Figure(
        "save one reading until durable", tuple(taken), "store.save, strict durability, profile on disk"
    )


def cold_starts(driver: Playwright, server: LiveServer, words: str) -> list[Figure]:
    """Sync once, then start the app again and again in a new browser process, with no server to ask."""
    with profile_on_disk(driver) as profile:
        page = profile.open().new_page()
        first, traffic = first_sync(page, server)
        heap = page.evaluate("performance.memory.totalJSHeapSize") / 1e6
        used = machine.processor_seconds([*profile.processes(), server.process.pid])
        memory = f"{machine.peak_memory(server.process.pid) / 1e6:.0f} MB server, {heap:.0f} MB page"
        profile.close()
        server.kill()
        taken = tuple(one_start(profile, server) for _ in range(STARTS))
    how = "new browser process, server gone, from the tap on Unlock to the day's visits"
    return [
        Figure(f"first sync, {words}", (first,), f"{FILLED} ({used:.0f} s of processor; {memory})", traffic),
        Figure(f"cold start offline, {words}", taken, how),
    ]


def first_sync(page: Page, server: LiveServer) -> tuple[float, Traffic]:
    page.set_default_timeout(FIRST_SYNC_LIMIT)
    answers: list[Response] = []
    page.on("response", lambda answer: answers.append(answer))
    start = time.perf_counter()
    sign_in(page, server.url)
    expect(page.get_by_text("All synced at").first).to_be_visible(timeout=FIRST_SYNC_LIMIT)
    taken = (time.perf_counter() - start) * 1000
    wait_for_service_worker(page)
    return taken, traffic_of(answers)


def traffic_of(answers: list[Response]) -> Traffic:
    """Return what the sync alone moved; the app itself came before."""
    traffic = Traffic()
    for answer in answers:
        if answer.url.endswith("/api/v1/sync"):
            sizes = answer.request.sizes()
            traffic = traffic.and_one(sizes["requestBodySize"], sizes["responseBodySize"])
    return traffic


def one_start(profile: Profile, server: LiveServer) -> float:
    context = profile.open()
    context.add_init_script(NOTE_FIRST_LIST)
    page = context.new_page()
    page.goto(f"{server.url}/app/")
    page.get_by_label("Passphrase", exact=True).fill(PASSPHRASE)
    begun = page.evaluate("() => performance.now()")
    page.get_by_role("button", name="Unlock", exact=True).click()
    shown = page.wait_for_function("() => globalThis.listShownAt").json_value()
    profile.close()
    return shown - begun
