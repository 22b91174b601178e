"""What is measured besides the vital signs, offline: clocks, a stopwatch, a big stop, the last time."""

import re

from playwright.sync_api import Page, expect

from tests.browser.accessibility import assert_accessible
from tests.browser.support import go_offline, screenshot, wait_for_draft
from tests.browser.test_screens import (
    FOOT_AT_MOST,
    FOOT_HEIGHT,
    JUDGED,
    SMALLEST_TARGET,
    TARGETS,
    TWICE_AS_LARGE,
    sideways,
)
from tests.browser.therapist import Therapist

CLIENT = "Margery Fennimore-Cole"
KNOWN = "Þórdís"


class Measuring(Therapist):
    """The steps of a person with one hand free."""

    def tap(self, name: str) -> None:
        self.page.get_by_role("button", name=name).first.click()

    def fill(self, label: str, value: str) -> None:
        self.page.get_by_role("textbox", name=re.compile(f"^{label}")).fill(value)

    def value(self, label: str) -> str:
        return self.page.get_by_role("textbox", name=re.compile(f"^{label}")).input_value()

    def look(self, name: str) -> None:
        for scheme in ("light", "dark"):
            self.page.emulate_media(color_scheme=scheme)
            screenshot(self.page, f"measured-{name}-{scheme}", whole=True)
            self.page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
            assert_accessible(self.page, JUDGED)
        assert sideways(self.page) == "", name
        assert self.page.evaluate(TARGETS, SMALLEST_TARGET) == [], name

    def look_at_large_text(self, name: str) -> None:
        self.page.evaluate(TWICE_AS_LARGE)
        screenshot(self.page, f"measured-{name}-200")
        assert sideways(self.page) == "", name
        assert self.page.evaluate(FOOT_HEIGHT) <= 800 * FOOT_AT_MOST, name
        self.page.evaluate("document.documentElement.style.removeProperty('font-size')")


def seconds(clock: str) -> int:
    minutes, rest = clock.split(":")
    return int(minutes) * 60 + int(rest)


def posture(therapist: Measuring) -> None:
    page = therapist.page
    therapist.open_part("Postural blood pressure")
    therapist.choose("Lying", "Where it starts")
    expect(page.get_by_role("textbox")).to_have_count(0)
    therapist.tap("At rest now: start 5 minutes")
    left = page.locator(".clocked .left").first
    expect(left).to_have_text(re.compile(r"^(5:00|4:5\d)$"))
    therapist.fill("Systolic at rest", "130")
    therapist.look("posture-begun")
    expect(page.get_by_role("textbox", name=re.compile("^Systolic after"))).to_have_count(0)
    before = seconds(left.inner_text())
    wait_for_draft(page)
    page.reload()
    expect(left).to_have_text(re.compile(r"^4:\d\d$"))
    assert 0 < seconds(left.inner_text()) <= before
    assert therapist.value("Systolic at rest") == "130"
    therapist.fill("Diastolic at rest", "80")
    therapist.tap("Standing up now: start the clock")
    expect(page.get_by_role("button", name="At rest, 5 minutes")).to_contain_text("130 mmHg · 80 mmHg")
    for when, (high, low) in (("after 1 minute", ("105", "70")), ("after 3 minutes", ("110", "72"))):
        therapist.choose("Light-headed or dizzy", f"How the client feels {when}")
        therapist.fill(f"Systolic {when}", high)
        therapist.fill(f"Diastolic {when}", low)
        therapist.look(f"posture-standing-{when[-8]}")
        therapist.tap("Next")
    advice = page.locator(".at-once").get_by_role("alert")
    expect(advice).to_have_count(0)
    therapist.choose("Stopped early: felt unwell")
    expect(advice).to_contain_text("Sit or lie the client down.")
    therapist.choose("Both standing readings taken")
    expect(advice).to_have_count(0)
    therapist.save()
    found = therapist.finding("Falls on standing, with symptoms")
    expect(found).to_contain_text("Sit or lie the client down first.")
    expect(page.get_by_text("Stop and seek advice").first).to_be_visible()
    therapist.look("posture-judged")
    therapist.back_to_visit()


def up_and_go(therapist: Measuring) -> None:
    page = therapist.page
    therapist.open_part("Timed up and go")
    therapist.choose("None")
    therapist.tap("Time: say go, and tap")
    expect(page.locator(".pad .left")).to_be_visible()
    screenshot(page, "measured-stopwatch")
    page.wait_for_timeout(700)
    page.locator(".pad").click()
    assert re.fullmatch(r"\d+(\.\d)?", therapist.value("Time"))
    therapist.fill("Time", "13.5")
    therapist.choose("Finished")
    therapist.look("up-and-go")
    therapist.save()
    expect(therapist.finding("Slow")).to_contain_text("13.5 seconds is 12 or more")
    therapist.back_to_visit()
    expect(therapist.part("Timed up and go")).to_contain_text("13.5 s, aid: none")


