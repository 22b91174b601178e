"""The phone's clock and the server's disagree: what the phone says about it."""

import re

from playwright.sync_api import expect

from tests.browser.accessibility import assert_accessible
from tests.browser.support import screenshot
from tests.browser.test_restored_phone import sync_now
from tests.browser.test_screens import JUDGED, TWICE_AS_LARGE, sideways
from tests.browser.therapist import Therapist

# The date alone, so that what else tells time on the page goes on as ever.
THREE_DAYS_AHEAD = """() => {
  const Right = Date;
  globalThis.ahead = 3 * 24 * 60 * 60 * 1000;
  globalThis.Date = class extends Right {
    static now() { return Right.now() + globalThis.ahead; }
    constructor(...given) { super(...(given.length ? given : [Right.now() + globalThis.ahead])); }
  };
}"""


def test_clocks_that_disagree_are_said_and_neither_is_blamed(page, own_server):
    """Fault 26: by the phone alone nobody can tell whose clock is wrong."""
    page.add_init_script(f"({THREE_DAYS_AHEAD})()")
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client("Desmond Tallowfield")
    therapist.start_visit()
    expect(page.locator("a.status")).to_contain_text("needs attention", timeout=30_000)
    sync_now(page)
    note = page.get_by_role("region", name="The clocks disagree")
    expect(note).to_contain_text("clock was 3 days ahead of the server’s")
    expect(note).to_contain_text("If they are right, tell whoever looks after Lintel")
    held = page.get_by_role("link", name=re.compile("lies more than a day ahead of the server's clock"))
    expect(held).to_contain_text("nothing is lost, it goes again once that is right")
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        screenshot(page, f"clocks-disagree-{scheme}", whole=True)
        assert_accessible(page, JUDGED)
    page.evaluate(TWICE_AS_LARGE)
    screenshot(page, "clocks-disagree-200", whole=True)
    assert sideways(page) == ""

    page.evaluate("() => { globalThis.ahead = 0; }")
    sync_now(page)
    expect(note).to_have_count(0)
    expect(held).to_have_count(0)
    told = page.get_by_role("link", name=re.compile("the date of this device was wrong when it was recorded"))
    expect(told).to_have_count(1)
