"""What is due, offline: the round, the list by week, the client, what is done about it; a lead's list."""

import re
from datetime import date, datetime, timedelta

from playwright.sync_api import expect

from tests.browser.support import go_offline, go_online
from tests.browser.test_described import Describing
from tests.browser.test_emergency import LEAD
from tests.browser.test_more_screens import look_in_the_app

OPEN, OVERDUE, SEEN_TODAY = "Þórdís", "Reginald Thornquist", "مريم الزيتوني"
BADGE = """
  window.badges = [];
  navigator.setAppBadge = async (number) => { window.badges.push(number); };
  navigator.clearAppBadge = async () => { window.badges.push('clear'); };
"""
TODAY = datetime.now().date()


def said(day: date) -> str:
    """A day as the screens say it: Tue 3 Mar, or Tue, 3 Mar 2027 in another year."""
    words = f"{day.day} {day:%b}".replace("Sep", "Sept")
    return f"{day:%a} {words}" if day.year == TODAY.year else f"{day:%a}, {words} {day.year}"


class Due(Describing):
    """The steps of a person who looks after what is due."""

    def open_list(self) -> None:
        self.page.get_by_role("navigation", name="Places").get_by_role("link", name="Due").click()
        expect(self.page.get_by_role("heading", name="Due", exact=True)).to_be_visible()

    def open_reassessment(self, name: str) -> None:
        self.open_client(name)
        self.open_section("Reassessment")

    def line(self, name: str):
        return self.page.get_by_role("listitem").filter(has_text=name).first

    def act(self, name: str) -> None:
        self.page.get_by_role("link", name=re.compile(f"^{name}")).first.click()
        expect(self.page.locator(".who")).to_be_visible()
        expect(self.page.locator("form").first).to_be_visible()

    def history(self):
        heading = self.page.get_by_role("heading", name="What was done before")
        return heading.locator("..").get_by_role("listitem")


def test_the_round_the_list_and_the_client_say_what_is_due(phone, own_server, watch):
    therapist = Due(phone.new_page(), own_server.url).begin()
    page = therapist.page
    go_offline(phone, watch)
    page.reload()
    expect(therapist.line(OPEN)).to_contain_text("Reassessment: can be done now, by")
    look_in_the_app(page, "due-round")
    therapist.open_list()
    expect(page.get_by_role("main").get_by_role("heading", level=2).first).to_have_text("Overdue")
    look_in_the_app(page, "due-list")
    page.get_by_role("link", name=re.compile(f"^{OVERDUE}")).first.click()
    expect(page.get_by_text(re.compile("^Overdue: was due by")).first).to_be_visible()
    page.get_by_text("Legal limit: where it comes from").click()
    expect(page.get_by_text("409.44").first).to_be_visible()
    look_in_the_app(page, "due-client")


def put_off(therapist: Due) -> None:
    page, until = therapist.page, TODAY + timedelta(days=8)
    page.get_by_role("link", name="Put off: The day written in the plan").click()
    expect(page.get_by_role("heading", name="Put off")).to_be_visible()
    therapist.write("Put off to", (TODAY + timedelta(days=1)).isoformat())
    therapist.tap("Save")
    expect(page.get_by_text("Fill in: Why?")).to_be_visible()
    therapist.write("Why?", "Her daughter wants to be there")
    therapist.tap("Save")
    expect(page.get_by_text("Choose a later day")).to_be_visible()
    look_in_the_app(page, "due-put-off")
    therapist.write("Put off to", until.isoformat())
    therapist.keep("Reassessment")
    expect(page.get_by_text("Her daughter wants to be there.").first).to_be_visible()
    expect(page.get_by_text(f"By {said(until)}").first).to_be_visible()
    expect(therapist.history().first).to_contain_text("Reassessment put off")
    expect(therapist.history().first).to_contain_text("What is put off: The day written in the plan")


