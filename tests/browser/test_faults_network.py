"""The line between phone and server fails in every way: faults 2 to 12 (DEVELOPERS.md has the list)."""

import pytest

from tests.browser.engine_bench import open_controlled
from tests.browser.faulty_line import Cut, answer
from tests.browser.kept import check_all_there, check_kept, save, sync

SHARES = [("head", 0), ("head", 0.5), ("head", 1), ("body", 0), ("body", 0.01), ("body", 0.5), ("body", 1)]
CUTS = [
    Cut(message, part, share, reset=bool(place % 2))
    for message in ("request", "reply")
    for place, (part, share) in enumerate(SHARES)
]
PRINTED = r"Failed to load resource: (net::ERR_|the server responded with a status of (502|429|503))"
HEADERS_WITHIN = 20_000  # of static/sync/exchange.js
PORTAL = answer("200 OK", "<h1>Welcome to the café</h1>")
STRANGERS = [
    ("a portal's page", PORTAL, "offline"),
    (
        "a portal that calls its page JSON",
        answer("200 OK", "<h1>Hi</h1>", kind="application/json"),
        "offline",
    ),
    ("JSON of another program", answer("200 OK", '{"ok": true}', kind="application/json"), "offline"),
    ("a proxy's 502", answer("502 Bad Gateway", "<h1>Bad gateway</h1>"), "error"),
    ("a proxy's 503", answer("503 Unavailable", "<h1>Later</h1>", "Retry-After: 1"), "error"),
    ("429 of a proxy", answer("429 Too Many Requests", "Slow down", "Retry-After: 2"), "error"),
]


@pytest.fixture
def page(phone, bench, near, watch, anns_cookies):
    """A signed-in page that reaches the server by the line alone, and has synced once."""
    watch.allow(PRINTED)
    phone.add_cookies(anns_cookies)
    page = open_controlled(phone, near)
    assert sync(page, bench.ids["person"])["phase"] == "idle"
    return page


def test_a_line_cut_at_any_byte_loses_and_doubles_nothing(page, bench, line):
    """Faults 5, 6 and 7: each cut leaves everything waiting or stored, and the next sync repairs it."""
    person, saved = bench.ids["person"], {}
    for cut in CUTS:
        fresh = save(page, person, bench.ids["one"], 2)
        saved |= fresh
        line.cut = cut
        status = sync(page, person)
        assert (status["phase"], status["waiting"]) == ("offline", 2), (cut, status)
        assert check_kept(page, bench, person, saved) == dict.fromkeys(fresh, "waiting"), cut
        assert line.cut is None, "the cut was made"
        assert sync(page, person)["phase"] == "idle", cut
        check_all_there(page, bench, person, saved)


def test_what_a_stranger_answers_changes_nothing(page, bench, line):
    """Faults 10, 11 and 12: only the server's own whole answer moves anything."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], 3)
    before = page.evaluate("() => store.cursor()")
    for who, said, phase in STRANGERS:
        line.answer = said
        status = sync(page, person)
        assert (status["phase"], status["waiting"]) == (phase, 3) and status["message"], (who, status)
        assert set(check_kept(page, bench, person, saved).values()) == {"waiting"}, who
        assert page.evaluate("() => store.cursor()") == before, who
    line.answer = None
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)


def test_a_line_that_takes_everything_and_says_nothing_is_given_up(
    phone, bench, near, line, watch, anns_cookies
):
    """Faults 3 and 4: after its deadline the request is given up; the next try sends all of it."""
    watch.allow(PRINTED)
    person = bench.ids["person"]
    phone.add_cookies(anns_cookies)
    page = open_controlled(phone, near)
    saved = save(page, person, bench.ids["one"], 4)
    line.silent.set()
    status = sync(page, person, without=HEADERS_WITHIN)
    assert (status["phase"], status["waiting"]) == ("offline", 4)
    line.silent.clear()
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)


def test_the_same_request_twice_at_once_is_one_entry(page, phone, bench, line):
    """Faults 8 and 9: a first request that arrives after the second is answered like any other."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["two"], 3)
    line.hold_next("request")
    page.evaluate("() => { globalThis.first = engine.syncNow(); }")
    assert line.held.wait(10)
    other = phone.new_page()
    other.goto(page.url)
    other.evaluate("() => { delete Navigator.prototype.locks; }")
    assert sync(other, person)["phase"] == "idle"
    check_all_there(other, bench, person, saved)
    line.let_go()
    assert page.evaluate("() => first")["phase"] == "idle"
    check_all_there(page, bench, person, saved)
