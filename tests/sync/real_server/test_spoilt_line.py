"""The line spoils requests and answers (F2-F8, F10-F12, F15): one server, one exchange, cut at every byte.

By default at a spread of bytes; LINTEL_TEST_EVERY_BYTE=1 cuts at each of them.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from sync.errors import AnswerError, ServerRefused
from tests.browser.faulty_line import answer, in_chunks, read_request, without_length
from tests.sync.real_server.gunicorn_server import PRODUCT, Gunicorn, wait_until
from tests.sync.real_server.raw import message_of, packed, post_packed
from tests.sync.real_server.spoilt_line import (
    SpoiltLine,
    line_to,
    reply_cut,
    request_cut,
    said,
    silent,
    twice,
    twice_at_once,
)
from tests.sync.real_server.team import DEADLINE, Device, Team

APP = PRODUCT
EVERY_BYTE = os.environ.get("LINTEL_TEST_EVERY_BYTE") == "1"
STEP, EDGE = 29, 5
SHORT = 0.3
TAKEN = {"applied", "duplicate"}
BUSY = '{"error": {"code": "busy", "field": null, "message": "The server is busy."}}'
STRANGERS = {
    "a portal's page": answer("200 OK", "<h1>Welcome</h1>"),
    "a portal's page called JSON": answer("200 OK", "<h1>Welcome</h1>", kind="application/json"),
    "JSON of another program": answer("200 OK", '{"ok": true}', kind="application/json"),
    "a list": answer("200 OK", "[]", kind="application/json"),
    "an empty page": answer("200 OK", "", kind="application/json"),
    "a redirect": answer("302 Found", "", "Location: http://portal.example/"),
    "a proxy's 502": answer("502 Bad Gateway", "<h1>Bad gateway</h1>"),
    "a proxy's 503": answer("503 Unavailable", "<h1>Later</h1>", "Retry-After: 7"),
    "a proxy's 504": answer("504 Gateway Timeout", "<h1>Later</h1>"),
    "a proxy's 429": answer("429 Too Many Requests", "Slow down", "Retry-After: 7"),
    "a length that is none": answer("200 OK", "{}", kind="application/json").replace(b"h: 2", b"h: x"),
    "no HTTP at all": b"\x15\x03\x01\x00\x02\x02\x16",
    "nothing": b"",
}  # fmt: skip

# What lacks no more than the line's end after the JSON, or after the last chunk's size, lacks nothing.
LINE_ENDS = {without_length: 1, in_chunks: 4}
# What is about the line alone need not be tried on both.
ANY_DATABASE = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


@pytest.fixture
def line(server: Gunicorn) -> Iterator[SpoiltLine]:
    with line_to(server.port) as made:
        yield made


@pytest.fixture
def phone(team: Team, server: Gunicorn, line: SpoiltLine) -> Device:
    """A phone behind the line, in the middle of its day: it has synced, and has a visit to send."""
    made = Device(team, server.url)
    made.over(line.url)
    made.visit()
    made.settle()
    made.visit()
    return made


def places(length: int, middle: int) -> list[int]:
    """Where to cut: everywhere, or a spread and all around the ends and the end of the head."""
    edges = {near + step for near in (0, middle, length) for step in range(-EDGE, EDGE)}
    chosen = range(length) if EVERY_BYTE else sorted(edges | set(range(0, length, STEP)))
    return [place for place in chosen if 0 <= place < length]


def head_of(message: bytes) -> int:
    return message.index(b"\r\n\r\n") + 4


def check_no_answer(phone: Device, told: str) -> None:
    """The exchange came to nothing on the device, which is as it was before."""
    before = phone.state
    error = phone.try_sync()
    assert isinstance(error, AnswerError), told
    assert phone.state == before, told


def exchange(phone: Device, line: SpoiltLine) -> None:
    """The exchange that will be cut, whole, of which the device keeps nothing: the line knows its reply."""
    for _ in range(2):  # the second answer is worded as all that follow
        twin = phone.another()
        twin.client._store.put(phone.state)
        twin.client.sync()


def test_the_request_is_cut_after_every_byte(team: Team, line: SpoiltLine, phone: Device):
    """F5: no cut request has any effect, and the same entries go through afterwards."""
    before, request = team.rows(), capture(phone, line)
    for place in places(len(request), head_of(request)):
        line.faults.append(request_cut(place, reset=bool(place % 2)))
        check_no_answer(phone, f"the request, after byte {place}")
        assert team.rows() == before, place
    team.check_settled(phone)


def capture(phone: Device, line: SpoiltLine) -> bytes:
    """The request that the device sends, without the server hearing of it."""
    caught: list[bytes] = []
    line.faults[:] = [lambda _line, _near, request: caught.append(request)]
    phone.try_sync()
    return caught[0]


def test_the_reply_is_cut_after_every_byte(team: Team, line: SpoiltLine, phone: Device):
    """F6, F7: the entries are in the log once, under the numbers they were given first."""
    exchange(phone, line)
    before, reply = team.rows(), line.reply
    for place in places(len(reply), head_of(reply)):
        line.faults.append(reply_cut(place, reset=bool(place % 2)))
        check_no_answer(phone, f"the reply, after byte {place}")
    assert team.rows() == before
    team.check_settled(phone)


@ANY_DATABASE
@pytest.mark.parametrize("rewritten", [without_length, in_chunks])
def test_the_reply_is_cut_on_its_way_through_a_proxy(team: Team, line: SpoiltLine, phone: Device, rewritten):
    """F6: it ends cleanly and too soon, and no length tells; the shape does."""
    exchange(phone, line)
    before, reply = team.rows(), rewritten(line.reply)
    for place in places(len(reply) - LINE_ENDS[rewritten], head_of(reply)):
        line.faults.append(reply_cut(place, rewritten=rewritten))
        check_no_answer(phone, f"{rewritten.__name__}, after byte {place}")
    assert team.rows() == before
    line.faults.append(reply_cut(len(reply) + 1, rewritten=rewritten))
    assert phone.try_sync() is None
    team.check_settled(phone)


@ANY_DATABASE
def test_strangers_answer(team: Team, line: SpoiltLine, phone: Device):
    """F10-F12, F15: whoever answers in the server's place changes nothing."""
    for name, words in STRANGERS.items():
        line.faults.append(said(words))
        check_no_answer(phone, name)
    team.check(phone)
    team.check_settled(phone)


