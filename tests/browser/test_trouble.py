"""What can go wrong between phone and server, and what the therapist then sees and does."""

import gzip
import json
import re

from playwright.sync_api import Route, expect

from tests.browser.support import sign_in
from tests.browser.therapist import Therapist

CLIENT = "Adéla Kovářová-Shaw"
SENTENCE = "Pulse rate: the server wants this looked at again."


def test_a_lost_sign_in_keeps_everything_and_sends_it_after_the_next(page, own_server):
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.wait_for_sync()
    page.context.clear_cookies()
    therapist.record_pulse("71")
    expect(page.locator("a.status")).to_contain_text("sign in to sync")
    page.locator("a.status").click()
    page.get_by_role("link", name="Sign in", exact=True).click()
    sign_in(page, own_server.url)
    therapist.wait_for_sync()
    therapist.open_client(CLIENT)
    expect(page.get_by_role("link", name=re.compile("^Pulse"))).to_contain_text("71 /min")


def refuse_pulses(route: Route) -> None:
    """Answer as a server would that holds every pulse: the rest of the exchange is real."""
    body = route.request.post_data_buffer or b""
    packed = route.request.headers.get("content-encoding") == "gzip"
    message = json.loads(gzip.decompress(body) if packed else body)
    refused = [entry for entry in message["push"] if entry["kind"] == "pulse"]
    message["push"] = [entry for entry in message["push"] if entry["kind"] != "pulse"]
    headers = {name: value for name, value in route.request.headers.items() if name != "content-encoding"}
    answer = route.fetch(post_data=json.dumps(message), headers=headers)
    reply = answer.json()
    reply["verdicts"] += [
        {"id": entry["id"], "verdict": "held", "code": "impossible", "field": "rate", "message": SENTENCE}
        for entry in refused
    ]
    route.fulfill(response=answer, json=reply)


def test_a_refused_entry_needs_attention_is_corrected_and_sent(page, own_server):
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.wait_for_sync()
    page.route("**/api/v1/sync", refuse_pulses)
    therapist.record_pulse("71")
    expect(page.locator("a.status")).to_contain_text("1 needs attention")
    page.unroute("**/api/v1/sync")
    page.locator("a.status").click()
    expect(page.get_by_role("heading", name="Needs attention")).to_be_visible()
    expect(page.get_by_role("link", name=re.compile("Pulse"))).to_contain_text("Adéla")
    page.get_by_role("link", name=re.compile("Pulse")).click()
    expect(page.get_by_text(SENTENCE)).to_be_visible()
    page.get_by_role("button", name="Correct this").click()
    expect(page.get_by_role("textbox", name="Rate")).to_have_value("71")
    therapist.enter("Rate", "72")
    therapist.save_button().click()
    therapist.wait_for_sync()
    therapist.open_client(CLIENT)
    expect(page.get_by_role("link", name=re.compile("^Pulse"))).to_contain_text("72 /min")


def test_an_uneven_pulse_is_counted_for_a_full_minute_by_the_clock(page, server):
    therapist = Therapist(page, server.url).begin()
    therapist.open_client("Desmond Tallowfield")
    therapist.start_visit()
    page.clock.install()
    therapist.open_part("Pulse")
    expect(page.get_by_role("button", name="Count for 30 seconds")).to_be_visible()
    therapist.choose("Irregularly irregular")
    page.get_by_role("button", name="Count for 60 seconds").click()
    pad = page.get_by_role("button", name=re.compile("Tap for each beat"))
    for _ in range(5):
        pad.click()
    page.clock.fast_forward(31_000)
    expect(pad).to_contain_text("5 counted")
    expect(page.get_by_text("Time is up")).to_have_count(0)
    page.clock.fast_forward(30_000)
    page.get_by_role("button", name="Use 5 in 60 seconds").click()
    expect(page.get_by_role("textbox", name="Beats counted")).to_have_value("5")
    expect(page.locator("input[name=how][value=count_60]")).to_be_checked()
    therapist.save_button().click()
    expect(page.get_by_role("alert")).to_contain_text("not possible")


def test_a_warning_sign_calls_for_help_whatever_the_numbers_say(page, own_server):
    therapist = Therapist(page, own_server.url).begin()
    therapist.open_client(CLIENT)
    therapist.start_visit()
    therapist.open_part("How the client seems")
    therapist.choose("Alert")
    therapist.choose("Chest pain")
    therapist.save()
    expect(page.get_by_text("Get urgent help")).to_be_visible()
    expect(page.get_by_text("Stay with the client.", exact=True)).to_be_visible()
    page.get_by_role("button", name="Read the conclusion").click()
    expect(page.get_by_role("button", name="Accept: get urgent help")).to_be_visible()
