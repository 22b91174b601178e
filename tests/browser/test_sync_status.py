"""The state of sync on every screen and the phone's own: its words, and that late is not colour alone."""

import re
from datetime import datetime, timedelta

from playwright.sync_api import Page, Route, expect

from tests.browser.support import go_offline, go_online, screenshot, sign_in
from tests.browser.test_trouble import refuse_pulses
from tests.browser.therapist import Therapist

CLIENT = "Adéla Kovářová-Shaw"


def status_line(page: Page):
    return page.locator("a.status")


def picture(page: Page, name: str) -> None:
    """The phone's own screen in a state, light and dark."""
    page.get_by_role("link", name="Phone", exact=True).click()
    expect(page.get_by_role("heading", name="This phone", exact=True)).to_be_visible()
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        screenshot(page, f"sync-{name}-{scheme}")
    page.emulate_media(color_scheme="light")


def look(page: Page, url: str, name: str) -> None:
    """Open the round anew at the present clock, then take the pictures."""
    page.goto(f"{url}/app/")
    screenshot(page, f"sync-{name}-today")
    picture(page, name)


def test_every_state_of_sync_is_said_in_plain_words(page, own_server, watch):
    """What waits says since when; a day later it is late: another colour, a mark, and what to do."""
    therapist = Therapist(page, own_server.url).begin()
    look(page, own_server.url, "quiet")
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.wait_for_sync()
    go_offline(page.context, watch)
    therapist.record_pulse("71")
    expect(status_line(page)).to_have_text("1 not sent yet")
    now = datetime.now()
    page.clock.set_system_time(now + timedelta(hours=5, minutes=10))
    look(page, own_server.url, "waiting")
    expect(status_line(page)).to_have_text("1 not sent yet, for 5 hours")
    expect(page.get_by_text("1 entry, since")).to_be_visible()
    expect(page.get_by_text("Signing out waits until 1 entry is sent.")).to_be_visible()
    expect(page.get_by_role("button", name="Sign out")).to_have_count(0)
    assert status_line(page).locator("svg").count() == 0

    page.clock.set_system_time(now + timedelta(hours=25))
    look(page, own_server.url, "late")
    expect(status_line(page)).to_have_text("1 not sent yet, for 1 day")
    expect(page.get_by_role("heading", name="Waiting for more than a day")).to_be_visible()
    assert status_line(page).locator("svg").count() == 1
    expect(status_line(page)).to_have_class(re.compile("late"))

    page.clock.set_system_time(now)
    page.route("**/api/v1/sync", refuse_pulses)
    go_online(page.context)
    page.get_by_role("button", name="Sync now").click()
    expect(status_line(page)).to_contain_text("1 needs attention")
    look(page, own_server.url, "held")
    page.unroute("**/api/v1/sync")
    page.context.clear_cookies()
    page.goto(f"{own_server.url}/app/phone")
    expect(status_line(page)).to_contain_text("sign in to sync")
    picture(page, "signed-out")


def test_a_first_fill_of_many_pages_shows_how_far_it_has_come(page, server):
    """Until the first sync has come to its end, no screen says that there is nobody to visit."""
    held: list[Route] = []

    def in_two_pages(route: Route) -> None:
        held.append(route)
        if len(held) > 1:
            return  # what follows the first page waits
        answer = route.fetch()
        reply = answer.json()
        reply["pull"] |= {"more": True, "after": reply["head"] * 47 // 100}
        route.fulfill(response=answer, json=reply)

    page.route("**/api/v1/sync", in_two_pages)
    sign_in(page, server.url)
    expect(page.get_by_text("Your caseload is on its way")).to_be_visible()
    expect(status_line(page)).to_have_text("Receiving the record, 40 %")
    expect(page.get_by_role("progressbar")).to_be_visible()
    expect(page.get_by_text("No visits planned")).to_have_count(0)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        screenshot(page, f"sync-filling-{scheme}")
    picture(page, "filling-phone")
    page.unroute("**/api/v1/sync")
    expect(status_line(page)).to_contain_text("All synced at")
    page.get_by_role("link", name="Caseload").click()
    expect(page.get_by_text("on its way")).to_have_count(0)
    expect(page.locator(".lines > li").first).to_be_visible()
