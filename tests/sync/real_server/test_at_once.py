"""Requests that meet: the same batch in two workers, a device's first two messages, a caseload in motion."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from functools import partial

from sqlalchemy import func, select

from tests.sync.real_server.gunicorn_server import Gunicorn
from tests.sync.real_server.raw import message_of, post
from tests.sync.real_server.team import Device, Team
from webapp.storage import assign_caseload, end_caseload
from webapp.storage.models import Device as DeviceRow
from webapp.storage.models import Holding


def statuses(answers) -> list[int]:
    return [answer.status for answer in answers]


def devices(team: Team):
    return select(DeviceRow).where(DeviceRow.organisation_id == team.organisation)


def verdicts(answer) -> list[str]:
    return [verdict["verdict"] for verdict in answer.json()["verdicts"]]


def test_the_same_batch_in_two_workers_at_once(team: Team, server: Gunicorn):
    """F8, F23: one is stopped inside its transaction while the other comes with the same entries."""
    phone = Device(team, server.url)
    phone.visit()
    message = message_of(phone)
    server.at("entry", "pause")
    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(post, phone, message)
        server.wait_until_taken()
        second = pool.submit(post, phone, message)
        assert not second.done() and team.rows() == []
        server.go_on()
        answers = [first.result(60), second.result(60)]
    assert statuses(answers) == [200, 200]
    assert [verdicts(answer) for answer in answers] == [["applied"] * 3, ["duplicate"] * 3]
    assert [[one["seq"] for one in answer.json()["verdicts"]] for answer in answers] == [[1, 2, 3]] * 2
    team.check_settled(phone)


def test_the_same_batch_many_times_at_once(team: Team, server: Gunicorn):
    """F8, F23: without any help from a failpoint."""
    phone = Device(team, server.url)
    for _ in range(3):
        phone.visit(5)
        message = message_of(phone)
        with ThreadPoolExecutor(8) as pool:
            answers = list(pool.map(partial(post, phone), [message] * 8))
        # SQLite's queue is not fair: on a slow machine one may be told to come again.
        taken = [answer for answer in answers if answer.status != 503]
        assert statuses(taken) == [200] * len(taken) and len(taken) > 1
        assert sorted(map(verdicts, taken)) == [["applied"] * 5] + [["duplicate"] * 5] * (len(taken) - 1)
        phone.settle()
    team.check_settled(phone)


def test_the_same_message_twice_in_sequence_and_an_old_one_after_a_new_one(team: Team, server: Gunicorn):
    """F8, F9: every message may come again, also after a later one; the report of the later one stays."""
    phone = Device(team, server.url)
    phone.visit()
    early = message_of(phone)
    assert verdicts(post(phone, early)) == ["applied"] * 3
    assert verdicts(post(phone, early)) == ["duplicate"] * 3
    phone.visit()
    phone.settle()
    assert verdicts(post(phone, early)) == ["duplicate"] * 3
    with team.database.reading() as session:
        assert session.scalars(devices(team)).one().last_device_seq == 6
    team.check_settled(phone)


def test_the_first_two_messages_of_a_device_at_once(team: Team, server: Gunicorn):
    """F8: neither is answered 500 because the other has just made the device known."""
    phone = Device(team, server.url)
    phone.visit()
    message = message_of(phone)
    while_it_is_made_known(team, server, phone, message, message)
    with team.database.reading() as session:
        assert session.scalars(devices(team)).one().last_device_seq == 3
    team.check_settled(phone)


def test_a_device_that_is_being_made_known_holds_up_no_entries(team: Team, server: Gunicorn):
    """F8: its first message takes nothing for which the transaction of entries then waits."""
    phone = Device(team, server.url)
    empty = message_of(phone)
    phone.visit()
    answer = while_it_is_made_known(team, server, phone, empty, message_of(phone))
    assert verdicts(answer) == ["applied"] * 3
    phone.settle()
    team.check_settled(phone)


def while_it_is_made_known(team: Team, server: Gunicorn, phone: Device, first, second):
    """The answer to a second message, sent while the first is about to make its device known."""
    server.at("device", "pause")
    with ThreadPoolExecutor(2) as pool:
        earlier = pool.submit(post, phone, first)
        server.wait_until_taken()
        later = pool.submit(post, phone, second)
        if team.database.engine.dialect.name == "postgresql":
            assert later.result(60).status == 200  # on SQLite it waits for the first
        server.go_on()
        assert statuses([earlier.result(60), later.result(60)]) == [200, 200]
    return later.result()


def test_a_caseload_that_changes_in_the_middle_of_a_pull(team: Team, server: Gunicorn):
    """F44: a page that names a client brings what it skips over of that client, or it would be missed."""
    phone, ben = Device(team, server.url), Device(team, server.url, "ben")
    ben.visit()
    ben.settle()
    server.at("clients read", "pause")
    with ThreadPoolExecutor(1) as pool:
        pull = pool.submit(phone.client.sync)
        server.wait_until_taken()
        client, ann = team.clients["both"], team.people["ann"]
        end_caseload(team.database, ann, client, until=datetime.now(UTC).replace(year=2020))
        server.go_on()
        pull.result(60)
    # The client is back before the device asks again: for it, nothing has changed.
    assign_caseload(team.database, ann, [client])
    team.check_settled(phone, ben)
    assert len(phone.state.entries) == 3


def test_sent_under_another_persons_session(team: Team, server: Gunicorn):
    """F47: it stands aside under the other's name only until its own author's session brings it."""
    phone, ben = Device(team, server.url), Device(team, server.url, "ben")
    sent = phone.visit(2)
    amended = phone.keep(phone.client.record("note", team.clients["both"], {"text": "better"},
                                             amends=sent[0], reason="misheard"))  # fmt: skip
    assert verdicts(post(ben, message_of(phone))) == ["held"] * 3
    assert kept(team) == {("ben", False): 3}
    # A correction that comes first waits for its original, and is not told to look after it.
    only = [phone.state.outbox[amended]]
    [verdict] = post(phone, message_of(phone, push=only)).json()["verdicts"]
    assert (verdict["verdict"], verdict["code"]) == ("waiting", "target_missing")
    team.check_settled(phone, ben)
    assert kept(team) == {("ben", True): 3}
    with team.database.reading() as session:
        assert [row.user_id for row in session.scalars(devices(team)).all()
                if row.id == phone.state.device] == [team.people["ann"].id]  # fmt: skip


def kept(team: Team) -> dict[tuple[str, bool], int]:
    """How much stands aside: by whose session brought it, and whether that is settled."""
    names = {person.id: name for name, person in team.people.items()}
    settled = Holding.settled_at.is_not(None)
    query = select(Holding.user_id, settled, func.count()).group_by(Holding.user_id, settled)
    query = query.where(Holding.organisation_id == team.organisation)
    with team.database.reading() as session:
        return {(names[user], bool(done)): count for user, done, count in session.execute(query)}
