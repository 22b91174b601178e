"""Screens that the walk of test_screens does not reach: both colours, large text, 320 pixels, Tab."""

from datetime import UTC, datetime

from playwright.sync_api import Page, expect

from tests.browser.accessibility import COLOURS, assert_accessible
from tests.browser.support import screenshot, sign_in
from tests.browser.test_emergency import LEAD, sign_in_to_office
from tests.browser.test_screens import (
    FOOT_AT_MOST,
    FOOT_HEIGHT,
    KEPT_BY_THE_BROWSER,
    SMALLEST_TARGET,
    TARGETS,
    TWICE_AS_LARGE,
    sideways,
)
from tests.browser.test_withdrawn import withdraw_every_device
from tests.browser.therapist import Therapist

KNOWN = "Þórdís"  # of whom everything is recorded: activities, goals, rooms, a plan
MEASURES = (
    "postural_blood_pressure",
    "activity_tolerance",
    "timed_up_and_go",
    "chair_stand",
    "balance_stages",
    "walking_speed",
    "grip_strength",
)
SECTIONS = ("daily-life", "goals", "home", "plan")
DESCRIBED = (
    "activity",
    "goal",
    "place",
    "hazard",
    "equipment",
    "lower_leg",
    "problem",
    "intervention",
    "reassessment",
    "plan_review",
)
OTHERS = ("target", "precaution", "finish")
GO = """(path) => {
  history.pushState(null, '', path);
  dispatchEvent(new PopStateEvent('popstate'));
}"""
OPEN_ALL = "() => document.querySelectorAll('details').forEach((one) => { one.open = true; })"
DRAWN = {"color-contrast": "words in a drawing, of which axe cannot tell the ground: ink on paper"}
WHOLE_HEIGHT = "document.documentElement.scrollHeight"
NORMAL_SIZE = "document.documentElement.style.removeProperty('font-size')"
# What stands beside another has the same height, give or take a label's.
OUT_OF_ORDER = """() => {
  const all = [...document.querySelectorAll('a[href], button, input, select, textarea, summary')]
    .filter((one) => one.type !== 'hidden' && !one.disabled && one.checkVisibility());
  const told = (words, found) => found.map((one) => `${words}: ${one.outerHTML.slice(0, 80)}`);
  const flow = all.filter((one) => !one.closest('.foot, .top'));
  const top = (one) => (one.closest('label') ?? one).getBoundingClientRect().bottom;
  const back = flow.filter((one, place) => place > 0 && top(one) < top(flow[place - 1]) - 40);
  const missed = all.filter((one) => one.tabIndex !== 0);
  return [...told('not reached', missed), ...told('above the one before', back)];
}"""


def look(page: Page, name: str) -> None:
    """One pass over the screen that stands: all that must hold of it, in every condition."""
    page.emulate_media(color_scheme="light")
    screenshot(page, f"more-{name}-light", whole=True)
    # As high as the page is long: then the bar at the bottom lies over nothing.
    page.set_viewport_size({"width": 360, "height": page.evaluate(WHOLE_HEIGHT)})
    judged = DRAWN if page.locator("svg text").count() else {}
    assert_accessible(page, judged)
    assert page.evaluate(TARGETS, SMALLEST_TARGET) == [], name
    assert page.evaluate(OUT_OF_ORDER) == [], name
    page.emulate_media(color_scheme="dark")
    assert_accessible(page, judged, COLOURS)
    page.set_viewport_size({"width": 360, "height": 800})
    page.evaluate(TWICE_AS_LARGE)
    screenshot(page, f"more-{name}-dark-200")
    assert sideways(page) == "", f"{name}, large text"
    foot = page.evaluate(FOOT_HEIGHT)
    assert foot <= 800 * FOOT_AT_MOST, f"{name}: the bar at the bottom takes {foot} of 800"
    page.evaluate(NORMAL_SIZE)
    page.set_viewport_size({"width": 320, "height": 640})
    assert sideways(page) == "", f"{name}, 320 pixels"
    page.set_viewport_size({"width": 360, "height": 800})


def look_in_the_app(page: Page, name: str) -> None:
    assert page.evaluate(KEPT_BY_THE_BROWSER) == [], name
    look(page, name)


def titled(page: Page, title: str) -> None:
    """Wait for a screen without touching it: the lock screens of a test's phone give way to any touch."""
    page.wait_for_function("(title) => document.title.startsWith(title)", arg=title)


def test_every_other_screen_of_a_visit(open_phone, own_server):
    page = open_phone().new_page()
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(KNOWN)
    therapist.start_visit()
    visit = page.url.removeprefix(own_server.url)
    for path in [*MEASURES, *SECTIONS, *(f"describe/{kind}" for kind in DESCRIBED), *OTHERS]:
        page.evaluate(GO, f"{visit}/{path}")
        expect(page.locator("main h1").first).to_be_visible()
        expect(page.locator(".who")).to_be_visible()
        look_in_the_app(page, path.replace("/", "-"))
    for section, kind in (("daily-life", "activity_rating"), ("goals", "goal_review"), ("plan", "standing")):
        page.evaluate(GO, f"{visit}/{section}")
        page.locator(f'main a[href*="/{kind}"], main a[href*="/{kind}/"]').first.click()
        expect(page.locator("form")).to_have_count(1)
        look_in_the_app(page, kind)


def test_every_screen_of_lock_account_and_emergency(open_phone, own_server, watch):
    # Answers here, and the browser notes each.
    watch.allow("status of 422 .*/emergency-access", "status of 403 .*/sync")
    page, url = open_phone().new_page(), own_server.url
    sign_in(page, url)
    titled(page, "Choose a passphrase")
    look(page, "choose-passphrase")
    expect(page.get_by_text("All synced at").first).to_be_visible()
    page.evaluate(GO, "/app/emergency")
    page.get_by_role("button", name="Open the record").click()
    expect(page.get_by_role("alert")).to_be_visible()
    look_in_the_app(page, "emergency")
    page.evaluate(GO, "/app/phone")
    expect(page.get_by_role("heading", name="What the words mean")).to_be_visible()
    page.evaluate(OPEN_ALL)
    look_in_the_app(page, "phone-all-open")
    page.get_by_role("button", name="Lock now").click()
    titled(page, "Locked")
    page.evaluate(OPEN_ALL)
    look(page, "locked")
    page.goto(f"{url}/account")
    page.evaluate(OPEN_ALL)
    look(page, "account")
    withdraw_every_device(own_server.folder, datetime.now(UTC))
    page.goto(f"{url}/app/phone")
    page.get_by_role("button", name="Sync now").click()
    expect(page.get_by_role("heading", name="This phone is withdrawn")).to_be_visible()
    look_in_the_app(page, "withdrawn")


def test_every_screen_of_the_office_and_of_a_lead(open_phone, own_server):
    page, url = open_phone().new_page(), own_server.url
    page.goto(f"{url}/sign-in/new-password#abc-def_123")
    expect(page.get_by_label("New password")).to_be_visible()
    look(page, "new-password")
    sign_in_to_office(page, url)
    for path in ("office/people", "office/teams", "office/devices", "office/reassessment"):
        page.goto(f"{url}/{path}")
        page.evaluate(OPEN_ALL)
        look(page, path.replace("/", "-"))
    lead = open_phone().new_page()
    sign_in(lead, url, LEAD)
    lead.goto(f"{url}/audit")
    lead.evaluate(OPEN_ALL)
    look(lead, "audit")
