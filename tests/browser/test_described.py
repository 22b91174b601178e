"""What is described at a visit, without signal: daily life, goals, home, plan; what half-done keeps."""

import re

from playwright.sync_api import Page, expect

from tests.browser.accessibility import assert_accessible
from tests.browser.support import go_offline, screenshot, wait_for_draft
from tests.browser.test_screens import JUDGED, KEPT_BY_THE_BROWSER, SMALLEST_TARGET, TARGETS, sideways
from tests.browser.therapist import Therapist

CLIENT = "Margery Fennimore-Cole"
LEVELS = {
    "As expected": "Gets down the back step with the rail, alone, every day",
    "Better than expected": "Gets down the back step without the rail",
    "Much better": "Walks round the garden alone",
    "Less than expected": "Gets down with one person holding her arm",
    "Much less": "Does not go out",
}


class Describing(Therapist):
    """The steps of a person who writes down what cannot be measured."""

    def open_section(self, name: str) -> None:
        self.page.get_by_role("link", name=re.compile(f"^{name}")).first.click()
        expect(self.page.get_by_role("heading", name=name, exact=True)).to_be_visible()

    def write(self, label: str, text: str) -> None:
        self.page.get_by_label(re.compile(f"^{re.escape(label)}")).first.fill(text)

    def pick(self, label: str, option: str) -> None:
        box = self.page.get_by_label(re.compile(f"^{label}"))
        box.select_option(label=box.locator("option", has_text=option).first.text_content())

    def tap(self, name: str) -> None:
        self.page.get_by_role("button", name=name).click()

    def keep(self, back_on: str) -> None:
        self.tap("Save")
        expect(self.page.get_by_role("heading", name=back_on, exact=True)).to_be_visible()

    def look(self, name: str) -> None:
        """Keep what the phone shows in both schemes; nothing sticks out of its width."""
        for scheme in ("light", "dark"):
            self.page.emulate_media(color_scheme=scheme)
            screenshot(self.page, f"described-{name}-{scheme}", whole=True)
            # At its end the page lies wholly above the bar, which else covers a part of what it asks for.
            self.page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
            assert_accessible(self.page, JUDGED)
        assert sideways(self.page) == "", name
        assert self.page.evaluate(TARGETS, SMALLEST_TARGET) == [], name
        assert self.page.evaluate(KEPT_BY_THE_BROWSER) == [], name


def daily_life(therapist: Describing) -> None:
    therapist.open_section("Daily life")
    therapist.tap("Add an activity")
    therapist.tap("Save")
    expect(therapist.page.get_by_text("Fill in: What, in the client's own words.")).to_be_visible()
    therapist.look("activity-errors")
    therapist.write("What, in the client's own words", "Getting down the back step to the hens")
    therapist.pick("Kind of activity", "Stairs and steps")
    therapist.choose("One of the things that matter most")
    therapist.write("Why it matters", "They were her husband's")
    therapist.keep("Daily life")
    therapist.tap("How it goes: Getting down")
    therapist.choose("Severe")
    therapist.choose("Hands-on help")
    therapist.choose("I saw it being done")
    therapist.look("rating")
    therapist.keep("Daily life")
    expect(therapist.page.get_by_text("Difficulty: severe")).to_be_visible()
    therapist.look("daily-life")
    therapist.back_to_visit()


