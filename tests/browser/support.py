"""What browser tests share: the phone, signing in, going offline, screenshots."""

import os
import re
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from demo_home_visits import people
from tests import system_programs
from tests.browser.watch import Watch

ROOT = Path(__file__).resolve().parents[2]
SCREENSHOTS = ROOT / ".lintel" / "screenshots"
CHROMIUM_ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE = 30_000  # milliseconds; nothing takes that long, and a busy machine fails no test
expect.set_options(timeout=PATIENCE)
PHONE = {
    "viewport": {"width": 360, "height": 800},
    "device_scale_factor": 2,
    "has_touch": True,
    "is_mobile": True,
    "locale": "en-GB",
    "timezone_id": "Europe/London",
}


def chromium_path() -> str:
    """Return Chromium's path; without one, skip aloud on a laptop and fail where CI must not be fooled."""
    path = system_programs.chromium()
    if path is None:
        reason = "Chromium is not installed, so no browser test ran"
        pytest.fail(reason) if os.environ.get("CI") else pytest.skip(reason)
    return path


def sign_in(page: Page, url: str, who: str = people.FIRST_THERAPIST) -> None:
    """Sign in as one of the demo's people, through the form a person uses."""
    page.goto(f"{url}/sign-in")
    page.get_by_label(re.compile("email|sign-in name|user ?name", re.I)).fill(who)
    page.get_by_label(re.compile("passphrase|password", re.I)).fill(people.PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(f"{url}/app/**")


def wait_for_service_worker(page: Page) -> None:
    """Wait until a service worker controls the page, so that it can start without a network."""
    # A function, not an expression: the page's policy refuses the eval that Playwright would use.
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")


def go_offline(context: BrowserContext, watch: Watch) -> None:
    """Take the network away; what Chromium prints about that is no fault of the app."""
    watch.allow_network_errors()
    context.set_offline(True)


def go_online(context: BrowserContext) -> None:
    context.set_offline(False)


# Some fields of every row of a store of the phone's database.
ROWS = """async ([store, fields]) => {
  const {name} = (await indexedDB.databases()).find(({name}) => /^lintel-[0-9a-f]{8}-/.test(name));
  const answered = (request) => new Promise((done) => { request.onsuccess = () => done(request.result); });
  const db = await answered(indexedDB.open(name));
  const rows = await answered(db.transaction(store).objectStore(store).getAll());
  db.close();
  return rows.map((row) => fields.map((field) => row[field]));
}"""
LOOK_AGAIN = 100  # milliseconds


def wait_until_sent(page: Page) -> None:
    """Wait until the status says so and nothing waits in the store: it may be that from before the last save.

    The status is looked at each time, for that is what unlocks a phone that is in the way.
    """
    for _ in range(PATIENCE // LOOK_AGAIN):
        expect(page.locator("a.status")).to_have_text(re.compile("^All synced at"))
        if ["waiting"] not in page.evaluate(ROWS, ["outbox", ["state"]]):
            return
        page.wait_for_timeout(LOOK_AGAIN)
    raise AssertionError("something still waits to be sent")


DRAFT_PAUSE = 500  # milliseconds: a little more than the app waits before it keeps what is typed


def wait_for_draft(page: Page) -> None:
    """Wait until what is typed is kept: there is a draft, and after the pause still the same."""
    drafts = ["drafts", ["key", "at"]]
    before, now = None, page.evaluate(ROWS, drafts)
    while not now or now != before:
        page.wait_for_timeout(DRAFT_PAUSE)
        before, now = now, page.evaluate(ROWS, drafts)


def screenshot(page: Page, name: str, whole: bool = False) -> Path:
    """Save what the phone shows (`whole`: the page to its end) in .lintel/screenshots; return where."""
    SCREENSHOTS.mkdir(parents=True, exist_ok=True)
    path = SCREENSHOTS / f"{name}.png"
    page.screenshot(path=path, full_page=whole, animations="disabled")
    return path
