"""The line between phone and server fails in every way: faults 2 to 16 (tests/sync/FAULTS.md has the list).

Chromium on one side; on the other gunicorn with two workers, once on SQLite and once on PostgreSQL.
"""

from itertools import product

import pytest

from tests.browser.engine_bench import open_controlled, wait_for
from tests.browser.faulty_line import Cut, Line, answer, body_of, in_chunks, with_body, without_length
from tests.browser.kept import check_all_there, check_kept, save, sync

SHARES = [("head", 0), ("head", 0.5), ("head", 1), ("body", 0), ("body", 0.01), ("body", 0.5), ("body", 1)]
CUTS = [
    Cut(message, part, share, reset=bool(place % 2))
    for message in ("request", "reply")
    for place, (part, share) in enumerate(SHARES)
]
PRINTED = r"Failed to load resource: (net::ERR_|the server responded with a status of (400|413|429|50[234]))"
HEADERS_WITHIN = 20_000  # of static/sync/exchange.js
PACKED = 12  # so many notes make a request, and a reply, that travel packed
IN_THE_QUEUE = "async () => (await navigator.locks.query()).pending.map(({name}) => name)"
WAITING = "async () => (await store.counts()).waiting"
PORTAL = answer("200 OK", "<h1>Welcome to the café</h1>")
STRANGERS = [
    ("a portal's page", PORTAL, "offline"),
    (
        "a portal that calls its page JSON",
        answer("200 OK", "<h1>Hi</h1>", kind="application/json"),
        "offline",
    ),
    ("JSON of another program", answer("200 OK", '{"ok": true}', kind="application/json"), "offline"),
    ("a redirect", answer("302 Found", "", "Location: http://portal.example/"), "offline"),
    ("no HTTP at all", b"\x15\x03\x01\x00\x02\x02\x16", "offline"),
    ("a proxy's 502", answer("502 Bad Gateway", "<h1>Bad gateway</h1>"), "error"),
    ("a proxy's 503", answer("503 Unavailable", "<h1>Later</h1>", "Retry-After: 1"), "error"),
    ("a proxy's 504", answer("504 Gateway Timeout", "<h1>Later</h1>"), "error"),
    ("429 of a proxy", answer("429 Too Many Requests", "Slow down", "Retry-After: 2"), "error"),
]
ANY_DATABASE = pytest.mark.parametrize("all_workers", ["sqlite"], indirect=True)


@pytest.fixture
def bench(workers):
    return workers


@pytest.fixture
def page(phone, bench, near, watch):
    """A signed-in page that reaches the server by the line alone, and has synced once."""
    watch.allow(PRINTED)
    page = open_controlled(phone, near)
    bench.let_in(page)
    assert sync(page, bench.ids["person"])["phase"] == "idle"
    return page


@pytest.mark.parametrize("count", [1, PACKED], ids=["plain", "packed"])
def test_a_line_cut_at_any_byte_loses_and_doubles_nothing(page, bench, line: Line, count):
    """Faults 5, 6 and 7: each cut leaves everything waiting or stored, and the next sync repairs it."""
    person, saved = bench.ids["person"], {}
    for cut in CUTS:
        fresh = save(page, person, bench.ids["one"], count)
        saved |= fresh
        line.cut = cut
        status = sync(page, person)
        assert (status["phase"], status["waiting"]) == ("offline", count), (cut, status)
        assert check_kept(page, bench, person, saved) == dict.fromkeys(fresh, "waiting"), cut
        assert line.cut is None, "the cut was made"
        assert sync(page, person)["phase"] == "idle", cut
        check_all_there(page, bench, person, saved)
        assert is_packed(line.passed[-1]) == is_packed(line.reply) == (count == PACKED)


@ANY_DATABASE
def test_a_proxy_that_ends_a_reply_too_soon_and_cleanly_is_noticed(page, bench, line: Line):
    """Fault 6: no length tells that something is missing."""
    person, saved = bench.ids["person"], {}
    for rewritten, share in product((without_length, in_chunks), (0, 0.01, 0.5, 0.9)):
        fresh = save(page, person, bench.ids["one"], 1)
        saved |= fresh
        line.rewrite, line.cut = rewritten, Cut("reply", "body", share, reset=False)
        assert sync(page, person)["phase"] == "offline", (rewritten, share)
        assert set(check_kept(page, bench, person, saved)) == set(fresh), (rewritten, share)
        line.rewrite = rewritten
        assert sync(page, person)["phase"] == "idle", (rewritten, share)
        check_all_there(page, bench, person, saved)


def test_what_a_stranger_answers_changes_nothing(page, bench, line: Line):
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


def test_a_line_that_takes_everything_and_says_nothing_is_given_up(page, bench, line: Line):
    """Faults 3 and 4: after its deadline the request is given up; the next try sends all of it."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], 4)
    line.silent.set()
    status = sync(page, person, without=HEADERS_WITHIN)
    assert (status["phase"], status["waiting"]) == ("offline", 4)
    line.silent.clear()
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)


def test_the_same_request_twice_at_once_is_one_entry(page, phone, bench, line: Line):
    """Faults 8 and 9: a first request that arrives after the second is answered like any other."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["two"], 3)
    line.hold_next("request")
    page.evaluate("() => { globalThis.first = engine.syncNow(); }")
    assert line.held.wait(60)
    other = phone.new_page()
    other.goto(page.url)
    other.evaluate("() => { delete Navigator.prototype.locks; }")
    assert sync(other, person)["phase"] == "idle"
    check_all_there(other, bench, person, saved)
    line.let_go()
    assert page.evaluate("() => first")["phase"] == "idle"
    check_all_there(page, bench, person, saved)