def goals(therapist: Describing) -> None:
    therapist.open_section("Goals")
    therapist.tap("Add a goal")
    therapist.write("The goal in a few words", "Back to the hens")
    therapist.write("As expected", LEVELS["As expected"])
    therapist.keep("Goals")
    expect(therapist.page.get_by_text("Not every level is described")).to_be_visible()
    therapist.look("goal-unfinished")
    therapist.page.get_by_role("link", name=re.compile("^Back to the hens")).click()
    for label, words in LEVELS.items():
        therapist.write(label, words)
    therapist.choose("Less than expected", within="Where does the client stand")
    therapist.choose("3: very", within="How important")
    therapist.choose("1: a little", within="How difficult")
    therapist.look("goal")
    therapist.keep("Goals")
    therapist.tap("Review: Back to the hens")
    therapist.choose("As expected")
    therapist.choose("The client said so")
    therapist.look("goal-review")
    therapist.keep("Goals")
    # One goal, as expected: T 50; it began one level below: T 40 (Kiresuk and Sherman).
    expect(therapist.page.locator(".figure")).to_have_text("T 50")
    expect(therapist.page.get_by_text("40 at the start")).to_be_visible()
    therapist.look("goals")
    therapist.back_to_visit()


def home(therapist: Describing) -> None:
    therapist.open_section("Home")
    therapist.tap("Add a room or way in")
    therapist.write("What is it called here?", "Back door")
    therapist.choose("Way in")
    therapist.write("Clear width of the doorway", "31.9")
    therapist.write("Whole rise from below to above", "24")
    for unit in therapist.page.locator("label.unit-option", has_text="in").all():
        unit.click()
    therapist.look("place")
    therapist.keep("Home")
    expect(therapist.page.get_by_text("Narrow for a wheelchair")).to_be_visible()
    therapist.page.get_by_text("A ramp for 24 in").click()
    # 2010 ADA Standards 405: 1 in 12, so 24 in need 288.
    expect(therapist.page.get_by_text("288 in")).to_be_visible()
    therapist.tap("Add a hazard")
    therapist.write("What could do harm?", "Loose mat at the back door")
    therapist.pick("Where?", "Back door")
    therapist.write("What you advised", "Take it up")
    therapist.keep("Home")
    therapist.tap("Add a loan")
    therapist.write("What is on loan?", "Half step with rail")
    therapist.write("Lent on", "2026-11-25")
    therapist.keep("Home")
    therapist.look("home")
    therapist.page.get_by_role("link", name=re.compile("^Half step")).click()
    therapist.page.get_by_text("End this").click()
    therapist.choose("Returned")
    therapist.tap("End it today")
    expect(therapist.page.get_by_text("Nothing on loan.")).to_be_visible()
    therapist.back_to_visit()


def plan(therapist: Describing) -> None:
    therapist.open_section("Plan")
    therapist.tap("Add a problem")
    therapist.write("The problem in a sentence", "Cannot get to the hens alone")
    therapist.keep("Plan")
    therapist.tap("Add what is done")
    therapist.write("What is done", "Practise the step with the rail")
    therapist.pick("For which problem?", "Cannot get to the hens")
    therapist.write("How often, for how long", "Daily for two weeks")
    therapist.write("Who does it", "Margery, her daughter watches")
    therapist.keep("Plan")
    therapist.tap("Set the day")
    therapist.write("Reassess on", "2099-01-04")
    therapist.write("Why then?", "The rail is in by then")
    therapist.keep("Plan")
    standing(therapist)
    therapist.look("plan")
    therapist.back_to_visit()


def standing(therapist: Describing) -> None:
    """A precaution and a target, set and ended from the plan."""
    therapist.tap("Add a precaution")
    therapist.choose("Risk of falling")
    therapist.keep("Plan")
    therapist.tap("Set a target")
    therapist.pick("For which value", "Systolic")
    therapist.write("Not above", "150")
    therapist.tap("Save")
    expect(therapist.page.get_by_text("Say who set it")).to_be_visible()
    therapist.write("Who set it", "Dr Rowley (invented)")
    therapist.look("target")
    therapist.keep("Plan")
    expect(therapist.page.get_by_text("150 mmHg or less")).to_be_visible()
    therapist.page.get_by_role("link", name=re.compile("^Risk of falling")).click()
    therapist.write("Why does it end?", "Walks safely with the frame")
    therapist.tap("End it today")
    expect(therapist.page.get_by_text("None holds now. That is not the same as none.")).to_be_visible()
    therapist.page.get_by_text("Ended: precautions").click()
    expect(therapist.page.get_by_text("Walks safely with the frame")).to_be_visible()
    expect(therapist.page.get_by_text(re.compile("^Until "))).to_be_visible()
    therapist.look("ended-precaution")


