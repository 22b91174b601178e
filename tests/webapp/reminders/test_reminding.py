"""From what is due to a phone: one reminder, encrypted and signed, naming nobody, once."""

from datetime import date

import pytest
from sqlalchemy import func, select

from tests.webapp.reminders.support import (
    HABITS,
    TOMORROW_EARLY,
    ask,
    at,
    changed,
    reminders,
    subscribe,
)
from webapp.storage import assign_caseload, end_caseload
from webapp.storage.devices import set_revoked
from webapp.storage.models import Due, DueChange, PushSubscription
from webapp.storage.people import set_active


def test_one_message_for_all_that_is_due_and_nothing_of_anybody(served, remind, push_service):
    _ann, browser, worker = remind
    assert [row.due_at for row in reminders(served)] == [TOMORROW_EARLY]
    assert browser.received == []
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    worker.once()
    [message] = browser.received
    assert message["body"] == {"k": "reminder", "n": 2, "again": reminders(served)[0].id}
    assert message["topic"] == "due" and 0 < message["ttl"] <= 24 * 3600
    assert push_service.faults == []
    # The next one is on the day both are due.
    assert [row.due_at for row in reminders(served, "waiting")] == [at("2026-11-30T07:30Z")]
    assert [row.state for row in reminders(served)] == ["sent", "waiting"]


def test_every_entry_has_its_client_reckoned_anew(served, remind, dues):
    ann, _browser, worker = remind
    dues.set(served.clients["ann1"], date(2026, 12, 20))
    dues.set(served.clients["ann2"], date(2026, 12, 21))
    with served.database.reading() as session:
        assert session.scalar(select(func.count()).select_from(DueChange)) == 0
    ann.sync(ann.entry(), ann.entry(client="ann2"))
    with served.database.reading() as session:
        noted = set(session.scalars(select(DueChange.client_id)))
    assert noted == {served.clients["ann1"], served.clients["ann2"]}
    worker.once()
    assert [row.due_at for row in reminders(served)] == [at("2026-12-13T07:30Z")]


def test_a_refused_entry_notes_nobody(served, remind):
    ann = remind[0]
    assert ann.verdict(ann.entry(client="ben1"))["verdict"] != "applied"
    with served.database.reading() as session:
        assert session.scalar(select(func.count()).select_from(DueChange)) == 0


def test_what_is_no_longer_due_when_its_time_comes_is_not_sent(served, remind, dues):
    _ann, browser, worker = remind
    for client in ("ann1", "ann2"):
        dues.of.pop(served.clients[client])
    changed(served, served.clients["ann1"], served.clients["ann2"])
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    assert browser.received == []
    assert [row.state for row in reminders(served)] == ["empty"]


def test_a_client_who_changes_hands_changes_whose_reminder_it_is(served, remind, push_service, worker_for):
    _ann, browser, worker = remind
    ben, of_ben = served.phone("ben"), push_service.browser()
    subscribe(ben, of_ben)
    end_caseload(served.database, served.people["ann"], served.clients["ann1"], until=served.clock())
    assign_caseload(served.database, ben.person, [served.clients["ann1"]], since=served.clock())
    served.clock.moment = at("2026-11-26T07:30:01Z")
    worker.once()
    assert [message["body"]["n"] for message in browser.received] == [1]
    served.clock.moment = at("2026-11-27T07:30:01Z")
    worker.once()
    assert [message["body"]["n"] for message in of_ben.received] == [1]


def test_what_somebody_opened_in_an_emergency_is_no_reason_to_remind(served, remind, dues, push_service):
    _ann, browser, worker = remind
    ben, of_ben = served.phone("ben"), push_service.browser()
    subscribe(ben, of_ben)
    from webapp.storage.models import Caseload

    with served.database.writing() as session:
        session.add(
            Caseload(
                organisation_id=served.organisation,
                user_id=ben.person.id,
                client_id=served.clients["ann1"],
                since=served.clock(),
                until=at("2026-11-27T00:00Z"),
                emergency=True,
            )
        )
    changed(served, served.clients["ann1"])
    served.clock.moment = at("2026-11-26T07:30:01Z")
    worker.once()
    assert browser.received and of_ben.received == []


@pytest.mark.parametrize("why", ["withdrawn", "closed", "switched off"])
def test_who_must_not_be_reached_is_not_reached(served, remind, why):
    ann, browser, worker = remind
    ann.sync()
    if why == "withdrawn":
        assert set_revoked(served.database, served.organisation, ann.device, served.clock())
    elif why == "closed":
        set_active(served.database, ann.person, False)
    else:
        assert ask(ann, "/unsubscribe", {"endpoint": browser.endpoint}).status_code == 200
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    assert browser.received == []
    assert reminders(served)[0].state == "nobody"


