"""Texts that would be code somewhere else are shown as what they are: text. Cases 18, 19 and 20."""

import re
import uuid

import pytest
from playwright.sync_api import Page, expect

from demo_home_visits import people
from sync.client import Client
from sync.device import State
from sync.store import MemoryStore
from sync.transport import HttpTransport
from tests.browser.support import screenshot
from tests.browser.therapist import Therapist

MARKUP = '<img src=x onerror="document.title=1"><script>document.title=2</script><b>bold</b>'
TEMPLATE = "{{7*7}} ${7*7} %s %n <%= 7*7 %>"
TURNED = "\u202egnp.exe\u202c a\u200bb e" + "\u0301" * 30
TEXTS = {"name": f"Hostile {MARKUP}", "preferred_name": f"H {TEMPLATE}", "access": TURNED, "address": MARKUP}


@pytest.fixture
def client(own_server) -> str:
    """A client of the therapist whose details are all hostile."""
    store = MemoryStore(State(str(uuid.uuid4())))
    device = Client(HttpTransport(own_server.url), store, name="Invented phone")
    device.sign_in(people.FIRST_THERAPIST, people.PASSWORD)
    device.sync_all()
    chosen = device.state.clients[0]
    seen = {
        field: [entry["id"] for entry in device.state.entries.values() if sets(entry, chosen, field)]
        for field in TEXTS
    }
    device.record("details", chosen, {"set": TEXTS, "seen": seen})
    device.record("precaution", chosen, {"code": "other", "text": MARKUP})
    device.sync_all()
    assert not device.state.held
    return chosen


def sets(entry, client: str, field: str) -> bool:
    return entry["kind"] == "details" and entry["client"] == client and field in entry["body"]["set"]


def no_code_ran(page: Page) -> None:
    assert page.title() not in ("1", "2")
    assert page.locator("main img, main script, main b").count() == 0
    assert "49" not in page.locator("main").inner_text()


def test_hostile_details_are_text_on_every_screen(page, own_server, client):
    """Any script that ran, or tried to, would also fail the test by the page's policy."""
    therapist = Therapist(page, own_server.url).begin()
    page.get_by_role("link", name="Caseload").click()
    page.get_by_role("searchbox").fill("hostile")
    line = page.get_by_role("link", name=re.compile("^Hostile"))
    expect(line).to_contain_text("onerror=")
    no_code_ran(page)
    line.click()
    expect(page.get_by_text(MARKUP).first).to_be_visible()
    expect(page.get_by_text(TEMPLATE).first).to_be_visible()
    no_code_ran(page)
    screenshot(page, "hostile-client", whole=True)
    therapist.start_visit()
    no_code_ran(page)
    page.goto(page.url + "/finish")
    page.get_by_role("textbox", name="Anything to add").fill(MARKUP)
    page.get_by_role("button", name="Sign and finish").click()
    therapist.wait_for_sync()
    no_code_ran(page)


def test_a_name_that_turns_the_reading_direction_turns_nothing_else(page, own_server, client):
    Therapist(page, own_server.url).begin()
    page.goto(f"{own_server.url}/app/client/{client}")
    shown = page.locator("bdi", has_text="gnp.exe").or_(page.locator("dd", has_text="gnp.exe")).first
    expect(shown).to_be_visible()
    isolated = "(one) => ['isolate', 'plaintext'].includes(getComputedStyle(one).unicodeBidi)"
    assert shown.evaluate(isolated) or shown.locator("bdi").count() > 0
