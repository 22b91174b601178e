"""The phone's database is damaged on its disk or does not open: said, filled again, the loss named."""

from pathlib import Path

from playwright.sync_api import Page, expect

from tests.browser.accessibility import assert_accessible
from tests.browser.support import screenshot
from tests.browser.test_screens import JUDGED, TWICE_AS_LARGE, sideways
from tests.browser.test_wiped import CLIENT, record_what_does_not_arrive
from tests.browser.therapist import Therapist

OPENS_NOT = """
IDBFactory.prototype.open = () => { throw new DOMException('Internal error.', 'UnknownError'); };
"""


def look_at(page: Page, name: str) -> None:
    """In both schemes and twice as large; the way on is the first thing a keyboard comes to."""
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        screenshot(page, f"{name}-{scheme}", whole=True)
        assert_accessible(page, JUDGED)
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Try again")).to_be_focused()
    page.evaluate(TWICE_AS_LARGE)
    screenshot(page, f"{name}-200", whole=True)
    assert sideways(page) == ""


def damage(profile: Path) -> int:
    """Write over the middle of every file in which the browser keeps databases; how many there were."""
    files = [path for path in profile.rglob("IndexedDB/*.leveldb/*") if path.suffix in (".log", ".ldb")]
    for path in files:
        data = bytearray(path.read_bytes())
        data[len(data) // 3 : 2 * len(data) // 3] = b"\xa5" * (2 * len(data) // 3 - len(data) // 3)
        path.write_bytes(bytes(data))
    return len(files)


def test_a_damaged_database_is_filled_again_and_what_was_not_sent_is_named(open_profile, own_server):
    profile = open_profile()
    page = profile.open().new_page()
    record_what_does_not_arrive(page, own_server.url)
    profile.close()
    assert damage(profile.folder) > 0

    page = profile.open().new_page()
    page.goto(f"{own_server.url}/app/")
    note = page.locator("section", has=page.get_by_role("heading", name="Not everything has arrived"))
    expect(note).to_contain_text("1 entry recorded on another phone of yours")
    screenshot(page, "damaged-today", whole=True)
    therapist = Therapist(page, own_server.url)
    therapist.wait_for_sync()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.record_pulse("72")
    therapist.wait_for_sync()


def test_a_database_that_does_not_open_is_said(page, server):
    Therapist(page, server.url).begin()
    page.add_init_script(OPENS_NOT)
    page.goto(f"{server.url}/app/")
    expect(page.get_by_role("heading", name="The phone’s storage did not open")).to_be_visible()
    expect(page.get_by_text("start the phone anew")).to_be_visible()
    expect(page.get_by_text("save again")).to_have_count(0)
    look_at(page, "storage-does-not-open")
