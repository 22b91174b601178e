"""Several at once: the same batch twice, many writers and a reader, a writer that is slow to commit."""

import itertools
import json
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager, suppress
from pathlib import Path

import pytest
from sqlalchemy import event, func, select, text
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from sync.pages import Budget, main_page
from tests.webapp.support import NOW, SECRET, House
from webapp import examiner
from webapp.storage import Database, append_entries, upgrade
from webapp.storage.append import Sender, lock_counter
from webapp.storage.entry_rows import EntryRows
from webapp.storage.models import Entry, Holding, Organisation
from webapp.storage.read import SqlView

ROOT = Path(__file__).resolve().parents[2]
WRITERS = 6
ROUNDS = 8
FEW, TURNS = 4, 40


def push(house: House, phone, entries):
    return append_entries(
        house.database, phone.person, entries, examine=examiner(), device=phone.device, now=NOW
    )


def next_page(session, phone, after: int):
    view = SqlView(session, phone.person, NOW)
    return main_page(view, after, view.head_and_epoch()[0], Budget(), None)


def counts(house: House) -> tuple[int, int, int]:
    with house.database.reading() as session:
        entries = session.scalar(select(func.count()).select_from(Entry))
        highest = session.scalar(select(func.max(Entry.seq)))
        return entries, highest, session.get_one(Organisation, house.organisation).head


def test_two_threads_push_the_same_batch(house: House, ann):
    batch = [ann.entry() for _ in range(40)] + [ann.entry(body={"fields": {}})]
    start = threading.Barrier(2)

    def run(entries):
        start.wait()
        return push(house, ann, entries)

    with ThreadPoolExecutor(2) as pool:
        first, second = pool.map(run, [batch, batch[::-1]])
    words = [{verdict.verdict for verdict in answer} for answer in zip(first, second[::-1], strict=True)]
    assert words == [{"applied", "duplicate"}] * 40 + [{"held"}]
    assert [one.seq for one in first] == [other.seq for other in second[::-1]]
    assert counts(house) == (40, 40, 40)
    with house.database.reading() as session:
        assert session.scalar(select(func.count()).select_from(Holding)) == 1


PUSHER = """
import json, sys
from webapp import examiner
from webapp.storage import Database, Person, append_entries
given = json.load(sys.stdin)
database = Database(given["url"], "an invented secret of a process")
print("ready", flush=True)
verdicts = append_entries(database, Person(**given["person"]), given["entries"], examine=examiner(),
                          device=given["device"])
print(json.dumps([verdict.verdict for verdict in verdicts]))
"""


def test_two_processes_push_the_same_batch(house: House, ann, database_url):
    batch = [ann.entry(recorded_at="2020-01-01T00:00:00.000Z") for _ in range(60)]
    given = {"url": database_url, "person": vars(ann.person), "entries": batch, "device": ann.device}
    started = [subprocess.Popen([sys.executable, "-W", "error", "-c", PUSHER], cwd=ROOT, text=True,
                                stdin=subprocess.PIPE, stdout=subprocess.PIPE) for _ in range(2)]  # fmt: skip
    for process in started:
        json.dump(given, process.stdin)
        process.stdin.close()
    answers = []
    for process in started:
        answers.append(json.loads(process.stdout.read().removeprefix("ready\n")))
        process.stdout.close()
        assert process.wait(60) == 0
    pairs = [set(pair) for pair in zip(*answers, strict=True)]
    assert pairs == [{"applied", "duplicate"}] * 60
    assert counts(house) == (60, 60, 60)


class Reader(threading.Thread):
    """Polls as a device does, as fast as it can, and never looks back behind its cursor."""

    def __init__(self, house: House, phone) -> None:
        super().__init__()
        self.house, self.phone, self.seen, self.done = house, phone, [], threading.Event()

    def run(self) -> None:
        cursor, last_round = 0, False
        while True:
            with self.house.database.reading() as session:
                page = next_page(session, self.phone, cursor)
            self.seen += [entry["seq"] for entry in page.entries]
            cursor = page.after
            if last_round and not page.more:
                return
            last_round = self.done.is_set()


def push_patiently(house: House, phone, batch):
    """Push as a device does: what waited too long for its turn is sent again."""
    for _ in range(20):
        with suppress(OperationalError):
            return push(house, phone, batch)
    raise AssertionError("its turn never came")


def test_a_reader_who_never_looks_back_misses_nothing(house: House, ann):
    reader = Reader(house, ann)
    batches = [[[ann.entry() for _ in range(3)] for _ in range(ROUNDS)] for _ in range(WRITERS)]

    def write(rounds):
        for batch in rounds:
            assert {verdict.verdict for verdict in push_patiently(house, ann, batch)} == {"applied"}

    reader.start()
    with ThreadPoolExecutor(WRITERS) as pool:
        list(pool.map(write, batches))
    reader.done.set()
    reader.join(60)
    total = WRITERS * ROUNDS * 3
    assert reader.seen == list(range(1, total + 1))
    assert counts(house) == (total, total, total)


