"""The Python client against a real server over a real socket: what a stranger's program would do."""

import threading
from collections.abc import Iterator
from datetime import timedelta

import pytest
from werkzeug.serving import WSGIRequestHandler, make_server

from sync.client import Client
from sync.device import State, batch
from sync.errors import AnswerError, ServerRefused, SignInNeeded
from sync.messages import MAX_BODY_BYTES, MAX_ITEMS
from sync.store import FileStore, MemoryStore
from sync.transport import Answer, HttpTransport
from tests.webapp.support import NOW, PASSWORD, House, new_id
from webapp.storage import assign_caseload, end_caseload
from webapp.storage.epochs import renew_epoch


class Quiet(WSGIRequestHandler):
    def log(self, *_args) -> None:
        pass


@pytest.fixture
def url(house: House) -> Iterator[str]:
    server = make_server("127.0.0.1", 0, house.app, threaded=True, request_handler=Quiet)
    # Often asked whether to stop: the standard half second is longer than most of these tests.
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


class Flaky:
    """A transport that spoils the answers it is told to, after the server has given them."""

    def __init__(self, inner: HttpTransport) -> None:
        self.inner, self.faults, self.posts, self.bytes = inner, [], 0, 0

    def get(self, path):
        return self.inner.get(path)

    def form(self, path, fields):
        return self.inner.form(path, fields)

    def post(self, path, data, headers):
        self.posts, self.bytes = self.posts + 1, self.bytes + len(data)
        fault = self.faults.pop(0) if self.faults else None
        if fault == "no request":
            raise AnswerError("no answer")
        answer = self.inner.post(path, data, headers)
        return answer if fault is None else spoilt(answer, fault)