def own_rule(therapist: Due) -> None:
    page = therapist.page
    therapist.tap("Add an own rule")
    expect(page.get_by_text("the dates stand here before you save")).to_be_visible()
    therapist.write("The rule in a few words", "New splint")
    therapist.choose("At least every so many days")
    therapist.write("How many days?", "28")
    therapist.write("Why this rule?", "Skin under the splint")
    dates = page.locator(".preview li")
    expect(dates).to_have_count(4)
    first = dates.first.locator(".lead").text_content()
    look_in_the_app(page, "due-own-rule")
    therapist.keep("Reassessment")
    expect(page.get_by_role("heading", name="New splint")).to_be_visible()
    # What the preview said is what the rule gives.
    expect(page.get_by_role("heading", name="New splint").locator("..")).to_contain_text(first)


def away_and_back(therapist: Due) -> None:
    page = therapist.page
    therapist.act("Pause")
    therapist.write("Away from", (TODAY - timedelta(days=3)).isoformat())
    therapist.choose("In hospital")
    therapist.keep("Reassessment")
    expect(page.get_by_role("heading", name=f"Away since {said(TODAY - timedelta(days=3))}")).to_be_visible()
    look_in_the_app(page, "due-away")
    therapist.act("Back, or change the pause")
    therapist.write("From which day?", (TODAY - timedelta(days=4)).isoformat())
    therapist.tap("Back, visits go on")
    expect(page.get_by_text("when it began. Choose a later day.", exact=False)).to_be_visible()
    therapist.write("From which day?", (TODAY - timedelta(days=1)).isoformat())
    look_in_the_app(page, "due-back")
    therapist.tap("Back, visits go on")
    # 42 CFR 484.55(d)(2): within 48 hours of the return home; the day is counted here by hand.
    back = page.get_by_role("heading", name=re.compile("^Assessment after coming home")).locator("..")
    expect(back).to_contain_text(re.compile("Due|Overdue|Can be done"))


def period(therapist: Due) -> None:
    therapist.act("Period of care")
    therapist.write("Start of care", (TODAY - timedelta(days=10)).isoformat())
    therapist.keep("Reassessment")
    therapist.act("Period of care")
    therapist.write("The plan or the permission ends on", (TODAY + timedelta(days=40)).isoformat())
    therapist.keep("Reassessment")
    expect(therapist.page.get_by_text(f"ends {said(TODAY + timedelta(days=40))}")).to_be_visible()


def rules_for_the_client(therapist: Due) -> None:
    therapist.act("The service’s rules for this client")
    left_out = therapist.page.get_by_role("group", name=re.compile("^Do not hold"))
    left_out.get_by_text("Reassessment of function, US home health").click()
    therapist.write("Why?", "Paid for privately")
    look_in_the_app(therapist.page, "due-rules")
    therapist.keep("Reassessment")
    headings = therapist.page.get_by_role("heading", name=re.compile("^Reassessment of function"))
    expect(headings).to_have_count(0)


def test_what_is_done_about_it_is_saved_without_signal_and_reaches_the_server(phone, own_server, watch):
    therapist = Due(phone.new_page(), own_server.url).begin()
    page = therapist.page
    go_offline(phone, watch)
    therapist.open_reassessment(OPEN)
    for step in (put_off, own_rule, away_and_back, period, rules_for_the_client):
        step(therapist)
    therapist.tap("Record what was reassessed")
    therapist.choose("Function reassessed, at a visit")
    therapist.keep("Reassessment")
    expect(therapist.history().first).to_contain_text("Reassessment done")
    therapist.act("Discharge")
    therapist.write("Last day of care", TODAY.isoformat())
    therapist.choose("Goals reached")
    therapist.keep("Reassessment")
    expect(page.get_by_role("heading", name=f"Discharged {said(TODAY)}")).to_be_visible()
    look_in_the_app(page, "due-discharged")
    go_online(phone)
    therapist.page.get_by_role("link", name="Client").first.click()
    therapist.page.get_by_role("link", name="Today").first.click()
    therapist.wait_for_sync()
    kinds = [entry["kind"] for entry in own_server.log_entries()][-9:]
    assert kinds == [
        "postponement", "reassessment_rule", "pause", "pause", "care_period", "care_period", "client_rules",
        "reassessed", "discharge",
    ]  # fmt: skip


