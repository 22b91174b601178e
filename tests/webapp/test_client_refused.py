"""The Python client when whole requests are refused, or bring no answer: what it sends next."""

import json

import pytest

from sync.client import DAY, Client
from sync.device import State
from sync.errors import AnswerError, ServerRefused
from sync.packing import unpack
from sync.store import MemoryStore
from sync.transport import Answer, HttpTransport
from tests.webapp.support import PASSWORD, House, new_id
from tests.webapp.test_python_client import note, texts
from tests.webapp.test_python_client import url as url  # a fixture

STUMBLE = b'{"error": {"code": "server_error", "field": null, "message": "Something went wrong."}}'


class Stumbling:
    """A transport to a server that stumbles over any message with these words in it, while it does."""

    def __init__(self, inner: HttpTransport) -> None:
        self.inner, self.words, self.silent, self.damages = inner, "", False, False
        self.sent, self.packed = [], []

    def get(self, path):
        return self.inner.get(path)

    def form(self, path, fields):
        return self.inner.form(path, fields)

    def post(self, path, data, headers):
        packed = "Content-Encoding" in headers
        self.packed.append(packed)
        if self.damages and packed:
            return self.inner.post(path, data[:-9], headers)
        text = unpack(data, 10**7) if packed else data
        self.sent.append(json.loads(text))
        if self.silent:
            raise AnswerError("no answer")
        if self.words and self.words.encode() in text:
            return Answer(500, {"content-type": "application/json"}, STUMBLE)
        return self.inner.post(path, data, headers)


def client_of(house: House, url: str, state: State) -> Client:
    transport = Stumbling(HttpTransport(url))
    client = Client(transport, MemoryStore(state), clock=lambda: house.clock().timestamp())
    client.sign_in("ann@example.org", PASSWORD)
    return client


def some_that_stumble(phone: Client, house: House, places: set[int], count: int = 8) -> set[str]:
    """Record so many notes, at some places such as the server stumbles over; the ids of these."""
    phone._transport.words = "stumbles"
    made = {number: note(phone, house, f"{'stumbles' if number in places else 'goes'} {number}")
            for number in range(count)}  # fmt: skip
    return {made[number] for number in places}


@pytest.mark.parametrize("places", [{0}, {3}, {7}, {0, 1}, {2, 6}])
def test_what_the_server_stumbles_over_does_not_hold_up_the_rest_and_goes_once_it_can(
    house: House, url, places
):
    phone = client_of(house, url, State(device=new_id()))
    stumbling = some_that_stumble(phone, house, places)
    phone.sync_all()
    assert texts(phone) == [f"goes {number}" for number in range(8) if number not in places]
    assert set(phone.state.outbox) == phone.state.later == stumbling
    phone._transport.sent.clear()
    phone.sync_all()
    assert [message["push"] for message in phone._transport.sent] == [[]]  # not before a day is over
    phone._transport.words = ""
    house.clock.forward(seconds=DAY)
    phone.sign_in("ann@example.org", PASSWORD)
    phone.sync_all()
    assert dict(phone.state.outbox) == {} and len(texts(phone)) == 8


def test_of_many_that_the_server_stumbles_over_some_go_aside_at_a_time_and_the_rest_goes(house: House, url):
    phone = client_of(house, url, State(device=new_id()))
    stumbling = some_that_stumble(phone, house, {0, 1, 2, 5, 9, 10, 11}, count=12)
    for _ in range(5):
        try:
            phone.sync_all()
        except ServerRefused:
            continue
    assert len(texts(phone)) == 5 and set(phone.state.outbox) == stumbling


def test_what_was_recorded_since_goes_on_the_day_on_which_it_is_tried_again_by_a_program_that_begins_anew(
    house: House, url
):
    phone = client_of(house, url, State(device=new_id()))
    stumbling = some_that_stumble(phone, house, {1})
    phone.sync_all()
    again = client_of(house, url, phone.state)
    again._transport.words = "stumbles"
    note(again, house, "since")
    again.sync_all()
    assert "since" in texts(again) and set(again.state.outbox) == again.state.later == stumbling


@pytest.mark.parametrize("count", [1, 8])
def test_a_servers_bad_moment_sets_nothing_aside(house: House, url, count):
    phone = client_of(house, url, State(device=new_id()))
    some_that_stumble(phone, house, set(), count)
    phone._transport.words = '"push"'  # whatever the message
    for _ in range(8):
        phone._transport.sent.clear()
        with pytest.raises(ServerRefused):
            phone.sync_all()
        assert len(phone._transport.sent) == 2
    assert len(phone.state.outbox) == count and phone.state.later == set()
    phone._transport.words = ""
    phone.sync_all()
    assert dict(phone.state.outbox) == {} and len(texts(phone)) == count


def test_while_the_server_takes_nothing_but_answers_nothing_is_set_aside(house: House, url):
    phone = client_of(house, url, State(device=new_id()))
    some_that_stumble(phone, house, set(range(8)))
    with pytest.raises(ServerRefused):
        phone.sync_all()
    assert len(phone.state.outbox) == 8 and phone.state.later == set()


def test_what_is_damaged_on_its_way_when_packed_goes_as_it_is(house: House, url):
    phone = client_of(house, url, State(device=new_id()))
    some_that_stumble(phone, house, set())
    phone._transport.damages = True
    phone.sync_all()
    assert dict(phone.state.outbox) == {} and phone._transport.packed == [True, False]


def test_after_no_answer_its_own_go_without_what_others_recorded_until_they_are_answered(house: House, url):
    others = {"id": new_id(), "kind": "note", "client": house.clients["ann1"], "body": {"text": "of others"}}
    phone = client_of(house, url, State(device=new_id(), returning={others["id"]: others}))
    note(phone, house, "own")
    phone._transport.silent = True
    for _ in range(3):
        with pytest.raises(AnswerError):
            phone.sync()
    assert [bool(message.get("returned")) for message in phone._transport.sent] == [True, False, False]
    phone._transport.silent = False
    phone._transport.sent.clear()
    phone.sync_all()
    assert [bool(message.get("returned")) for message in phone._transport.sent][:2] == [False, True]
    assert texts(phone) == ["own"]
