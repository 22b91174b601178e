"""Three devices on a line that spoils answers at random: in the end nothing is lost, nothing doubled."""

import random

import pytest
from sqlalchemy import select

from sync.canonical import entry_hash
from sync.client import Client
from sync.device import State
from sync.errors import AnswerError, SignInNeeded
from sync.store import MemoryStore
from sync.transport import Answer
from tests.webapp.support import PASSWORD, House, new_id
from tests.webapp.test_python_client import FAULTS, spoilt
from webapp.storage import assign_caseload, end_caseload
from webapp.storage.models import Entry

STEPS = 120


class InProcess:
    """A transport into the application itself, which spoils some of what comes back."""

    def __init__(self, house: House, chance: random.Random) -> None:
        self.browser, self.chance, self.rate = house.app.test_client(), chance, 0.0

    def get(self, path):
        return whole(self.browser.get(path))

    def form(self, path, fields):
        return whole(self.browser.post(path, data=fields))

    def post(self, path, data, headers):
        if self.chance.random() >= self.rate:
            return whole(self.browser.post(path, data=data, headers=headers))
        fault = self.chance.choice([*FAULTS, "twice"])
        if fault == "no request":
            raise AnswerError("no answer")
        answer = whole(self.browser.post(path, data=data, headers=headers))
        if fault == "twice":
            return whole(self.browser.post(path, data=data, headers=headers))
        return spoilt(answer, fault)


def whole(response) -> Answer:
    headers = {name.lower(): value for name, value in response.headers.items()}
    return Answer(response.status_code, headers, response.data)


class World:
    """The devices, and every entry that any of them once called saved."""

    def __init__(self, house: House, seed: int) -> None:
        self.house, self.chance, self.saved = house, random.Random(seed), {}
        self.devices = [self.device(name) for name in ("ann", "ann", "ben")]

    def device(self, name: str) -> Client:
        transport = InProcess(self.house, self.chance)
        client = Client(transport, MemoryStore(State(device=new_id())), clock=self.seconds)
        client.who, client.line = name, transport
        client.sign_in(f"{name}@example.org", PASSWORD)
        transport.rate = 0.4
        return client

    def seconds(self) -> float:
        return self.house.clock().timestamp()

    def step(self) -> None:
        device = self.chance.choice(self.devices)
        act = self.chance.choices([self.record, self.amend, self.sync, self.move], [5, 2, 6, 1])[0]
        act(device)

    def record(self, device: Client) -> None:
        own = device.state.clients or [self.house.clients[f"{device.who}1"]]
        # Now and then about somebody who is on nobody's caseload here: held, for ever.
        client = self.chance.choice(own) if self.chance.random() < 0.9 else self.house.clients["cleo1"]
        self.keep(device, device.record("note", client, {"text": f"note {len(self.saved)} é😀"}))

    def amend(self, device: Client) -> None:
        known = [*device.state.entries.values(), *device.state.outbox.values()]
        if known:
            target = self.chance.choice(known)
            self.keep(device, device.record("note", target["client"], {"text": f"better {len(self.saved)}"},
                                            amends=target["id"], reason="misheard"))  # fmt: skip

    def keep(self, device: Client, own: str) -> None:
        self.saved[own] = entry_hash(dict(device.state.outbox[own]))

    def sync(self, device: Client) -> None:
        try:
            device.sync(most=self.chance.choice([1, 3, 200]))
        except AnswerError:
            pass
        except SignInNeeded:
            device.sign_in(f"{device.who}@example.org", PASSWORD)

    def move(self, _device: Client) -> None:
        """Ben's client comes onto Ann's caseload, or leaves it."""
        ann, client = self.house.people["ann"], self.house.clients["ben1"]
        self.house.clock.forward(hours=self.chance.choice([0, 1, 13]), seconds=1)
        if self.chance.random() < 0.6:
            assign_caseload(self.house.database, ann, [client], since=self.house.clock())
        else:
            end_caseload(self.house.database, ann, client, until=self.house.clock())

    def quieten(self) -> None:
        for device in self.devices:
            device.line.rate = 0
            device.sign_in(f"{device.who}@example.org", PASSWORD)
        for device in self.devices * 2:
            device.sync_all()


@pytest.mark.parametrize("seed", range(3))
def test_nothing_is_lost_and_nothing_is_doubled(house: House, seed):
    world = World(house, seed)
    for _ in range(STEPS):
        world.step()
    world.quieten()
    with house.database.reading() as session:
        rows = session.execute(select(Entry.id, Entry.hash, Entry.seq, Entry.client_id)).all()
    on_server = {row.id: row.hash for row in rows}
    assert len(on_server) == len(rows) and sorted(row.seq for row in rows) == list(range(1, len(rows) + 1))
    outboxes = {own: entry_hash(dict(entry)) for device in world.devices
                for own, entry in device.state.outbox.items()}  # fmt: skip
    assert len(world.saved) > 30 and outboxes and on_server | outboxes == world.saved
    assert not set(on_server) & set(outboxes)
    for device in world.devices:
        assert set(device.state.outbox) == set(device.state.verdicts)
        due = {row.id: row.hash for row in rows if row.client_id in device.state.clients}
        assert {own: entry_hash(dict(entry)) for own, entry in device.state.entries.items()} == due
