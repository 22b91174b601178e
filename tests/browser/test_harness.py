"""The harness itself: what it must catch, it catches; what it kills is dead; what it shows is the phone."""

import re
import time
from pathlib import Path

import pytest
from playwright.sync_api import Error

from tests.browser import accessibility
from tests.browser.support import go_offline, screenshot
from tests.browser.watch import Watch, watching

PLAIN = "<!doctype html><html lang='en'><title>t</title><main><h1>Heading</h1>{}</main></html>"


@pytest.mark.parametrize(
    "script",
    ["console.error('out of order')", "setTimeout(() => { throw new Error('out of order'); })"],
)
def test_a_complaint_fails_the_test(browser, script):
    with pytest.raises(AssertionError, match="out of order"), watching() as watch:
        context = browser.new_context()
        watch.over(context)
        page = context.new_page()
        page.evaluate(script)
        wait_for_complaint(page, watch, "out of order")
        context.close()


def wait_for_complaint(page, watch: Watch, words: str) -> None:
    """Let the browser report; without the complaint, the test that expects it fails by itself."""
    until = time.monotonic() + 30
    while not any(words in each for each in watch.complaints) and time.monotonic() < until:
        page.wait_for_timeout(20)


def test_a_policy_violation_fails_the_test(browser, server):
    with pytest.raises(AssertionError, match="content policy violation"), watching() as watch:
        context = browser.new_context()
        watch.over(context)
        page = context.new_page()
        page.goto(f"{server.url}/sign-in")
        page.evaluate("""() => {
          const picture = document.createElement('img');
          picture.src = 'https://elsewhere.example/x.png';
          document.body.append(picture);
        }""")
        # The browser itself complains as well, now before the page's own listener and now after it.
        wait_for_complaint(page, watch, "content policy violation")
        context.close()


def test_nothing_waits_for_a_promise_as_if_it_were_its_answer():
    """For wait_for_function a promise is true, whatever comes of it."""
    wrong = re.compile(r"wait_for_function\(\s*f?[\"']+async")
    files = Path(__file__).parent.glob("*.py")
    assert [path.name for path in files if wrong.search(path.read_text("utf-8"))] == []


def test_only_what_is_allowed_is_allowed():
    watch = Watch()
    watch.complaints = [
        "console error: Failed to load resource: net::ERR_INTERNET_DISCONNECTED [x]",
        "page error: y",
    ]
    watch.allow_network_errors()
    assert watch.left() == ["page error: y"]


def test_a_phone_is_small_has_touch_and_can_be_dark(open_phone, server):
    page = open_phone(color_scheme="dark").new_page()
    page.goto(f"{server.url}/sign-in")
    facts = page.evaluate(
        "[innerWidth, innerHeight, devicePixelRatio, navigator.maxTouchPoints > 0,"
        " matchMedia('(prefers-color-scheme: dark)').matches]"
    )
    assert facts == [360, 800, 2, True, True]


def test_offline_is_offline(page, phone, server, watch):
    page.goto(f"{server.url}/sign-in")
    go_offline(phone, watch)
    with pytest.raises(Error):
        page.evaluate("fetch('/healthz')")


def test_axe_finds_what_is_wrong(page):
    page.set_content(PLAIN.format("<img src='data:,'><p style='color:#999'>pale</p>"))
    found = accessibility.examine(page).violations
    assert {"image-alt", "color-contrast"} <= set(found)
    with pytest.raises(AssertionError, match="image-alt"):
        accessibility.assert_accessible(page)


def test_axe_finds_a_target_that_is_too_small(page):
    small = "<button style='width:10px;height:10px;padding:0'>a</button>" * 2
    page.set_content(PLAIN.format(f"<div style='font-size:0'>{small}</div>"))
    assert "target-size" in accessibility.examine(page).violations


def test_what_axe_is_unsure_of_has_to_be_judged(page):
    over_picture = "<p style='background:linear-gradient(#fff,#777);color:#555'>over a gradient</p>"
    page.set_content(PLAIN.format(over_picture))
    assert "color-contrast" in accessibility.examine(page).incomplete
    with pytest.raises(AssertionError, match="unsure"):
        accessibility.assert_accessible(page)
    accessibility.assert_accessible(page, {"color-contrast": "the gradient is part of this test"})


# In one transaction that is on disk when it is over.
KEEP = """(value) => new Promise((done) => {
  const opening = indexedDB.open('harness');
  opening.onupgradeneeded = () => opening.result.createObjectStore('kept');
  opening.onsuccess = () => {
    const tx = opening.result.transaction('kept', 'readwrite', {durability: 'strict'});
    tx.objectStore('kept').put(value, 1);
    tx.oncomplete = () => done();
  };
})"""
KEPT = """() => new Promise((done) => {
  indexedDB.open('harness').onsuccess = ({target: {result}}) => {
    result.transaction('kept').objectStore('kept').get(1).onsuccess = ({target}) => done(target.result);
  };
})"""


def test_a_killed_browser_is_dead_and_its_profile_lives(open_profile, own_server):
    profile = open_profile()
    page = profile.open().new_page()
    page.goto(f"{own_server.url}/sign-in")
    page.evaluate(KEEP, "yes")
    assert profile.kill() >= 3
    assert profile.processes() == []
    again = profile.open().new_page()
    again.goto(f"{own_server.url}/sign-in")
    assert again.evaluate(KEPT) == "yes"


def test_a_screenshot_is_saved_where_git_does_not_look(page):
    page.set_content(PLAIN.format(""))
    path = screenshot(page, "harness")
    assert path.stat().st_size > 1000 and ".lintel" in path.parts
    path.unlink()
