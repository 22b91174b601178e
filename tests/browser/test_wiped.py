"""All that a phone stored is cleared, with entries it had not sent: fault 31."""

import gzip
import json

from playwright.sync_api import Page, Route, expect

from tests.browser.support import screenshot, sign_in
from tests.browser.therapist import Therapist

CLIENT = "Adéla Kovářová-Shaw"


def keep_pulses_back(route: Route) -> None:
    """Let the server hear of a device's last number, but not of the pulses it is about."""
    body = route.request.post_data_buffer or b""
    packed = route.request.headers.get("content-encoding") == "gzip"
    message = json.loads(gzip.decompress(body) if packed else body)
    message["push"] = [entry for entry in message["push"] if entry["kind"] != "pulse"]
    headers = {name: value for name, value in route.request.headers.items() if name != "content-encoding"}
    route.fulfill(response=route.fetch(post_data=json.dumps(message), headers=headers))


def record_what_does_not_arrive(page: Page, url: str) -> Therapist:
    """A visit of which one pulse stays on this phone, while all else is sent."""
    therapist = Therapist(page, url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.wait_for_sync()
    with page.expect_request_finished(lambda request: request.url.endswith("/api/v1/sync")):
        page.route("**/api/v1/sync", keep_pulses_back)
        therapist.record_pulse("71")
    expect(page.locator("a.status")).to_contain_text("1 not sent yet")
    return therapist


def test_a_cleared_phone_says_so_refills_and_names_what_was_not_sent(page, own_server):
    """Fault 31: the phone cannot know what it lost, so the server says which device never sent what."""
    therapist = record_what_does_not_arrive(page, own_server.url)
    page.goto("about:blank")
    page.unroute("**/api/v1/sync")
    session = page.context.new_cdp_session(page)
    session.send("Storage.clearDataForOrigin", {"origin": own_server.url, "storageTypes": "all"})
    page.context.clear_cookies()

    page.goto(f"{own_server.url}/app/")
    expect(page.get_by_text("Nothing is stored on this phone")).to_be_visible()
    screenshot(page, "cleared-start")
    sign_in(page, own_server.url)
    note = page.locator("section", has=page.get_by_role("heading", name="Not everything has arrived"))
    expect(note).to_contain_text("1 entry recorded on another phone of yours")
    expect(note).to_contain_text("is not on the server")
    therapist.wait_for_sync()
    screenshot(page, "cleared-today", whole=True)
    page.get_by_role("button", name="I have seen to it").click()
    expect(note).to_have_count(0)
    page.reload()
    therapist.wait_for_sync()
    expect(note).to_have_count(0)
    page.goto(f"{own_server.url}/app/phone")
    expect(note).to_be_visible()
    therapist.open_client(CLIENT)