def spoilt(answer: Answer, fault: str) -> Answer:
    if fault == "reply lost":
        raise AnswerError("no answer")
    if fault == "portal":
        return Answer(200, {"content-type": "text/html"}, b"<html>Welcome to our hotel</html>")
    if fault == "cut":
        return Answer(200, answer.headers, answer.body[: len(answer.body) // 2])
    if fault == "gateway":
        return Answer(502, {"content-type": "text/html"}, b"<html>Bad gateway</html>")
    return Answer(200, answer.headers, b"{}")


FAULTS = ["no request", "reply lost", "portal", "cut", "gateway", "empty"]


def client_of(url: str, name: str = "ann", store=None) -> Client:
    made = Client(Flaky(HttpTransport(url, deadline=20)), store or MemoryStore(State(device=new_id())),
                  clock=NOW.timestamp)  # fmt: skip
    made.sign_in(f"{name}@example.org", PASSWORD)
    return made


def note(client: Client, house: House, text: str, whose: str = "ann1", **other) -> str:
    return client.record("note", house.clients[whose], {"text": text}, **other)


def texts(client: Client) -> list[str]:
    return sorted(entry["body"]["text"] for entry in client.state.entries.values())


def test_two_devices_of_one_person_end_up_the_same(house: House, url):
    phone, tablet = client_of(url), client_of(url)
    own = note(phone, house, "from the phone")
    note(tablet, house, "from the tablet")
    for client in (phone, tablet, phone):
        client.sync_all()
    assert texts(phone) == texts(tablet) == ["from the phone", "from the tablet"]
    assert phone.state.outbox == {} and phone.state.entries[own]["seq"] == 1
    assert {own: entry["seq"] for own, entry in phone.state.entries.items()} == {
        own: entry["seq"] for own, entry in tablet.state.entries.items()}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_an_answer_that_is_none_changes_nothing_and_nothing_is_doubled(house: House, url, fault):
    phone = client_of(url)
    phone._transport.faults = [fault]
    note(phone, house, "only once")
    before = phone.state
    with pytest.raises(AnswerError):
        phone.sync()
    assert phone.state == before
    phone.sync_all()
    assert (texts(phone), dict(phone.state.outbox)) == (["only once"], {})
    other = client_of(url)
    other.sync_all()
    assert texts(other) == ["only once"]


def test_an_expired_session_keeps_everything(house: House, url):
    phone = client_of(url)
    for number in range(20):
        note(phone, house, f"{number:02}")
    house.clock.forward(hours=13)
    with pytest.raises(SignInNeeded):
        phone.sync()
    assert len(phone.state.outbox) == 20
    phone.sign_in("ann@example.org", PASSWORD)
    phone.sync_all()
    assert len(phone.state.outbox) == 0 and len(phone.state.entries) == 20


def test_an_answer_for_somebody_else_is_not_filed(house: House, url):
    phone, ben = client_of(url), client_of(url, "ben")
    note(ben, house, "of ben", whose="ben1")
    ben.sync_all()
    note(phone, house, "of ann")
    before = phone.state
    stays, phone._transport.inner = phone._transport.inner, ben._transport.inner
    phone._session = {**phone.session(), "csrf": ben.session()["csrf"]}
    with pytest.raises(SignInNeeded):
        phone.sync()
    with pytest.raises(SignInNeeded):
        phone.sync()
    assert phone.state == before
    phone._transport.inner = stays
    phone.sync_all()
    assert (texts(phone), dict(phone.state.outbox)) == (["of ann"], {})


def test_nobody_else_can_sign_in_on_a_device_with_a_record(house: House, url):
    phone = client_of(url)
    with pytest.raises(SignInNeeded):
        phone.sign_in("ben@example.org", PASSWORD)


def test_a_stale_token_is_fetched_again(house: House, url):
    phone = client_of(url)
    phone._session = {**phone.session(), "csrf": "stale"}
    note(phone, house, "x")
    phone.sync_all()
    assert dict(phone.state.outbox) == {}


def test_wrong_password_says_so(house: House, url):
    with pytest.raises(SignInNeeded):
        client_of(url).sign_in("ann@example.org", "wrong")


def test_another_protocol_is_told_in_words(house: House, url, monkeypatch):
    phone = client_of(url)
    monkeypatch.setattr("sync.messages.PROTOCOL", 2)
    server_speaks = phone._exchange
    monkeypatch.setattr("sync.client.request_json", lambda _: {"protocol": 9})
    note(phone, house, "x")
    with pytest.raises(ServerRefused) as found:
        phone.sync()
    assert (found.value.status, found.value.code) == (426, "protocol") and server_speaks
    assert len(phone.state.outbox) == 1


def test_a_held_entry_stays_and_does_not_hold_back_the_others(house: House, url):
    phone = client_of(url)
    bad = note(phone, house, "x", whose="ben1")
    note(phone, house, "good")
    phone.sync_all()
    assert list(phone.state.outbox) == [bad] and phone.state.held[bad].code == "not_found"
    assign_caseload(house.database, house.people["ann"], [house.clients["ben1"]], since=NOW)
    phone.sync(send_held=True)
    assert (dict(phone.state.outbox), phone.state.held) == ({}, {})


def test_a_day_of_work_is_one_request(house: House, url):
    phone = client_of(url)
    phone.sync_all()
    for number in range(100):
        note(phone, house, f"note {number}")
    phone._transport.posts = phone._transport.bytes = 0
    phone.sync_all()
    assert phone._transport.posts == 1 and len(phone.state.entries) == 100
    assert phone._transport.bytes < 100 * 120


def test_more_than_a_batch_goes_in_batches(house: House, url):
    phone = client_of(url)
    for number in range(2 * MAX_ITEMS + 1):
        note(phone, house, f"{number}")
    assert phone.sync_all() <= 4
    assert len(phone.state.entries) == 2 * MAX_ITEMS + 1 and dict(phone.state.outbox) == {}


def test_a_client_who_comes_is_filled_and_one_who_goes_is_removed(house: House, url):
    ann, ben = client_of(url), client_of(url, "ben")
    note(ben, house, "early", whose="ben1")
    note(ann, house, "own")
    ben.sync_all()
    ann.sync_all()
    assert texts(ann) == ["own"]
    assign_caseload(house.database, house.people["ann"], [house.clients["ben1"]], since=NOW)
    ann.sync_all()
    assert texts(ann) == ["early", "own"] and ann.state.filling == {}
    end_caseload(house.database, house.people["ann"], house.clients["ann1"], until=NOW + timedelta(seconds=1))
    house.clock.forward(seconds=2)
    note(ann, house, "recorded before it ended")
    ann.sync_all()
    assert (texts(ann), dict(ann.state.outbox)) == (["early"], {})


def test_after_a_restore_devices_offer_again_what_the_server_lost(house: House, url):
    from sqlalchemy import delete

    from webapp.storage.models import Entry, Organisation

    phone, tablet = client_of(url), client_of(url)
    for number in range(4):
        note(phone, house, f"{number}")
    phone.sync_all()
    tablet.sync_all()
    with house.database.writing() as session:
        session.execute(delete(Entry).where(Entry.seq > 2))
        session.get_one(Organisation, house.organisation).head = 2
    renew_epoch(house.database, house.organisation)
    phone.sync_all()
    tablet.sync_all()
    assert texts(phone) == texts(tablet) == ["0", "1", "2", "3"]
    assert dict(phone.state.outbox) == {}


def test_the_state_survives_in_a_file(house: House, url, tmp_path):
    store = FileStore(tmp_path / "device.json", State(device=new_id()))
    phone = client_of(url, store=store)
    note(phone, house, "مريم 😀")
    note(phone, house, "x", whose="ben1")
    phone.sync_all()
    again = FileStore(tmp_path / "device.json", State(device="unused"))
    assert again.get() == phone.state
    assert client_of(url, store=again).sync_all() == 1


def test_amending_before_the_original_was_sent(house: House, url):
    phone = client_of(url)
    own = note(phone, house, "first")
    note(phone, house, "second", amends=own, reason="misheard")
    phone.sync(most=1)
    assert len(phone.state.outbox) == 1
    phone.sync_all()
    assert texts(phone) == ["first", "second"]


def test_what_no_server_takes_is_held_and_the_rest_goes(house: House, url):
    phone = client_of(url)
    note(phone, house, "before")
    own = note(phone, house, "x" * (MAX_BODY_BYTES + 1))
    note(phone, house, "after")
    phone.sync_all()
    assert texts(phone) == ["after", "before"]
    assert {held: verdict.code for held, verdict in phone.state.held.items()} == {own: "too_large"}


def test_what_only_a_newer_server_knows_is_offered_once_a_day(house: House, url):
    hours = 0.0
    phone = Client(HttpTransport(url), MemoryStore(State(device=new_id())),
                   clock=lambda: NOW.timestamp() + hours * 3600)  # fmt: skip
    phone.sign_in("ann@example.org", PASSWORD)
    own = phone.record("a_kind_of_tomorrow", house.clients["ann1"], {})
    offered = []
    for hours in (0.0, 1.0, 23.0, 24.0, 25.0):
        sent = batch(phone.state, send_later=phone._clock() >= phone._later_from)
        offered += [hours] * len(sent)
        phone.sync_all()
    assert offered == [0.0, 24.0] and phone.state.verdicts[own].verdict == "later"
