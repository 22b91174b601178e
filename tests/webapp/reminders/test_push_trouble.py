"""Push services that refuse, throttle, point elsewhere or fail; a database that is busy afterwards."""


import pytest
from sqlalchemy import select
from sqlalchemy.exc import OperationalError

from tests.webapp.reminders.support import (
    TOMORROW_EARLY,
    ask,
    at,
    reminders,
    subscribe,
)
from webapp.reminders import sending
from webapp.storage.models import PushSubscription


@pytest.mark.parametrize("status", [404, 410])
def test_a_subscription_that_is_gone_is_ended_and_the_other_browser_still_hears(
    served, remind, push_service, status
):
    ann, browser, worker = remind
    other = push_service.browser()
    subscribe(ann, other)
    browser.answers.append((status, {}))
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    assert browser.received == [] and len(other.received) == 1
    with served.database.reading() as session:
        ended = session.execute(
            select(PushSubscription.endpoint, PushSubscription.ended_why).where(
                PushSubscription.ended_at.is_not(None)
            )
        ).all()
    assert [tuple(row) for row in ended] == [(browser.endpoint, f"status_{status}")]
    ann.sign_in()
    assert ask(ann).json["browsers"] == 1


def test_a_throttled_reminder_waits_as_long_as_it_was_asked_to(served, remind):
    _ann, browser, worker = remind
    browser.answers.append((429, {"Retry-After": "1800"}))
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    [row] = reminders(served, "waiting")
    assert (row.due_at, row.attempts, row.code) == (at("2026-11-26T08:00Z"), 1, "status_429")
    served.clock.moment = at("2026-11-26T07:59:59Z")
    worker.once()
    assert browser.received == []
    served.clock.moment = at("2026-11-26T08:00Z")
    worker.once()
    assert len(browser.received) == 1


def test_who_has_it_does_not_get_it_again_when_another_browser_is_tried_again(served, remind, push_service):
    ann, browser, worker = remind
    other = push_service.browser()
    subscribe(ann, other)
    other.answers.append((503, {}))
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    served.clock.moment = at("2026-11-26T07:35Z")
    worker.once()
    assert (len(browser.received), len(other.received)) == (1, 1)


def test_after_six_attempts_it_is_given_up_until_the_next_occasion(served, remind, push_service):
    _ann, browser, worker = remind
    browser.answers += [(500, {})] * 20
    served.clock.moment = TOMORROW_EARLY
    path = browser.endpoint.removeprefix(f"http://{push_service.host}")
    for minutes in (0, 1, 5, 30, 120, 240, 600):
        served.clock.forward(minutes=minutes)
        worker.once()
    assert push_service.asked[path] == 6
    assert [row.state for row in reminders(served)] == ["failed", "waiting"]
    assert reminders(served)[1].due_at == at("2026-11-30T07:30Z")


@pytest.mark.parametrize("status", [301, 307])
def test_case_30_a_push_service_that_points_elsewhere_is_not_followed(served, remind, push_service, status):
    _ann, browser, worker = remind
    elsewhere = push_service.browser()
    browser.answers.append((status, {"Location": elsewhere.endpoint}))
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    path = elsewhere.endpoint.removeprefix(f"http://{push_service.host}")
    assert push_service.asked[path] == 0
    assert [row.code for row in reminders(served, "failed")] == [f"status_{status}"]


def test_a_message_the_service_finds_too_large_is_not_tried_again(served, remind):
    _ann, browser, worker = remind
    browser.answers.append((413, {}))
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    assert [(row.state, row.attempts) for row in reminders(served)][0] == ("failed", 1)


def test_a_database_that_is_busy_after_sending_is_waited_for_and_nothing_sent_twice(
    served, remind, monkeypatch
):
    _ann, browser, worker = remind
    real, busy = sending.settle, [OperationalError("", {}, Exception("locked"))] * 2

    def settle(*given):
        if busy:
            raise busy.pop()
        return real(*given)

    monkeypatch.setattr(sending, "settle", settle)
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    worker.once()
    assert busy == [] and len(browser.received) == 1
    assert [row.state for row in reminders(served)] == ["sent", "waiting"]
