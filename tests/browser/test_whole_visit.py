"""A whole first assessment and the visit that follows it, without signal."""

import re

from playwright.sync_api import Page, expect

from tests.browser.support import go_offline, go_online, screenshot
from tests.browser.test_screens import sideways
from tests.browser.whole_visit import Visitor, first_visit, what_is_due

NEW, KNOWN = "Margery Fennimore-Cole", "Þórdís"
RECORDED = {
    "Blood pressure": "128/76 mmHg",
    "Postural blood pressure": "128/76 mmHg lying, standing at lowest 122",
    "Activity tolerance": "Stairs: effort 3 of 10, pulse 72 to 92 /min",
    "Timed up and go": "10.5 s",
    "Chair stand, 30 seconds": "13 stands",
    "Balance in four stages": "Tandem 8 s",
    "Walking speed": "0.95 m/s over 4 m",
    "Grip strength": "24",
}
MEASURES = ("pulse", "blood_pressure", "timed_up_and_go", "walking_speed", "grip_strength")
# What a form holds before anybody has touched it.
FILLED = """() => [...document.querySelectorAll('form input, form textarea, form select')]
  .filter((one) => one.type === 'radio' || one.type === 'checkbox' ? one.checked : one.value !== '')
  .filter((one) => !one.name.endsWith('__unit') && !one.name.endsWith('-unit'))
  .map((one) => one.name)"""


def test_a_first_visit_with_every_part_without_signal(open_phone, own_server, watch):
    phone = open_phone(color_scheme="dark")
    visitor = Visitor(phone.new_page(), own_server.url).begin()
    go_offline(phone, watch)
    first_visit(visitor, NEW)
    expect(visitor.page.locator("a.status")).to_contain_text("not sent yet")
    go_online(phone)
    visitor.wait_for_sync()
    visitor.open_client(NEW)
    visits = visitor.page.get_by_role("heading", name="Visits", exact=True).locator("..")
    visits.get_by_role("link").first.click()
    for title, figure in RECORDED.items():
        expect(visitor.part(title)).to_contain_text(figure)
    visitor.part("Goals").click()
    expect(visitor.page.get_by_role("link", name="Back to the hens")).to_be_visible()


def test_a_follow_up_asks_for_what_is_due_and_shows_the_last_time(open_phone, own_server, watch):
    phone = open_phone()
    visitor = Visitor(phone.new_page(), own_server.url).begin()
    page = visitor.page
    go_offline(phone, watch)
    visitor.open_client(KNOWN)
    visitor.start_visit()
    expect(page.get_by_text("Vital signs first")).to_have_count(0)
    expect(visitor.part("Pulse")).to_contain_text("To do")
    expect(visitor.part("Pulse")).to_contain_text(re.compile(r"Last time: \d+ /min"))
    expect(visitor.part("Daily life")).to_contain_text("4 to ask")
    expect(visitor.part("Goals")).to_contain_text("2 to review")
    screenshot(page, "follow-up", whole=True)
    assert sideways(page) == ""
    nothing_prefilled(page, *MEASURES)
    visitor.open_section("Daily life")
    visitor.tap("How it goes:")
    visitor.at("Last time")
    assert page.evaluate(FILLED) == []
    page.get_by_role("link", name="Daily life").first.click()
    visitor.back_to_visit()
    what_is_due(visitor)
    expect(visitor.part("Daily life")).to_contain_text("4 recorded")
    expect(visitor.part("Goals")).to_contain_text("2 recorded")
    visitor.finish("Read the conclusion")
    expect(page.locator("a.status")).to_contain_text("not sent yet")


def nothing_prefilled(page: Page, *measures: str) -> None:
    """Last time stands beside the fields of a measure, and none of them holds it."""
    visit = page.url
    for measure in measures:
        page.goto(f"{visit}/{measure}")
        expect(page.locator(".foot .next button").last).to_be_enabled()
        last = page.locator(".last").first
        expect(last, measure).to_contain_text("Last time:")
        assert page.evaluate(FILLED) == [], measure
    page.goto(visit)
