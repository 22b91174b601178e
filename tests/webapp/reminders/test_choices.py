"""What a person may choose about reminders, and how every bad choice is answered at its field."""

from pathlib import Path

import pytest

from tests.databases import copy_of
from tests.webapp.reminders.support import HABITS, ask, subscribe
from webapp.reminders.subscriptions import MOST


@pytest.fixture
def database_url(sqlite_template: Path, tmp_path: Path) -> str:
    """One kind of database: test_reminding.py stores and reads the same rows on both."""
    return copy_of(sqlite_template, tmp_path)



@pytest.mark.parametrize(
    ("field", "value", "named"),
    [
        ("at", "25:00", "at"),
        ("at", None, "at"),
        ("zone", "Nowhere/City", "zone"),
        ("zone", "../../etc/passwd", "zone"),
        ("days", "8", "days"),
        ("days", "21", "days"),
        ("quiet_from", "2026-13-01", "quiet_from"),
        ("quiet_from", "2026-12-01", "quiet_until"),
        ("quiet_until", "2026-12-01", "quiet_from"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(served, field, value, named):
    ann = served.phone("ann")
    answer = ask(ann, "/habits", HABITS | {field: value})
    assert (answer.status_code, answer.json["error"]["field"]) == (422, named)
    assert ask(ann).json["habits"] is None


def test_quiet_that_ends_before_it_begins(served):
    ann = served.phone("ann")
    answer = ask(ann, "/habits", HABITS | {"quiet_from": "2026-12-02", "quiet_until": "2026-12-01"})
    assert (answer.status_code, answer.json["error"]["field"]) == (422, "quiet_until")


def test_no_working_day_is_a_choice_too(served):
    assert ask(served.phone("ann"), "/habits", HABITS | {"days": ""}).json["habits"]["days"] == ""


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"endpoint": "http://169.254.169.254/"}, "endpoint"),
        ({"endpoint": "https://localhost"}, "endpoint"),
        ({"p256dh": "AAAA"}, "p256dh"),
        ({"p256dh": "BAAA" + "A" * 83}, "p256dh"),  # the right length, no point of the curve
        ({"p256dh": "B" * 87}, "p256dh"),
        ({"p256dh": "ü" * 87}, "p256dh"),
        ({"auth": "AAAA"}, "p256dh"),
        ({"device": "mine"}, "device"),
    ],
)
def test_case_29_a_subscription_that_cannot_be_is_refused_and_nothing_is_sent(
    served, push_service, change, field
):
    ann, browser = served.phone("ann"), push_service.browser()
    answer = ask(ann, "/subscribe", browser.subscription(ann.device) | change)
    assert (answer.status_code, answer.json["error"]["field"]) == (422, field)
    assert not push_service.asked
    assert ask(ann).json["browsers"] == 0


def test_a_person_has_so_many_browsers_and_no_more(served, push_service):
    ann = served.phone("ann")
    for _ in range(MOST):
        subscribe(ann, push_service.browser())
    answer = ask(ann, "/subscribe", push_service.browser().subscription(ann.device))
    assert answer.status_code == 422 and "switch" in answer.json["error"]["message"].casefold()


def test_a_browser_is_reminded_for_who_switched_it_on_last(served, push_service):
    """A phone that two share: its push service gives both the same address."""
    ann, ben, browser = served.phone("ann"), served.phone("ben"), push_service.browser()
    subscribe(ann, browser)
    subscribe(ann, browser)
    assert ask(ann).json["browsers"] == 1
    subscribe(ben, browser)
    assert (ask(ann).json["browsers"], ask(ben).json["browsers"]) == (0, 1)
    # Ann cannot end what is Ben's now.
    ask(ann, "/unsubscribe", {"endpoint": browser.endpoint})
    assert ask(ben).json["browsers"] == 1
    assert ask(ben, "/unsubscribe", {"endpoint": browser.endpoint}).json["browsers"] == 0
    subscribe(ben, browser)
    assert ask(ben).json["browsers"] == 1


def test_the_key_that_phones_subscribe_with_is_told(served, push_service):
    assert ask(served.phone("ann")).json["key"] == push_service.public_key
