"""The Python client when whole requests are refused, or bring no answer: what it sends next."""

import json

import pytest

from sync.caution import TRIES_ALONE
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
        self.inner, self.words, self.silent, self.sent = inner, "", False, []

    def get(self, path):
        return self.inner.get(path)

    def form(self, path, fields):
        return self.inner.form(path, fields)

    def post(self, path, data, headers):
        text = unpack(data, 10**7) if "Content-Encoding" in headers else data
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


def try_again(client: Client, times: int) -> int:
    """Sync until it succeeds, at most so many times; how many it took."""
    for count in range(1, times + 1):
        try:
            client.sync_all()
            return count
        except ServerRefused:
            continue
    raise AssertionError("it never got through")


@pytest.mark.parametrize("place", [0, 3, 7])
def test_what_the_server_stumbles_over_does_not_hold_up_the_rest_and_goes_once_it_can(
    house: House, url, place
):
    phone = client_of(house, url, State(device=new_id()))
    own = [note(phone, house, "stumbles here" if number == place else f"{number}") for number in range(8)]
    phone._transport.words = "stumbles here"
    try_again(phone, 2 * 3 + TRIES_ALONE)  # halved three times, each halving undone once
    assert texts(phone) == sorted(f"{number}" for number in range(8) if number != place)
    assert list(phone.state.outbox) == [own[place]] and phone.state.later == {own[place]}
    phone._transport.sent.clear()
    phone.sync_all()
    assert [len(message["push"]) for message in phone._transport.sent] == [0]
    phone._transport.words = ""
    house.clock.forward(seconds=DAY)
    phone.sign_in("ann@example.org", PASSWORD)
    phone.sync_all()
    assert dict(phone.state.outbox) == {} and "stumbles here" in texts(phone)


def test_a_servers_bad_moment_sets_nothing_aside(house: House, url):
    phone = client_of(house, url, State(device=new_id()))
    for number in range(8):
        note(phone, house, f"{number}")
    phone._transport.words = "push"  # of whatever message
    for _ in range(TRIES_ALONE):
        with pytest.raises(ServerRefused):
            phone.sync_all()
    phone._transport.words = ""
    phone.sync_all()
    assert dict(phone.state.outbox) == {} and len(texts(phone)) == 8


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