def test_a_slow_commit_holds_back_the_numbers_after_it(house: House, ann):
    """With a plain sequence the second would commit 2 while 1 is still unseen, and 1 would be missed."""
    holding, release, order = threading.Event(), threading.Event(), []

    def slow():
        with house.database.writing() as session:
            organisation = lock_counter(session, house.organisation)
            organisation.head += 1
            store(session, ann, organisation.head)
            session.flush()
            holding.set()
            assert release.wait(60)
            order.append("slow")

    def quick():
        [verdict] = push(house, ann, [ann.entry()])
        order.append("quick")
        return verdict.seq

    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(slow)
        assert holding.wait(60)
        second = pool.submit(quick)
        with house.database.reading() as session:
            page = next_page(session, ann, 0)
        assert (page.entries, page.after) == ([], 0)
        assert not second.done()
        release.set()
        first.result(60)
        assert second.result(60) == 2
    assert order == ["slow", "quick"]
    with house.database.reading() as session:
        page = next_page(session, ann, 0)
    assert [entry["seq"] for entry in page.entries] == [1, 2]


def store(session: Session, phone, seq: int) -> None:
    found = examiner()(phone.entry(), phone.person, NOW)
    rows = EntryRows(session, Sender(phone.person, phone.device, NOW))
    rows.store([(*rows.of(found), seq)])


def test_a_rollback_leaves_no_hole(house: House, ann, monkeypatch):
    push(house, ann, [ann.entry()])
    with monkeypatch.context() as patch:
        patch.setattr("webapp.storage.append.hold", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            push(house, ann, [ann.entry(), ann.entry()])
    assert [verdict.seq for verdict in push(house, ann, [ann.entry()])] == [2]
    assert counts(house) == (2, 2, 2)


@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
def test_organisations_do_not_wait_for_each_other_on_postgresql(house: House, ann):
    cleo = house.phone("cleo")
    with house.database.writing() as session:
        lock_counter(session, house.organisation)
        assert push(house, cleo, [cleo.entry()])[0].verdict == "applied"


def test_waiting_too_long_for_the_counter_is_busy_not_lost(house: House, ann, database_url):
    entry = ann.entry()
    with impatient(database_url) as database, house.database.writing() as session:
        lock_counter(session, house.organisation)
        with pytest.raises(OperationalError):
            append_entries(database, ann.person, [entry], examine=examiner(), device=ann.device, now=NOW)
    assert push(house, ann, [entry])[0].verdict == "applied"


@contextmanager
def impatient(url: str) -> Iterator[Database]:
    """The same database for somebody who gives up soon, so that the test need not wait."""
    database = Database(url, SECRET)
    on_sqlite = url.startswith("sqlite")

    @event.listens_for(database.engine, "connect")
    def hurry(connection, _record):
        with closing(connection.cursor()) as cursor:
            cursor.execute("PRAGMA busy_timeout=100" if on_sqlite else "SET lock_timeout='100ms'")
        connection.commit()

    yield database
    database.dispose()


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize(("pragma", "value"), [
    ("journal_mode", "wal"), ("foreign_keys", 1), ("synchronous", 2), ("busy_timeout", 5000)])  # fmt: skip
def test_sqlite_is_set_up_to_lose_nothing(house: House, pragma, value):
    with house.database.engine.connect() as connection:
        assert connection.exec_driver_sql(f"PRAGMA {pragma}").scalar() == value


@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
@pytest.mark.parametrize(("setting", "value"), [
    ("lock_timeout", "3s"), ("idle_in_transaction_session_timeout", "10s"), ("TimeZone", "UTC")])  # fmt: skip
def test_postgresql_is_set_up_not_to_wait_for_ever(house: House, setting, value):
    with house.database.engine.connect() as connection:
        assert connection.exec_driver_sql(f"SHOW {setting}").scalar() == value


FLUSH = {"sqlite": "PRAGMA synchronous", "postgresql": "SHOW synchronous_commit"}
WAITED_FOR = {"sqlite": 2, "postgresql": "on"}
NOT_WAITED_FOR = {"sqlite": 1, "postgresql": "off"}


def test_only_what_the_next_request_would_write_again_is_not_waited_for(house: House):
    """A note may be lost with the power, an entry never: also on a connection that noted something before."""
    kind = house.database.engine.dialect.name
    with as_a_service_has_it(house.database) as database:
        asked = []
        for unit in (database.writing, database.noting, database.writing):
            with unit() as session:
                asked.append(session.connection().exec_driver_sql(FLUSH[kind]).scalar())
    assert asked == [WAITED_FOR[kind], NOT_WAITED_FOR[kind], WAITED_FOR[kind]]


@contextmanager
def as_a_service_has_it(database: Database) -> Iterator[Database]:
    """The same database with commits that reach the disk: those of the tests wait for nothing."""
    if database.engine.dialect.name == "sqlite":
        yield database
        return
    name = database.engine.url.database
    with database.writing() as session:
        session.execute(text(f'ALTER DATABASE "{name}" SET synchronous_commit = on'))
    fresh = Database(database.url, SECRET)
    yield fresh
    fresh.dispose()
    with database.writing() as session:
        session.execute(text(f'ALTER DATABASE "{name}" RESET synchronous_commit'))


def test_whoever_waits_to_write_has_a_turn_soon(tmp_path):
    """Turns are counted, not timed: nobody waits while the others have half of all."""
    url, turns, lock = f"sqlite:///{tmp_path / 'turns.db'}", [], threading.Lock()
    upgrade(url)

    def write(name: int) -> None:
        database = Database(url)
        for _turn in range(TURNS):
            with database.writing() as session:
                session.execute(text("SELECT 1"))
                with lock:
                    turns.append(name)
                time.sleep(0.004)
        database.dispose()

    with ThreadPoolExecutor(FEW) as pool:
        list(pool.map(write, range(FEW)))
    for name in range(FEW):
        own = [place for place, each in enumerate(turns) if each == name]
        between = [after - before for before, after in itertools.pairwise(own)]
        assert max(between) < TURNS * FEW / 2, turns
