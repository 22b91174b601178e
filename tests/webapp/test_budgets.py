"""What sync may spend, in requests and bytes: counted, never timed. tests/benchmarks measures the rest."""

from datetime import timedelta
from math import ceil

import pytest

from sync.client import Client
from sync.device import State
from sync.messages import MAX_ITEMS
from sync.packing import unpack
from sync.store import MemoryStore
from sync.transport import Answer
from tests.webapp.support import NOW, PASSWORD, PRESSURE, TEMPERATURE, House, new_id

# Measured in tests/benchmarks/RESULTS.md: 45 to 50 bytes an entry, of which the random bits of its id are 9
# and those of the visit's a sixth of that. A fifth more than was measured is a change to look into.
MOST_BYTES_UP = 60
# A verdict and a short confirmation hold an id and a hash: 41 random bytes, written as hex, then packed.
MOST_BYTES_CONFIRMED = 100


class Counting:
    """A transport within the process that counts requests and packed bytes each way."""

    def __init__(self, house: House) -> None:
        self.browser = house.app.test_client()
        self.requests = self.up = self.down = 0

    def get(self, path):
        return self.answer(self.browser.get(path))

    def form(self, path, fields):
        return self.answer(self.browser.post(path, data=dict(fields)))

    def post(self, path, data, headers):
        response = self.browser.post(path, data=data, headers={**headers, "Accept-Encoding": "gzip"})
        self.requests, self.up = self.requests + 1, self.up + len(data)
        self.down += len(response.data)
        return self.answer(response)

    @staticmethod
    def answer(response) -> Answer:
        packed = response.content_encoding == "gzip"
        body = unpack(response.data, 16 * 1024 * 1024) if packed else response.data
        return Answer(response.status_code, {k.lower(): v for k, v in response.headers.items()}, body)


class Recorder:
    """A clock of the device: a minute and a half between entries, all of them before the server's now."""

    def __init__(self) -> None:
        self.moment = NOW - timedelta(days=2)

    def __call__(self) -> float:
        self.moment += timedelta(seconds=90)
        return self.moment.timestamp()


def device(house: House) -> tuple[Client, Counting]:
    transport = Counting(house)
    client = Client(transport, MemoryStore(State(device=new_id())), clock=Recorder())
    client.sign_in("ann@example.org", PASSWORD)
    client.sync_all()
    transport.requests = transport.up = transport.down = 0
    return client, transport


def record(client: Client, house: House, count: int) -> None:
    """Readings without a note, six a visit, their values in turn."""
    visit = ""
    for number in range(count):
        visit = visit if number % 6 else new_id()
        warm = {"site": "oral", "temperature": f"{36 + number % 2}.{1 + number % 9}"}
        if number % 2:
            client.record("temperature", house.clients["ann1"], {**TEMPERATURE, "fields": warm}, visit=visit)
        else:
            client.record("blood_pressure", house.clients["ann2"], PRESSURE, visit=visit)


@pytest.mark.parametrize("count", [1, MAX_ITEMS, MAX_ITEMS + 1])
def test_a_push_takes_no_more_requests_than_batches_and_one(house: House, count):
    client, transport = device(house)
    record(client, house, count)
    client.sync_all()
    assert len(client.state.entries) == count and not client.state.outbox
    assert transport.requests <= ceil(count / MAX_ITEMS) + 1


def test_one_entry_more_is_one_request(house: House):
    client, transport = device(house)
    record(client, house, 60)
    client.sync_all()
    transport.requests = 0
    record(client, house, 1)
    client.sync_all()
    assert transport.requests == 1 and not client.state.outbox


def test_a_second_device_fetches_a_days_work_in_one_request(house: House):
    (writer, _), (reader, transport) = device(house), device(house)
    record(writer, house, 100)
    writer.sync_all()
    reader.sync_all()
    assert len(reader.state.entries) == 100 and transport.requests == 1
    assert transport.down <= 100 * MOST_BYTES_UP


def test_an_entry_without_a_note_takes_few_bytes(house: House):
    client, transport = device(house)
    record(client, house, 100)
    client.sync_all()
    assert not client.state.outbox
    assert transport.up <= 100 * MOST_BYTES_UP
    assert transport.down <= 100 * MOST_BYTES_CONFIRMED


def test_on_a_clean_line_nothing_is_sent_twice(house: House, monkeypatch):
    client, _ = device(house)
    sent: list[str] = []
    exchange = client._exchange

    def noting(message):
        sent.extend(entry["id"] for entry in message["push"])
        return exchange(message)

    monkeypatch.setattr(client, "_exchange", noting)
    record(client, house, MAX_ITEMS + 10)
    client.sync_all()
    assert len(sent) == len(set(sent)) == MAX_ITEMS + 10