@ANY_DATABASE
def test_one_window_syncs_at_a_time(page, phone, bench, line: Line):
    """Fault 29: while the first waits for its answer the second sends nothing, and then has nothing to."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["two"], 3)
    other = phone.new_page()
    other.goto(page.url)
    assert save(other, person, bench.ids["two"], 0) == {}
    line.passed.clear()
    line.hold_next("reply")
    page.evaluate("() => { globalThis.first = engine.syncNow(); }")
    assert line.held.wait(60)
    other.evaluate("() => { globalThis.second = bench.createEngine({store}).syncNow(); }")
    wait_for(lambda: f"lintel-sync-{person}" in other.evaluate(IN_THE_QUEUE))
    assert len(line.passed) == 1
    line.let_go()
    assert page.evaluate("() => first")["phase"] == other.evaluate("() => second")["phase"] == "idle"
    assert len(line.passed) == 2 and len(line.passed[1]) < len(line.passed[0])
    check_all_there(page, bench, person, saved)


def is_packed(message: bytes) -> bool:
    return b"content-encoding: gzip" in message.partition(b"\r\n\r\n")[0].lower()


def turned(share: float):
    """One bit of the body turned on its way."""

    def spoil(request: bytes) -> bytes:
        body = bytearray(body_of(request))
        body[min(int(len(body) * share), len(body) - 1)] ^= 4
        return with_body(request, bytes(body))

    return spoil


def shortened(request: bytes) -> bytes:
    """The end of the body missing, and the length put right by somebody."""
    return with_body(request, body_of(request)[:-9])


def halved(message: bytes) -> bytes:
    body = body_of(message)
    return with_body(message, body[: len(body) // 2])


DAMAGES = {"its mark": turned(0), "its middle": turned(0.5), "its sum": turned(0.99), "its end": shortened}


@ANY_DATABASE
def test_a_packed_request_that_arrives_damaged_is_sent_again_plain(page, bench, line: Line):
    """Fault 15: the server takes nothing of it and says so."""
    person, saved = bench.ids["person"], {}
    for what, damage in DAMAGES.items():
        page.evaluate("() => { delete globalThis.engine; }")  # which goes on in plain once it had to
        saved |= save(page, person, bench.ids["one"], PACKED)
        line.passed.clear()
        line.spoil = damage
        assert sync(page, person)["phase"] == "idle", what
        check_all_there(page, bench, person, saved)
        assert [is_packed(request) for request in line.passed] == [True, False], what


@ANY_DATABASE
def test_half_a_packed_answer_whose_length_was_put_right_is_no_answer(page, bench, line: Line):
    """Faults 6 and 15, on the way back. That no bit is turned is TLS's to see: Chromium skips the sum."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], PACKED)
    line.rewrite = halved
    assert sync(page, person)["phase"] == "offline"
    assert set(check_kept(page, bench, person, saved).values()) == {"waiting"}
    assert is_packed(line.reply)
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)


@ANY_DATABASE
def test_a_proxy_that_refuses_large_requests_gets_smaller_ones(page, bench, line: Line):
    """Fault 13: halved until it fits, in the same run."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], 60)
    line.passed.clear()
    line.limit = 1000
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)
    assert len(line.passed) > 1 and max(len(body_of(request)) for request in line.passed) <= line.limit


@ANY_DATABASE
def test_what_the_browser_says_of_the_line_is_not_believed(page, bench, line: Line):
    """Fault 16: said to be offline, a save is sent all the same; said to be online, it waits all the same."""
    person = bench.ids["person"]
    page.evaluate("""() => {
      globalThis.said = false;
      Object.defineProperty(Navigator.prototype, 'onLine', {get: () => globalThis.said});
      dispatchEvent(new Event('offline'));
      return engine.start();
    }""")
    saved = save(page, person, bench.ids["one"], 2)
    wait_for(lambda: page.evaluate(WAITING) == 0)
    check_all_there(page, bench, person, saved)
    line.answer = b""
    saved |= save(page, person, bench.ids["one"], 1)
    page.evaluate("() => { globalThis.said = true; dispatchEvent(new Event('online')); }")
    wait_for(lambda: page.evaluate("() => engine.status().phase") == "offline")
    assert set(check_kept(page, bench, person, saved).values()) == {"waiting"}
    line.answer = None
    wait_for(lambda: page.evaluate(WAITING) == 0)
    check_all_there(page, bench, person, saved)


@ANY_DATABASE
def test_a_slow_line_takes_one_request(page, bench, line: Line):
    """At 50 kbit/s and a second there and back a day's work is still one request."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], 100)
    line.passed.clear()
    tools = page.context.new_cdp_session(page)
    tools.send("Network.enable")
    slow = {"offline": False, "latency": 1000, "downloadThroughput": 6250, "uploadThroughput": 6250}
    tools.send("Network.emulateNetworkConditions", slow)
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)
    assert len(line.passed) == 1