def test_a_visit_is_described_without_signal_and_read_at_the_client(phone, own_server, watch):
    therapist = Describing(phone.new_page(), own_server.url).begin()
    go_offline(phone, watch)
    therapist.page.reload()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    for part in (daily_life, goals, home, plan):
        part(therapist)
    therapist.look("visit")
    therapist.page.get_by_role("link", name="Client").first.click()
    therapist.open_section("Daily life")
    expect(therapist.page.get_by_text("Difficulty: severe")).to_be_visible()
    expect(therapist.page.get_by_role("button", name="Add an activity")).to_have_count(0)


def test_what_is_typed_survives_a_reload_and_a_half_done_goal_is_still_there(page: Page, server):
    therapist = Describing(page, server.url).begin()
    therapist.open_client("Maryam")
    therapist.start_visit()
    therapist.open_section("Goals")
    therapist.tap("Add a goal")
    therapist.write("The goal in a few words", "Buttons by herself")
    wait_for_draft(page)
    page.reload()
    expect(page.get_by_label(re.compile("^The goal in a few words"))).to_have_value("Buttons by herself")
    page.get_by_role("link", name="Goals").first.click()
    expect(page.get_by_role("heading", name="Begun, not saved")).to_be_visible()


def test_at_the_client_months_of_it_are_read_and_a_disputed_target_is_settled(page: Page, own_server):
    therapist = Describing(page, own_server.url).begin()
    therapist.open_client("Þórdís")
    for name in ("Daily life", "Goals", "Home", "Plan"):
        therapist.open_section(name)
        therapist.look(f"read-{name.lower().replace(' ', '-')}")
        page.get_by_role("link", name="Client").first.click()
    therapist.open_section("Goals")
    expect(page.get_by_text("Not every level is described")).to_be_visible()

    therapist.open_client("Adéla")
    therapist.open_section("Plan")
    expect(page.get_by_text("Two records differ on the target for systolic")).to_be_visible()
    therapist.look("differ")
    page.get_by_role("button", name="This is right").first.click()
    expect(page.get_by_text("Two records differ")).to_have_count(0)
    expect(page.get_by_role("link", name=re.compile("^Systolic"))).to_have_count(1)


def test_the_last_step_reads_the_visit_back_and_says_who_signs(page: Page, own_server):
    therapist = Describing(page, own_server.url).begin()
    therapist.open_client("Þórdís")
    therapist.start_visit()
    therapist.record_pulse("71")
    therapist.back_to_visit()
    therapist.open_section("Daily life")
    page.get_by_role("link", name=re.compile("^Getting her socks on")).click()
    expect(page.get_by_role("heading", name="Last time")).to_be_visible()
    therapist.choose("None")
    therapist.choose("The client said so")
    therapist.look("rating-again")
    therapist.keep("Daily life")
    expect(page.get_by_text("Last time: mild · better")).to_be_visible()
    therapist.back_to_visit()
    therapist.tap("Conclude without the rest")
    page.get_by_role("button", name=re.compile("^Accept")).click()
    expect(page.get_by_text("No reason given").first).to_be_visible()
    expect(page.get_by_text("Oriane Tetteh signs")).to_be_visible()
    therapist.look("finish")
    therapist.tap("Sign and finish")
    page.wait_for_url(re.compile("/app/$"))
    therapist.open_client("Þórdís")
    page.get_by_role("heading", name="Visits", exact=True).locator("..").get_by_role("link").first.click()
    expect(page.get_by_text("Signed by Oriane Tetteh")).to_be_visible()