def activity(therapist: Measuring) -> None:
    page = therapist.page
    therapist.open_part("Activity tolerance")
    therapist.choose("Stairs")
    therapist.tap("Next: Before, at rest")
    therapist.fill("Pulse before", "74")
    therapist.look("activity-before")
    therapist.tap("Start the task")
    therapist.look("activity-running")
    therapist.look_at_large_text("activity-running")
    therapist.tap("Stop now")
    expect(page.get_by_role("group", name="Why it was stopped")).to_be_visible()
    assert therapist.value("Stopped after").isdigit()
    wait_for_draft(page)
    therapist.back_to_visit()
    expect(therapist.part("Activity tolerance")).to_contain_text("Begun, not saved")
    therapist.open_part("Activity tolerance")
    therapist.choose("Chest pain", "Why it was stopped")
    advice = page.locator(".at-once").get_by_role("alert")
    expect(advice).to_contain_text("Sit or lie the client down and stay.")
    expect(advice).to_be_in_viewport()
    screenshot(page, "measured-activity-stopping")
    therapist.save()
    expect(therapist.finding("Stopped: call for help")).to_be_visible()
    therapist.look("activity-stopped")
    therapist.back_to_visit()


def test_standing_is_stopped_and_what_is_missing_is_found(page, own_server):
    therapist = Measuring(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.open_part("Postural blood pressure")
    therapist.tap("At rest now: start 5 minutes")
    therapist.tap("Standing up now: start the clock")
    therapist.tap("Stop now")
    expect(page.get_by_role("group", name="How it ended")).to_be_in_viewport()
    therapist.choose("Stopped early: felt unwell")
    expect(page.locator(".at-once").get_by_role("alert")).to_contain_text("Sit or lie the client down.")
    assert therapist.value("Stopped after standing for").isdigit()
    therapist.look("posture-stopping")
    therapist.save_button().click()
    page.get_by_role("link", name=re.compile("^Enter the systolic pressure at rest")).click()
    expect(page.get_by_role("textbox", name=re.compile("^Systolic at rest"))).to_be_focused()
    therapist.fill("Systolic at rest", "128")
    therapist.fill("Diastolic at rest", "76")
    page.get_by_role("button", name="How it is done").click()
    expect(page.get_by_role("heading", name="How it is done")).to_be_focused()
    therapist.choose("Lying", "Where it starts")
    page.get_by_role("button", name="How it ended").click()
    therapist.save()
    expect(therapist.finding("Stopped: felt unwell")).to_be_visible()


def test_counting_survives_a_reload_and_a_locked_screen(page, own_server):
    therapist = Measuring(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    for part, button, back_in in (
        ("Chair stand, 30 seconds", "Count for 30 seconds", page.reload),
        ("Pulse", "Count for 30 seconds", lambda: lock_and_unlock(page)),
    ):
        therapist.open_part(part)
        therapist.tap(button)
        for _ in range(3):
            page.locator(".pad").click()
        left = int(page.locator(".pad .left").inner_text())
        back_in()
        expect(page.locator(".tally")).to_have_text("3 counted")
        assert int(page.locator(".pad .left").inner_text()) <= left
        page.locator(".pad").click()
        expect(page.locator(".tally")).to_have_text("4 counted")
        therapist.back_to_visit()


def lock_and_unlock(page: Page) -> None:
    """Locked from another window; the test's phone enters the passphrase by itself."""
    other = page.context.new_page()
    other.goto(f"{page.url.partition('/app/')[0]}/app/phone")
    other.get_by_role("button", name="Lock now").click()
    # No locator: whoever looks for one is unlocked at once, and may see the pad again before it saw none.
    page.wait_for_function("() => !document.querySelector('.pad')")
    other.close()


def test_posture_function_and_activity_are_measured_without_signal(page, server, phone, watch):
    therapist = Measuring(page, server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    go_offline(phone, watch)
    therapist.look("visit")
    posture(therapist)
    up_and_go(therapist)
    activity(therapist)
    page.goto(f"{page.url}/conclusion")
    expect(page.get_by_role("heading", name="What this visit comes to")).to_be_visible()
    expect(page.locator(".verdict")).to_contain_text("Get urgent help")
    expect(page.get_by_text("Sit or lie the client down first.").first).to_be_visible()


def test_last_time_stands_beside_the_empty_field(page, server):
    therapist = Measuring(page, server.url).begin()
    therapist.open_client(KNOWN)
    therapist.start_visit()
    therapist.open_part("Timed up and go")
    expect(page.locator(".last").first).to_contain_text("Last time:")
    assert therapist.value("Time") == ""
    therapist.look("last-time")
    therapist.choose("None")
    therapist.fill("Time", "40")
    therapist.choose("Finished")
    therapist.save()
    expect(therapist.finding("Worse than last time")).to_contain_text("more than last time")