def test_a_reassessment_is_put_into_a_round(phone, own_server, watch):
    therapist = Due(phone.new_page(), own_server.url).begin()
    page, day = therapist.page, TODAY + timedelta(days=5)
    go_offline(phone, watch)
    therapist.open_reassessment(OVERDUE)
    page.get_by_role("link", name="Put a reassessment into a round").click()
    expect(page.get_by_role("heading", name="At a visit that is planned")).to_be_visible()
    look_in_the_app(page, "due-place")
    therapist.tap("Do it at this visit")
    page.get_by_role("link", name="Put a reassessment into a round").click()
    expect(page.get_by_text("It says that a reassessment is due.")).to_be_visible()
    therapist.write("Minutes", "3")
    therapist.tap("Plan this visit")
    expect(page.get_by_role("alert")).to_contain_text("from 5 to 600")
    therapist.write("Minutes", "60")
    therapist.write("Day", day.isoformat())
    expect(page.get_by_text("No visits of yours are planned on that day.")).to_be_visible()
    therapist.write("Time", "15:30")
    therapist.tap("Plan this visit")
    expect(page.get_by_role("heading", name="Reassessment", exact=True)).to_be_visible()
    go_online(phone)
    page.get_by_role("link", name="Client").first.click()
    page.get_by_role("link", name="Today").first.click()
    therapist.wait_for_sync()
    amended, made = own_server.log_entries()[-2:]
    assert [amended["kind"], made["kind"]] == ["visit_planned", "visit_planned"]
    assert amended["amends"] and "To be done: " in amended["body"]["purpose"]
    assert made["amends"] is None and made["body"] | {"purpose": "", "therapist": ""} == {
        "date": day.isoformat(), "time": "15:30", "minutes": 60, "purpose": "", "therapist": "",
    }  # fmt: skip


def test_whom_no_visit_is_planned_for_can_be_put_into_a_round_from_the_list(phone, own_server):
    therapist = Due(phone.new_page(), own_server.url).begin()
    page = therapist.page
    therapist.open_client(SEEN_TODAY)
    therapist.start_visit()
    expect(page.get_by_role("link", name=re.compile("^Reassessment: overdue"))).to_be_visible()
    page.get_by_role("link", name="Client").first.click()
    page.get_by_role("link", name="Today").first.click()
    therapist.open_list()
    look_in_the_app(page, "due-list-unplanned")
    page.get_by_role("link", name=f"Put into a round: {SEEN_TODAY}").click()
    expect(page.get_by_role("heading", name="At a new visit")).to_be_visible()
    expect(page.get_by_label("What for")).to_have_value(re.compile("^To be done: "))


def test_the_number_on_the_icon_is_what_is_due_and_overdue(phone, own_server, watch):
    phone.add_init_script(BADGE)
    therapist = Due(phone.new_page(), own_server.url).begin()
    page = therapist.page
    therapist.open_list()
    told = page.get_by_role("status").filter(has_text="overdue").text_content()
    wanted = sum(int(number) for number in re.findall(r"(\d+) (?:overdue|due)", told))
    page.wait_for_function("(wanted) => window.badges.at(-1) === wanted", arg=wanted)
    therapist.open_reassessment(OVERDUE)
    page.get_by_role("button", name="Record what was reassessed").click()
    therapist.choose("Function reassessed, at a visit")
    therapist.keep("Reassessment")
    page.wait_for_function("(wanted) => window.badges.at(-1) === wanted", arg=wanted - 1)


def test_a_lead_sees_the_teams_clients_and_who_was_there_last(phone, own_server):
    therapist = Due(phone.new_page(), own_server.url).begin(LEAD)
    page = therapist.page
    therapist.open_list()
    expect(page.get_by_text("Your own clients and those of your teams.")).to_be_visible()
    expect(therapist.line(OVERDUE)).to_contain_text("Last visit by Oriane Tetteh")
    expect(page.get_by_role("link", name=re.compile("^Put into a round"))).to_have_count(0)
    look_in_the_app(page, "due-list-lead")
    page.get_by_role("link", name=re.compile(f"^{OVERDUE}")).first.click()
    expect(page.get_by_text(re.compile("^Overdue: was due by")).first).to_be_visible()
    expect(page.get_by_role("button")).to_have_count(0)
    look_in_the_app(page, "due-client-lead")
