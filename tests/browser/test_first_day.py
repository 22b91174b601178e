"""The first morning with the demo: sign in, see the round, lose the network and the server, still see it."""

import json

import pytest
from playwright.sync_api import expect

from demo_home_visits import people
from tests.browser.accessibility import assert_accessible
from tests.browser.support import screenshot, sign_in, wait_for_service_worker

CLIENTS = json.loads((people.SCENARIO / "clients.json").read_text(encoding="utf-8"))["clients"]
THERAPISTS = [person for person in people.TEAM["people"] if person["role"] == "therapist"]
EVERYTHING_CACHED = """async () => {
  const found = [];
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      found.push([request.url, await (await cache.match(request)).text()]);
    }
  }
  return found;
}"""


def names_today(key):
    return [
        each["preferred_name"] for each in CLIENTS if each["therapist"] == key and each["visits"]["today"]
    ]


def wait_for_round(page, key):
    for name in names_today(key):
        expect(page.get_by_text(name, exact=True).first).to_be_visible()


@pytest.mark.parametrize("therapist", THERAPISTS, ids=lambda person: person["key"])
def test_each_therapist_sees_their_own_round_and_no_other(page, server, therapist):
    sign_in(page, server.url, therapist["sign_in"])
    wait_for_round(page, therapist["key"])
    seen = page.locator("main").inner_text()
    others = [name for each in THERAPISTS if each is not therapist for name in names_today(each["key"])]
    assert [name for name in others if name in seen] == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_round_is_accessible(open_phone, server, scheme):
    page = open_phone(color_scheme=scheme).new_page()
    sign_in(page, server.url)
    wait_for_round(page, "oriane")
    expect(page.get_by_text("synced at").first).to_be_visible()
    screenshot(page, f"today-{scheme}")
    # As tall as the round is: a line half under the bar at the bottom counts as too small.
    page.set_viewport_size({"width": 360, "height": 2000})
    assert_accessible(page)


def test_the_round_is_there_when_the_server_is_gone_and_the_phone_was_restarted(
    open_profile, own_server, watch
):
    profile = open_profile()
    page = profile.open().new_page()
    sign_in(page, own_server.url)
    wait_for_round(page, "oriane")
    expect(page.get_by_text("synced at").first).to_be_visible()
    wait_for_service_worker(page)
    watch.allow_network_errors()
    own_server.kill()
    # Closed in order: Chromium writes its cookies behind, and this test ends by syncing as the same person.
    profile.close()
    again = profile.open().new_page()
    again.goto(f"{own_server.url}/app/")
    wait_for_round(again, "oriane")
    own_server.start()
    again.reload()
    expect(again.get_by_text("synced at").first).to_be_visible()


def test_what_the_service_worker_keeps_names_nobody(page, server):
    sign_in(page, server.url)
    wait_for_round(page, "oriane")
    wait_for_service_worker(page)
    kept = page.evaluate(EVERYTHING_CACHED)
    assert len(kept) > 5
    assert [url for url, _ in kept if "/api/" in url] == []
    private = [each[field] for each in CLIENTS for field in ("name", "address", "phone")]
    assert [url for url, text in kept for value in private if value in text] == []
