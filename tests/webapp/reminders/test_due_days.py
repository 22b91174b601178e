"""The due dates of a client from the entries that were pushed, stored by a worker with the real rules."""

from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select

from tests.databases import copy_of
from tests.webapp.reminders.support import at
from webapp.reminders.due_days import reckon
from webapp.reminders.worker import Worker
from webapp.storage.models import Due, DueChange
from webapp.storage.switches import change_setting


@pytest.fixture
def database_url(sqlite_template: Path, tmp_path: Path) -> str:
    """One kind of database: what is reckoned does not hang on it."""
    return copy_of(sqlite_template, tmp_path)


@pytest.fixture
def ann(house):
    return house.phone("ann")


def reckoned(house) -> dict[str, tuple[date, date]]:
    Worker(house.database, reckon, None, house.clock).once()
    with house.database.reading() as session:
        rows = session.scalars(select(Due).where(Due.client_id == house.clients["ann1"]))
        return {row.rule.split(":")[0]: (row.from_on, row.due_on) for row in rows}


def set_setting(house, name: str, value) -> None:
    with house.database.writing() as session:
        change_setting(session, house.organisation, name, lambda _before: value, house.clock())


def begun(ann, day: str, visit: str) -> dict:
    """The entry by which a visit begins."""
    return ann.entry("visit_started", {"first": True}, visit=visit, recorded_at=f"{day}T09:00:00.000Z")


VISIT = "00000000-0000-4000-8000-0000000000f1"


def test_the_first_visit_makes_the_first_due_date(house, ann):
    assert reckoned(house) == {}
    assert ann.verdict(begun(ann, "2026-11-24", VISIT))["verdict"] == "applied"
    # 30 days after 24 November 2026 is Thursday, 24 December.
    assert reckoned(house) == {"home_health_30_days": (date(2026, 12, 17), date(2026, 12, 24))}


def test_what_a_service_has_in_force_and_its_holidays_are_heeded(house, ann):
    ann.sync(begun(ann, "2026-11-24", VISIT))
    calendar = {"zone": "Europe/London", "weekend": [6, 7], "holidays": ["2026-12-24"]}
    set_setting(house, "calendar", calendar)
    assert reckoned(house) == {"home_health_30_days": (date(2026, 12, 17), date(2026, 12, 23))}
    set_setting(house, "reassessment", {"in_force": ["planned_date"]})
    assert reckoned(house) == {}


def test_whoever_comes_back_is_reckoned_on_that_day_without_a_further_entry(house, ann):
    ann.sync(begun(ann, "2026-11-24", VISIT))
    assert reckoned(house)
    away = ann.entry("pause", {"item": None, "set": {"from": "2026-11-25", "reason": "hospital"}, "seen": {}})
    assert ann.verdict(away)["verdict"] == "applied"
    assert reckoned(house) == {}
    back = {"set": {"ended": {"how": "resumed", "day": "2026-11-28"}}, "seen": {}, "item": away["id"]}
    assert ann.verdict(ann.entry("pause", back))["verdict"] == "applied"
    assert reckoned(house) == {}
    with house.database.reading() as session:
        assert session.scalars(select(DueChange.reckon_at)).all() == [at("2026-11-28T00:00Z")]
    house.clock.moment = at("2026-11-28T06:00Z")
    assert "home_health_30_days" in reckoned(house)
