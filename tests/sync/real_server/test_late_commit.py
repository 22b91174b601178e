"""A cursor never passes an entry that commits later (F22): while many write, and one step at a time.

The same harness runs over a service whose numbers are taken the broken way, and must report what is missed.
"""

import os
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from sync.transport import Answer
from tests.sync.real_server.gunicorn_server import WITH_FAILPOINTS, Gunicorn, serving
from tests.sync.real_server.raw import message_of, post
from tests.sync.real_server.team import Device, Team

WRITERS, FOLLOWERS = 16, 3
ROUNDS = int(os.environ.get("LINTEL_TEST_RACE_ROUNDS", "5"))


@pytest.fixture
def broken(team: Team, database_url: str, tmp_path: Path):
    with serving(tmp_path, database_url, WITH_FAILPOINTS, LINTEL_TEST_BREAK_NUMBERS="1") as running:
        yield running


@pytest.fixture
def impatient(team: Team, database_url: str, tmp_path: Path):
    """The service with shorter waits for a lock, so that the test need not wait as long."""
    wait = "PRAGMA busy_timeout=200" if database_url.startswith("sqlite") else "SET lock_timeout='200ms'"
    with serving(tmp_path, database_url, WITH_FAILPOINTS, LINTEL_TEST_CONNECTION=wait) as running:
        yield running


class Follower(threading.Thread):
    """Asks as a device does, as fast as it can, and never looks back behind its cursor."""

    def __init__(self, phone: Device) -> None:
        super().__init__()
        self.phone, self.seen, self.done = phone.another(), [], threading.Event()
        self.message = message_of(self.phone)
        self.cursor, self.pages, self.failed = 0, 0, None

    def run(self) -> None:
        try:
            more = True
            while more:
                last = self.done.is_set()
                more = self.pull() or not last
        except Exception as error:
            self.failed = error

    def pull(self) -> bool:
        """One page; whether there is more."""
        pull = {"after": self.cursor, "caseload": None, "fill": []}
        answer = post(self.phone, self.message | {"pull": pull}).json()
        self.message["epoch"] = answer["epoch"]
        self.seen += [entry["id"] for entry in answer["pull"]["entries"]]
        self.cursor, self.pages = answer["pull"]["after"], self.pages + 1
        return bool(answer["pull"]["more"])


def race(team: Team, server: Gunicorn) -> tuple[list[Follower], set[str]]:
    """Writers in two workers, followers beside them; what followers saw, and what was stored in the end."""
    phone = Device(team, server.url)
    followers = [Follower(phone) for _ in range(FOLLOWERS)]
    start = threading.Barrier(WRITERS)

    def write(writer: Device) -> None:
        start.wait()
        for _ in range(ROUNDS):
            writer.visit(2)
            # SQLite's queue is not fair: on a slow machine one may be told to come again.
            while (error := writer.try_sync()) is not None:
                assert error.code == "busy"

    for follower in followers:
        follower.pull()  # a first message brings the epoch
        follower.start()
    with ThreadPoolExecutor(WRITERS) as pool:
        list(pool.map(write, [phone.another() for _ in range(WRITERS)]))
    for follower in followers:
        follower.done.set()
        follower.join(60)
        assert follower.failed is None
    return followers, {entry["id"] for _, _, entry in team.rows()}


def test_followers_miss_nothing_while_sixteen_write(team: Team, server: Gunicorn):
    """F22: two workers, sixteen writers, three who follow; each sees every entry once, in order."""
    followers, stored = race(team, server)
    assert len(stored) == WRITERS * ROUNDS * 2 == team.head()
    order = [entry["id"] for _, _, entry in team.rows()]
    for follower in followers:
        assert follower.seen == order
    assert min(follower.pages for follower in followers) > 2, "nobody followed"
    pids = {line["process"] for line in server.events("test worker")}
    assert len(pids) == 2, "only one worker took part"


def test_the_race_notices_numbers_taken_too_early(team: Team, broken: Gunicorn):
    """F22, the proof: the same race over broken numbers reports entries that no cursor ever finds."""
    missed: set[str] = set()
    for _ in range(5):
        followers, stored = race(team, broken)
        missed |= set().union(*(stored - set(follower.seen) for follower in followers))
        if missed:
            break
    assert missed


def test_a_number_taken_early_and_committed_late_is_never_passed(team: Team, impatient: Gunicorn):
    """F18, F22: who holds the counter for long makes others come again later, and nobody is passed over."""
    phone, writers, follower = late_commit_cast(team, impatient)
    impatient.at("commit", "pause")
    with ThreadPoolExecutor(1) as pool:
        early = pool.submit(writers[0].client.sync)
        impatient.wait_until_taken()
        refused = post(writers[1], message_of(writers[1]))
        assert (refused.status, refused.json()["error"]["code"]) == (503, "busy")
        assert refused.retry_after() == 5
        follower.pull()
        assert (follower.seen, follower.cursor) == ([], 0)
        impatient.go_on()
        early.result(60)
    assert numbers(post(writers[1], message_of(writers[1]))) == [3, 4]
    follower.pull()
    assert follower.seen == [entry["id"] for _, _, entry in team.rows()] and len(follower.seen) == 4
    team.check_settled(phone, *writers)


def test_the_same_steps_notice_numbers_taken_too_early(team: Team, broken: Gunicorn):
    """F22, the proof, one step at a time: the later number commits first, and the earlier is passed over."""
    _, writers, follower = late_commit_cast(team, broken)
    broken.at("numbers taken", "pause")
    with ThreadPoolExecutor(1) as pool:
        early = pool.submit(post, writers[0], message_of(writers[0]))
        broken.wait_until_taken()
        assert numbers(post(writers[1], message_of(writers[1]))) == [3, 4]
        follower.pull()
        broken.go_on()
        assert numbers(early.result(60)) == [1, 2]
    follower.pull()
    missed = [seq for seq, _, entry in team.rows() if entry["id"] not in follower.seen]
    assert missed == [1, 2]


def late_commit_cast(team: Team, server: Gunicorn) -> tuple[Device, list[Device], Follower]:
    """Somebody, two devices with a visit each to send, and one that follows."""
    phone = Device(team, server.url)
    writers, follower = [phone.another(), phone.another()], Follower(phone)
    for writer in writers:
        writer.visit(2)
    follower.pull()
    return phone, writers, follower


def numbers(answer: Answer) -> list[int]:
    return [verdict["seq"] for verdict in answer.json()["verdicts"]]


def test_an_undone_transaction_leaves_no_hole(team: Team, server: Gunicorn):
    """F22: numbers given in a transaction that fails are given again."""
    phone = Device(team, server.url)
    phone.visit()
    phone.settle()
    phone.visit()
    server.surprises = 1
    server.at("commit", "fail")
    # Asked once: the client itself goes on with less in the same exchange.
    assert post(phone, message_of(phone)).status == 500 and server.was_taken()
    team.check(phone)
    assert team.head() == 3
    team.check_settled(phone)
    assert team.head() == 6