def test_missed_hours_are_caught_up_in_one_message_and_not_at_night(served, remind):
    """The worker was away from Wednesday to Monday night: three occasions passed."""
    _ann, browser, worker = remind
    served.clock.moment = at("2026-11-30T23:00Z")
    worker.once()
    assert browser.received == []
    assert [row.due_at for row in reminders(served, "waiting")] == [at("2026-12-01T07:30Z")]
    served.clock.moment = at("2026-12-01T07:30Z")
    worker.once()
    worker.once()
    assert len(browser.received) == 1
    assert [row.due_at for row in reminders(served, "waiting")] == [at("2026-12-08T07:30Z")]


def once_more(served, number):
    """As the service worker asks, on a phone whose session is over."""
    phone = served.phone("ann", sign_in=False)
    return phone.browser.post("/reminders/again", json={"reminder": number})


def test_once_more_comes_on_the_next_working_day(served, remind):
    _ann, browser, worker = remind
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    assert once_more(served, browser.received[0]["body"]["again"]).json == {"day": "2026-11-27"}
    served.clock.moment = at("2026-11-27T07:30Z")
    worker.once()
    assert len(browser.received) == 2


@pytest.mark.parametrize("number", ["nobody's", "00000000-0000-4000-8000-000000000001", 7, None])
def test_once_more_needs_the_number_of_a_reminder_that_was_sent(served, remind, number):
    assert once_more(served, number).status_code in (404, 422)
    [waiting] = reminders(served)
    assert once_more(served, waiting.id).status_code == 404
    assert [row.due_at for row in reminders(served)] == [TOMORROW_EARLY]


def test_once_more_is_for_a_message_of_today_or_yesterday(served, remind):
    _ann, browser, worker = remind
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    served.clock.forward(hours=37)
    assert once_more(served, browser.received[0]["body"]["again"]).status_code == 404


def test_other_habits_move_the_reminder_that_waits(served, remind):
    ann = remind[0]
    chosen = HABITS | {"at": "12:15", "zone": "America/New_York", "days": "35"}
    answer = ask(ann, "/habits", chosen)
    assert answer.json["habits"] == chosen
    # Friday in New York, five hours behind.
    assert [row.due_at for row in reminders(served, "waiting")] == [at("2026-11-27T17:15Z")]


def test_a_service_without_keys_says_so_and_reckons_all_the_same(database_url, dues):
    from tests.webapp.support import House
    from webapp.reminders.worker import Worker

    house = House(database_url)
    ann = house.phone("ann")
    assert ask(ann).json["key"] is None
    dues.set(house.clients["ann1"], date(2026, 11, 30))
    ask(ann, "/habits", HABITS)
    worker = Worker(house.database, dues, None, house.clock)
    house.clock.moment = TOMORROW_EARLY
    worker.once()
    house.clock.moment = at("2026-11-27T07:30Z")
    worker.once()
    assert [row.state for row in reminders(house)][0] == "nobody"
    house.close()


def test_what_was_sent_long_ago_is_forgotten(served, remind):
    ann, browser, worker = remind
    served.clock.moment = TOMORROW_EARLY
    worker.once()
    ann.sign_in()
    ask(ann, "/unsubscribe", {"endpoint": browser.endpoint})
    served.clock.forward(days=61)
    worker.once()
    assert all(row.due_at > TOMORROW_EARLY for row in reminders(served))
    with served.database.reading() as session:
        assert session.scalar(select(func.count()).select_from(PushSubscription)) == 0


def test_a_record_that_cannot_be_reckoned_keeps_its_dates_and_stops_nobody(served, remind, dues):
    _ann, _browser, worker = remind
    bad, good = served.clients["ann1"], served.clients["ann2"]
    dues.set(good, date(2026, 12, 20))
    dues.of[bad] = KeyError("no such rule")
    changed(served, bad, good)
    worker.once()
    with served.database.reading() as session:
        assert session.scalars(select(Due.due_on).order_by(Due.due_on)).all() == [
            date(2026, 11, 30), date(2026, 12, 20),
        ]  # fmt: skip
        assert session.scalars(select(DueChange.client_id)).all() == [bad]
    dues.set(bad, date(2026, 12, 1))
    served.clock.forward(hours=1)
    worker.once()
    with served.database.reading() as session:
        assert session.scalar(select(func.count()).select_from(DueChange)) == 0
