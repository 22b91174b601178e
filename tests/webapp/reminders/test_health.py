"""Whether reminders go out, and the numbers of it: for an operator, about nobody."""

from pathlib import Path

import pytest

from tests.databases import copy_of
from tests.webapp.reminders.support import changed
from tests.webapp.support import House

TOKEN = "an invented token for metrics, long enough"


@pytest.fixture
def database_url(sqlite_template: Path, tmp_path: Path) -> str:
    """One kind of database: test_reminding.py stores and reads the same rows on both."""
    return copy_of(sqlite_template, tmp_path)



def test_no_worker_is_told_and_one_that_was_heard_of_is_enough(served, worker_for):
    browser = served.app.test_client()
    assert browser.get("/healthz/reminders").status_code == 503
    worker_for(served).once()
    answer = browser.get("/healthz/reminders")
    assert (answer.status_code, answer.json) == (200, {"reminders": "ok", "workers": 1})
    served.clock.forward(minutes=6)
    assert browser.get("/healthz/reminders").status_code == 503


def test_a_note_nobody_reckons_is_told(served, worker_for):
    worker_for(served).once()
    changed(served, served.clients["ann1"])
    served.clock.forward(minutes=16)
    worker = worker_for(served)
    worker._beat()
    assert served.app.test_client().get("/healthz/reminders").json == {"reminders": "late", "workers": 1}


def test_the_numbers_need_their_token(database_url, worker_for):
    house = House(database_url, metrics_token=TOKEN)
    browser = house.app.test_client()
    for given in ({}, {"Authorization": "Bearer no"}, {"Authorization": TOKEN}):
        assert browser.get("/metrics", headers=given).status_code == 404
    answer = browser.get("/metrics", headers={"Authorization": f"Bearer {TOKEN}"})
    lines = answer.text.splitlines()
    assert lines[-1] == "# EOF" and "lintel_reminders_workers 0" in lines
    # OpenMetrics: a TYPE line in front of each sample, no name twice.
    names = [line.split()[0] for line in lines if not line.startswith("#")]
    assert [line.split()[2] for line in lines if line.startswith("# TYPE")] == names
    assert len(names) == len(set(names))
    house.close()


def test_a_service_without_a_token_has_no_numbers(house):
    answer = house.app.test_client().get("/metrics", headers={"Authorization": "Bearer "})
    assert answer.status_code == 404
