"""Emergency access from the caseload to the lead's list, and the office, on a phone in both colours."""

import re
from datetime import datetime

import pytest
from playwright.sync_api import Page, expect

from demo_home_visits.build import build
from demo_home_visits.people import PASSWORD
from tests.browser.accessibility import assert_accessible
from tests.browser.support import screenshot
from tests.browser.test_screens import JUDGED, sideways
from tests.browser.therapist import Therapist

THEIRS, THERAPIST, OTHER = "beatriz", "beatriz@larkmere.example", "oriane@larkmere.example"
LEAD, ADMINISTRATOR = "hester@larkmere.example", "imre@larkmere.example"


def client_of(key: str) -> dict:
    """Name and date of birth of a client that only this therapist has."""
    scenario = build(datetime.now().astimezone().date())
    person = next(each["id"] for each in scenario.people if each["key"] == key)
    others = {
        client for owner, clients in scenario.caseloads.items() if owner != person for client in clients
    }
    details = (entry for entry in scenario.entries if entry["kind"] == "details")
    return next(
        entry["body"]["set"]
        for entry in details
        if entry["client"] in set(scenario.caseloads[person]) - others
        and "birth_date" in entry["body"]["set"]
    )


def look(page: Page, name: str) -> None:
    screenshot(page, name, whole=True)
    assert_accessible(page, JUDGED)
    assert sideways(page) == ""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_record_is_opened_in_an_emergency_and_the_lead_is_shown_it(open_phone, own_server, watch, scheme):
    # 404 and 422 are answers here, and the browser notes each.
    watch.allow("Failed to load resource")
    client, url = client_of(THEIRS), own_server.url
    page = open_phone(color_scheme=scheme).new_page()
    Therapist(page, url).begin(OTHER)
    page.goto(f"{url}/app/caseload")
    page.get_by_role("searchbox").fill(client["name"])
    look(page, f"emergency-nobody-{scheme}")
    page.get_by_role("link", name="open the record of one client").click()
    page.get_by_role("button", name="Open the record").click()
    expect(page.get_by_role("alert")).to_be_visible()
    page.get_by_label("Name of the client").fill(client["name"].split()[-1].upper())
    year, month, day = client["birth_date"].split("-")
    for label, value in (("Day", day), ("Month", month), ("Year", str(int(year) - 1))):
        page.get_by_label(label, exact=True).fill(value.lstrip("0"))
    page.get_by_label("Why you need it now").fill("Fell at home; Beatriz is on leave today.")
    page.get_by_role("button", name="Open the record").click()
    expect(page.get_by_role("alert")).to_contain_text("No one client fits")
    look(page, f"emergency-form-{scheme}")
    page.get_by_label("Year", exact=True).fill(year)
    page.get_by_role("button", name="Open the record").click()
    expect(page.get_by_role("heading", name="The record is open")).to_be_visible()
    look(page, f"emergency-open-{scheme}")
    page.get_by_role("link", name="Go to the client").click()
    expect(page.get_by_role("heading", name="Before you knock")).to_be_visible()

    lead = open_phone(color_scheme=scheme).new_page()
    Therapist(lead, url).begin(LEAD)
    lead.goto(f"{url}/app/caseload")
    lead.get_by_role("link", name="Emergency access in the last 30 days").click()
    line = lead.get_by_role("listitem").filter(has_text="Oriane Tetteh")
    expect(line).to_contain_text(client["name"])
    expect(line).to_contain_text("Beatriz is on leave today")
    look(lead, f"emergency-review-{scheme}")
    line.get_by_role("button", name=re.compile("Mark as seen")).click()
    expect(line).to_contain_text("You looked at this")
    lead.goto(f"{own_server.url}/app/caseload")
    lead.get_by_role("link", name=re.compile("Adéla")).first.click()
    expect(lead.get_by_text("You read this record as the lead")).to_be_visible()
    expect(lead.get_by_role("button", name="Start the visit")).to_have_count(0)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_office_is_plain_and_works_without_scripts(open_phone, own_server, watch, scheme):
    watch.allow("status of 422")
    page = open_phone(color_scheme=scheme, java_script_enabled=False).new_page()
    url = own_server.url
    page.goto(f"{url}/sign-in")
    page.get_by_label("Sign-in name").fill(ADMINISTRATOR)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_role("heading", name="People", exact=True)).to_be_visible()
    screenshot(page, f"office-people-{scheme}", whole=True)
    page.get_by_label("Name", exact=True).fill("Noor Abelard")
    page.get_by_label("Sign-in name").fill(OTHER.upper())
    page.get_by_role("button", name="Make the account").click()
    expect(page.get_by_role("alert")).to_contain_text("Choose another")
    expect(page.get_by_label("Name", exact=True)).to_have_value("Noor Abelard")
    page.get_by_label("Sign-in name").fill("noor@larkmere.example")
    page.get_by_role("button", name="Make the account").click()
    expect(page.locator(".passphrase")).to_have_text(re.compile(r"^\s*\w{4}(-\w{4}){3}\s*$"))
    screenshot(page, f"office-made-{scheme}", whole=True)
    page.get_by_role("link", name="Teams").click()
    page.get_by_text("Oriane Tetteh:").click()
    screenshot(page, f"office-teams-{scheme}", whole=True)
    page.get_by_label("Name of the team").fill("Seaside team")
    page.get_by_role("button", name="Make the team").click()
    expect(page.get_by_role("status")).to_contain_text("The team is made")
    page.get_by_role("link", name="Devices").click()
    screenshot(page, f"office-devices-{scheme}", whole=True)


def test_the_office_pages_are_accessible(open_phone, own_server):
    page = open_phone().new_page()
    sign_in_to_office(page, own_server.url)
    for name in ("people", "teams", "devices"):
        page.goto(f"{own_server.url}/office/{name}")
        assert_accessible(page, JUDGED)
        assert sideways(page) == ""


def sign_in_to_office(page: Page, url: str) -> None:
    page.goto(f"{url}/sign-in")
    page.get_by_label("Sign-in name").fill(ADMINISTRATOR)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(f"{url}/office/people")
