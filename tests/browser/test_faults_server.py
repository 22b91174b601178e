"""The server behind Chromium fails: killed at every moment, its database locked, full or undoing (17 to 21).

Gunicorn with two workers, once on SQLite and once on PostgreSQL.
"""

import pytest

from tests.browser.engine_bench import open_controlled
from tests.browser.kept import check_all_there, check_kept, log_of, save, sync
from tests.sync.real_server.test_database_trouble import ALWAYS, locked_by_a_stranger
from tests.sync.real_server.test_killed_server import MOMENTS

PRINTED = r"Failed to load resource: (net::ERR_|the server responded with a status of 50[03])"
ON_POSTGRESQL = pytest.mark.parametrize("all_workers", ["postgresql"], indirect=True)


@pytest.fixture
def bench(workers):
    return workers


@pytest.fixture
def page(phone, bench, watch):
    """A signed-in page that has synced once."""
    watch.allow(PRINTED)
    page = open_controlled(phone, bench)
    bench.let_in(page)
    assert sync(page, bench.ids["person"])["phase"] == "idle"
    return page


@pytest.mark.parametrize("moment", ["commit", "committed", "half"])
def test_killed_inside_and_after_the_transaction_it_loses_and_doubles_nothing(page, bench, moment):
    """Fault 17: SIGKILL of the whole server; nobody answers until it is started again."""
    person = bench.ids["person"]
    before, saved = len(log_of(bench)), save(page, person, bench.ids["one"], 3)
    bench.at(moment, "die")
    status = sync(page, person)
    assert (status["phase"], status["waiting"]) == ("offline", 3) and bench.was_taken()
    bench.kill()
    assert check_kept(page, bench, person, saved) == dict.fromkeys(saved, "waiting")
    assert len(log_of(bench)) == before + (3 if MOMENTS[moment] else 0)
    bench.go_on()
    bench.start()
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)


def test_one_worker_is_killed_and_the_other_goes_on(page, bench):
    """Fault 17: SIGKILL of the one that serves the request; Chromium may repeat it unasked."""
    person, saved = bench.ids["person"], {}
    for moment in MOMENTS:
        saved |= save(page, person, bench.ids["one"], 3)
        bench.at(moment, "die alone")
        status = sync(page, person)
        assert bench.was_taken(), moment
        assert (status["phase"], status["waiting"]) in (("offline", 3), ("idle", 0)), moment
        bench.go_on()
        check_kept(page, bench, person, saved)
        assert sync(page, person)["phase"] == "idle", moment
        check_all_there(page, bench, person, saved)


def check_waits_and_goes_later(page, bench, saved) -> None:
    """The phone was told to come again and holds everything; the next sync sends it."""
    person = bench.ids["person"]
    assert set(check_kept(page, bench, person, saved).values()) == {"waiting"}
    assert not set(saved) & {entry["id"] for entry in log_of(bench)}
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)


def test_a_locked_database_is_said_and_waited_for(page, bench):
    """Fault 18: somebody else writes for longer than the server waits."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], 2)
    with locked_by_a_stranger(bench.database_url):
        status = sync(page, person)
        assert (status["phase"], status["waiting"]) == ("error", 2) and "busy" in status["message"]
    check_waits_and_goes_later(page, bench, saved)


@ON_POSTGRESQL
@pytest.mark.parametrize("state", ["40001", "40P01", "53100"])
def test_an_undone_transaction_is_sent_again(page, bench, state):
    """Faults 19 and 21: serialisation failure, deadlock, disk full."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], 2)
    bench.at("commit", "sql", sql=ALWAYS.format(state))
    status = sync(page, person)
    assert (status["phase"], status["waiting"]) == ("error", 2) and bench.was_taken()
    check_waits_and_goes_later(page, bench, saved)


def test_a_fault_of_the_server_itself_is_waited_out(page, bench):
    """An answer of 500: nothing was stored, nothing is set aside."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], 2)
    bench.surprises = 1
    bench.at("commit", "fail")
    status = sync(page, person)
    assert (status["phase"], status["waiting"]) == ("error", 2) and bench.was_taken()
    check_waits_and_goes_later(page, bench, saved)


@ON_POSTGRESQL
@pytest.mark.parametrize("how", ["fast", "immediate"])
def test_postgresql_restarted_under_the_pool(page, bench, cluster, how):
    """Fault 20: the workers hold connections that are dead."""
    person = bench.ids["person"]
    saved = save(page, person, bench.ids["one"], 2)
    cluster.control("restart", "-m", how)
    for _ in range(10):
        status = sync(page, person)
        check_kept(page, bench, person, saved)
        if status["phase"] == "idle":
            break
        assert (status["phase"], status["waiting"]) == ("error", 2) and "busy" in status["message"]
    check_all_there(page, bench, person, saved)
