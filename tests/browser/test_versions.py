"""A newer server, and what a newer app recorded: faults 35, 36, 53 and 56."""

import re
from functools import partial

from playwright.sync_api import Route, expect

from tests.browser.support import screenshot
from tests.browser.therapist import Therapist

CLIENT = "Adéla Kovářová-Shaw"


def asks_for_an_update(route: Route) -> None:
    message = "This app is too old for this server. Update it; nothing recorded is lost."
    error = {"error": {"code": "protocol", "field": None, "message": message}}
    route.fulfill(status=426, json=error)


def speaks_another_protocol(route: Route) -> None:
    route.fulfill(status=200, json={"protocol": 2, "said": "otherwise"})


def test_a_server_too_new_has_the_app_say_so_while_recording_goes_on(page, own_server, watch):
    """Fault 35: a plain sentence, no failure; what is recorded waits and is sent when it can be again."""
    watch.allow("status of 426")
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.wait_for_sync()
    page.route("**/api/v1/sync", asks_for_an_update)
    therapist.record_pulse("71")
    expect(page.locator("a.status")).to_contain_text("update the app to sync")
    page.unroute("**/api/v1/sync")
    page.route("**/api/v1/sync", speaks_another_protocol)
    therapist.back_to_visit()
    therapist.record_temperature("36.6")
    page.locator("a.status").click()
    page.get_by_role("button", name="Sync now").click()
    expect(page.get_by_text("needs its new version to send and receive")).to_be_visible()
    expect(page.locator("a.status")).to_contain_text("2 not sent yet")
    page.unroute("**/api/v1/sync")
    page.get_by_role("button", name="Sync now").click()
    therapist.wait_for_sync()


def with_newer_entries(clients: list[str], route: Route) -> None:
    """Answer as a newer server would that has entries this app does not know; whose they are."""
    answer = route.fetch()
    reply = answer.json()
    whole = [entry for entry in reply["pull"]["entries"] if entry.get("kind") == "pulse"]
    for entry, changed in zip(whole, ({"kind": "of_tomorrow"}, {"schema": 99}), strict=False):
        entry |= changed | {"body": {"shape": ["nobody", "knows"]}}
        clients.append(entry["client"])
    route.fulfill(response=answer, json=reply)


def test_what_a_newer_version_recorded_is_named_kept_and_never_misread(page, server):
    """Faults 36, 53 and 56: the client's screen says what it cannot show; none of it is judged or dropped."""
    clients: list[str] = []
    page.route("**/api/v1/sync", partial(with_newer_entries, clients))
    Therapist(page, server.url).begin()
    page.goto(f"{server.url}/app/client/{clients[0]}")
    section = page.locator("section", has=page.get_by_role("heading", name="Recorded by a newer version"))
    expect(section).to_contain_text("Nothing is lost")
    screenshot(page, "newer-version-client")
    section.get_by_text("When were they recorded?").click()
    section.get_by_role("link").first.click()
    expect(page.get_by_role("heading", name="Recorded by a newer version")).to_be_visible()
    expect(page.get_by_text("It is kept whole")).to_be_visible()
    expect(page.get_by_role("link", name=re.compile("Correct"))).to_have_count(0)
    screenshot(page, "newer-version-entry")
