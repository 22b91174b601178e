"""A window whose records a newer app has taken on: it says so, and throws away nothing typed in it."""

import pytest
from playwright.sync_api import Page, expect

from tests.browser.accessibility import assert_accessible
from tests.browser.support import screenshot
from tests.browser.test_lock import bare as bare  # a fixture
from tests.browser.test_lock import begin, locked
from tests.browser.test_more_screens import GO
from tests.browser.test_screens import JUDGED, TWICE_AS_LARGE, sideways
from tests.browser.test_store_damaged import look_at
from tests.browser.therapist import Therapist
from tests.browser.unlocking import unlock

CLIENT = "Adéla Kovářová-Shaw"
NEWER = """async () => {
  const every = await indexedDB.databases();
  const {name, version} = every.find((each) => /^lintel-[0-9a-f]{8}-/.test(each.name));
  const db = await new Promise((done, failed) => {
    const request = indexedDB.open(name, version + 1);
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
  db.close();
}"""
# As a save in another window tells it: every screen looks again.
LOOK_AGAIN = """async () => {
  const {name} = (await indexedDB.databases()).find((each) => /^lintel-[0-9a-f]{8}-/.test(each.name));
  new BroadcastChannel(name).postMessage({type: 'saved', clients: []});
}"""


@pytest.fixture
def newer(page, own_server):
    """Another window, in which a newer app opens the records once it is told to."""
    other = page.context.new_page()
    other.goto(f"{own_server.url}/sign-in")
    return other


def older(page: Page):
    return page.get_by_role("heading", name="The app is older than its records")


def at_a_form(page: Page, own_server) -> Therapist:
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.wait_for_sync()
    therapist.open_part("Pulse")
    return therapist


@pytest.mark.parametrize("path", ["/app/", "/app/due"])
def test_an_open_window_says_at_once_that_it_is_older_and_leaves_the_records_alone(
    page, own_server, newer, path
):
    """As after an update in another window; also at the next start. Any page error fails a browser test."""
    Therapist(page, own_server.url).begin()
    page.evaluate(GO, path)
    newer.evaluate(NEWER)
    newer.evaluate(LOOK_AGAIN)
    expect(older(page)).to_be_visible()
    page.goto(f"{own_server.url}{path}")
    expect(older(page)).to_be_visible()
    expect(page.get_by_text("Nothing is lost and nothing was removed.")).to_be_visible()
    expect(page.get_by_text("another window")).to_have_count(0)
    if path == "/app/":
        look_at(page, "older-than-its-records")


def test_a_form_stays_with_what_is_typed_in_it_and_says_that_it_cannot_be_saved(page, own_server, newer):
    therapist = at_a_form(page, own_server)
    newer.evaluate(NEWER)
    note = page.get_by_role("alert").filter(has_text="This window is older than its records")
    expect(note).to_contain_text("What is typed here stands on this screen alone")
    therapist.choose("Rate read from a device")
    therapist.enter("Rate", "71")
    therapist.choose("Regular", "Rhythm")
    newer.evaluate(LOOK_AGAIN)
    therapist.save_button().click()
    expect(page.get_by_text("so it cannot save into them")).to_be_visible()
    expect(page.get_by_role("textbox", name="Rate")).to_have_value("71")
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        screenshot(page, f"older-window-form-{scheme}", whole=True)
        assert_accessible(page, JUDGED)
    page.evaluate(TWICE_AS_LARGE)
    screenshot(page, "older-window-form-200", whole=True)
    assert sideways(page) == ""
    page.get_by_role("button", name="Leave this screen").press("Enter")
    expect(older(page)).to_be_visible()


def test_from_a_form_another_screen_of_the_window_says_it_whole(page, own_server, newer):
    at_a_form(page, own_server)
    newer.evaluate(NEWER)
    expect(page.get_by_role("alert").filter(has_text="This window is older")).to_be_visible()
    page.get_by_role("link", name="Visit").first.click()
    expect(older(page)).to_be_visible()


def test_the_phones_own_screen_says_it_too_and_a_sync_asks_for_the_update(page, own_server, newer):
    """It holds forms, and so it stays until it is left."""
    Therapist(page, own_server.url).begin()
    page.evaluate(GO, "/app/phone")
    newer.evaluate(NEWER)
    expect(page.get_by_role("alert").filter(has_text="This window is older")).to_be_visible()
    page.get_by_role("button", name="Sync now").click()
    expect(page.get_by_text("is older than the records on this phone. Nothing was lost")).to_be_visible()
    expect(page.locator("a.status")).to_contain_text("update the app to sync")
    page.get_by_role("link", name="Today").click()
    expect(older(page)).to_be_visible()


def test_a_locked_window_says_it_when_it_is_unlocked(bare, own_server):
    page = bare().new_page()
    begin(page, own_server.url)
    page.get_by_role("link", name="Phone").click()
    page.get_by_role("button", name="Lock now").click()
    expect(locked(page)).to_be_visible()
    other = page.context.new_page()
    other.goto(f"{own_server.url}/account")
    other.evaluate(NEWER)
    unlock(page)
    expect(older(page)).to_be_visible()