@ANY_DATABASE
def test_a_portal_answers_whoever_asks_for_the_session(team: Team, phone: Device, line: SpoiltLine):
    """F10: also the questions around an exchange are not answered by a portal."""
    direct, session = phone.url, phone.client.session()
    for name in ("a portal's page", "JSON of another program", "a list", "a proxy's 502", "nothing"):
        with answering(STRANGERS[name]) as url:
            phone.over(url)
            phone.client._session = None
            check_no_answer(phone, name)
    phone.over(direct)
    assert phone.client.session()["user"] == session["user"]
    team.check_settled(phone)


@contextmanager
def answering(words: bytes) -> Iterator[str]:
    """Somebody who says the same to everybody."""
    with line_to(0) as stranger:
        stranger.serve = lambda near: (read_request(near), near.sendall(words), near.close())
        yield stranger.url


@ANY_DATABASE
def test_who_asks_for_patience_is_heard(team: Team, line: SpoiltLine, phone: Device):
    """F12: Retry-After reaches whoever drives the client, from a proxy as from the server."""
    for name in ("a proxy's 429", "a proxy's 503"):
        line.faults.append(said(STRANGERS[name]))
        assert phone.try_sync().retry_after == 7
    line.faults.append(said(answer("503 Busy", BUSY, "Retry-After: 9", kind="application/json")))
    error = phone.try_sync()
    assert isinstance(error, ServerRefused) and (error.code, error.retry_after) == ("busy", 9)
    team.check_settled(phone)


@pytest.mark.parametrize("after_the_commit", [False, True])
def test_nothing_comes_back_until_the_deadline(team: Team, line: SpoiltLine, phone: Device, after_the_commit):
    """F3, F4: the device gives up by its own deadline, here a short one, and goes on afterwards."""
    before = len(team.rows())
    line.faults.append(silent(after_the_commit))
    phone.over(line.url, SHORT)
    check_no_answer(phone, "silence")
    # The server may be slower than the device is patient.
    wait_until(lambda: len(team.rows()) == before + (3 if after_the_commit else 0), "the commit")
    phone.over(line.url, DEADLINE)
    team.check_settled(phone)


def test_the_server_is_gone(team: Team, server: Gunicorn, line: SpoiltLine, phone: Device):
    """F2: nobody listens any more, then somebody does again."""
    server.kill()
    check_no_answer(phone, "gone")
    server.start()
    team.check_settled(phone)


@pytest.mark.parametrize("fault", [twice, twice_at_once])
def test_the_request_is_delivered_twice(team: Team, line: SpoiltLine, phone: Device, fault):
    """F8: stored once; the device takes either answer."""
    line.faults.append(fault)
    assert phone.try_sync() is None
    assert dict(phone.state.outbox) == {}
    team.check_settled(phone)
    assert team.head() == 6


@ANY_DATABASE
def test_a_damaged_gzip_is_refused_or_was_not_damaged(team: Team, phone: Device):
    """F15: one bit of a packed body is turned, or its end is missing: nothing wrong is ever stored."""
    data, before = packed(message_of(phone)), team.rows()
    for place in places(len(data), 10):
        spoilt = data[:place] + bytes([data[place] ^ 1 << place % 8]) + data[place + 1 :]
        for sent in (spoilt, data[:place]):
            answered = post_packed(phone, sent)
            # Some bits of gzip's head say nothing that matters: then the content is whole.
            if answered.status == 200:
                assert {verdict["verdict"] for verdict in answered.json()["verdicts"]} <= TAKEN
            else:
                assert (answered.status, answered.json()["error"]["code"]) == (400, "bad_gzip"), place
                team.check(phone)
    assert len(team.rows()) in (len(before), len(before) + 3)
    team.check_settled(phone)
