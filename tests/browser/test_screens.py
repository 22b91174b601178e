"""Every screen, light and dark, narrow and with text twice as large: reachable, readable, nothing cut off."""

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.accessibility import assert_accessible
from tests.browser.support import screenshot
from tests.browser.therapist import Therapist

CLIENT = "Margery Fennimore-Cole"
# Lines that lie under the bar at the bottom have no colour behind them that axe could know.
JUDGED = {"color-contrast": "text below the fold is overlapped by the bar; scrolled up it is not"}
SMALLEST_TARGET = 44
FOOT_AT_MOST = 0.36  # of the height, with text twice as large
FOOT_HEIGHT = "document.querySelector('.foot')?.getBoundingClientRect().height ?? 0"
TWICE_AS_LARGE = "document.documentElement.style.setProperty('font-size', '200%')"
TARGETS = """(smallest) => [...document.querySelectorAll('a[href], button, input, textarea, summary')]
  .map((one) => one.closest('label') ?? one)
  .filter((one) => one.checkVisibility() && getComputedStyle(one).display !== 'inline')
  .map((one) => ({text: one.textContent.trim().slice(0, 40), box: one.getBoundingClientRect()}))
  .filter(({box}) => box.width > 0 && (box.height < smallest || box.width < 24))
  .map(({text, box}) => `${text}: ${Math.round(box.width)} by ${Math.round(box.height)}`)"""
# What a browser writes to its own files to bring a closed window back: everything typed, unless told not to.
KEPT_BY_THE_BROWSER = """() => [...document.querySelectorAll('main input, main textarea, main select')]
  .filter((one) => one.type !== 'password')
  .filter((one) => (one.getAttribute('autocomplete') ?? one.form?.autocomplete) !== 'off')
  .map((one) => one.outerHTML.slice(0, 80))"""
WIDER = """() => {
  const width = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= width) return '';
  const all = [...document.querySelectorAll('*')];
  const out = all.filter((one) => one.getBoundingClientRect().right > width + 1);
  return out.map((one) => `${one.tagName}.${one.className}`).slice(0, 5).join(', ') || 'something';
}"""


def screens(therapist: Therapist) -> Iterator[str]:
    """Walk through the app, naming each screen once it stands."""
    page, url = therapist.page, therapist.url
    page.goto(f"{url}/sign-in")
    yield "sign-in"
    therapist.begin()
    yield "today"
    page.get_by_role("link", name="Caseload").click()
    expect(page.get_by_role("searchbox")).to_be_visible()
    expect(page.locator(".lines > li").first).to_be_visible()
    yield "caseload"
    page.get_by_role("link", name="Phone").click()
    expect(page.get_by_role("heading", name="What the words mean")).to_be_visible()
    yield "phone"
    page.goto(f"{url}/app/nowhere")
    expect(page.get_by_role("heading", name="Not on this phone")).to_be_visible()
    yield "missing"
    therapist.open_client("Desmond Tallowfield")
    yield "client"
    yield from visit_screens(therapist)


def visit_screens(therapist: Therapist) -> Iterator[str]:
    page = therapist.page
    therapist.open_client(CLIENT)
    therapist.start_visit()
    yield "visit"
    for title in (
        "Blood pressure",
        "Pulse",
        "Breathing",
        "Temperature",
        "Oxygen saturation",
        "How the client seems",
    ):
        therapist.open_part(title)
        yield f"form-{title.split()[0].lower()}"
        if title == "Blood pressure":
            therapist.save_button().click()
            expect(page.get_by_role("alert")).to_be_visible()
            yield "form-errors"
        therapist.back_to_visit()
    therapist.record_blood_pressure(("Left", "148", "84"), ("Right", "132", "80"))
    page.get_by_text("Why?").first.click()
    yield "judged"
    page.get_by_role("link", name="Look or correct").click()
    expect(page.get_by_role("heading", name="History")).to_be_visible()
    yield "entry"
    page.get_by_role("button", name="Correct this").click()
    expect(therapist.save_button()).to_be_enabled()
    yield "correct"
    page.go_back()
    page.go_back()
    therapist.back_to_visit()
    yield from end_screens(therapist)


def end_screens(therapist: Therapist) -> Iterator[str]:
    page = therapist.page
    therapist.open_part("Pulse")
    page.get_by_role("button", name="Count for 30 seconds").click()
    yield "counter"
    page.get_by_role("button", name="Not measured this time").click()
    yield "not-measured"
    therapist.page.get_by_role("link", name="Visit").first.click()
    page.get_by_role("button", name="Conclude without the rest").click()
    expect(page.get_by_role("heading", name="Because")).to_be_visible()
    yield "conclusion"
    page.get_by_role("button", name="Decide otherwise").click()
    yield "otherwise"
    page.get_by_role("button", name="Back to the suggestion").click()
    page.get_by_role("button", name="Accept").click()
    expect(page.get_by_role("heading", name="Finish the visit")).to_be_visible()
    yield "finish"


def walk(therapist: Therapist, look: Callable[[Page, str], None]) -> int:
    """Look at every screen; answers how many there were."""
    seen = 0
    for name in screens(therapist):
        look(therapist.page, name)
        seen += 1
    return seen


def sideways(page: Page) -> str:
    """What sticks out of the screen's width, if anything does."""
    return page.evaluate(WIDER)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_screen_is_accessible_and_keeps_to_the_width(open_phone, own_server, scheme):
    page = open_phone(color_scheme=scheme).new_page()

    def look(page: Page, name: str) -> None:
        screenshot(page, f"screen-{name}-{scheme}", whole=False)
        assert_accessible(page, JUDGED)
        assert sideways(page) == "", name
        assert page.evaluate(TARGETS, SMALLEST_TARGET) == [], name
        assert name == "sign-in" or page.evaluate(KEPT_BY_THE_BROWSER) == [], name

    assert walk(Therapist(page, own_server.url), look) >= 20


def test_every_screen_keeps_to_the_width_with_text_twice_as_large(open_phone, own_server):
    page = open_phone(viewport={"width": 360, "height": 800}).new_page()

    def look(page: Page, name: str) -> None:
        page.evaluate(TWICE_AS_LARGE)
        screenshot(page, f"screen-{name}-200", whole=False)
        assert sideways(page) == "", name
        foot = page.evaluate(FOOT_HEIGHT)
        assert foot <= 800 * FOOT_AT_MOST, f"{name}: the bar at the bottom takes {foot} of 800"

    assert walk(Therapist(page, own_server.url), look) >= 20


def test_every_screen_keeps_to_320_pixels_and_says_how_sync_stands(open_phone, own_server):
    page = open_phone(viewport={"width": 320, "height": 640}).new_page()

    def look(page: Page, name: str) -> None:
        assert sideways(page) == "", name
        assert name == "sign-in" or page.locator("a.status").is_visible(), name

    assert walk(Therapist(page, own_server.url), look) >= 20
