"""A phone: a store for each person who uses it, a clock that may be wrong, one request at a time."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sync import device, returning
from sync.canonical import entry_hash
from sync.errors import AnswerError, SignInNeeded
from sync.instants import write_instant
from sync.messages import Request, request_json
from sync.replies import Reply, parse_reply
from sync.store import MemoryStore
from sync.transport import Answer


class PowerCut(Exception):
    """The phone went off; what its store had not put is gone."""


@dataclass(frozen=True)
class Flight:
    """A request under way: kept in memory only."""

    number: int
    person: str
    asked: Request


@dataclass(frozen=True)
class Saved:
    """An entry that a phone called saved."""

    entry: Mapping[str, Any]
    hash: str
    person: str


class Phone:
    """What survives a power cut is `stores`, `cookie` and `skew`; `flight` does not."""

    def __init__(self, name: str, person: str, now: Callable[[], datetime], new_id: Any) -> None:
        self.name, self.person, self.now, self.new_id = name, person, now, new_id
        self.stores: dict[str, MemoryStore] = {}
        self.cookie: str | None = None
        self.skew = timedelta()
        self.flight: Flight | None = None
        self.flights = self.delivered = 0
        self.off_at: str | None = None

    def store(self, person: str | None = None) -> MemoryStore:
        """The store of a person on this phone, made when they first use it."""
        owner = person or self.person
        if owner not in self.stores:
            self.stores[owner] = MemoryStore(device.State(device=self.new_id(), person=owner))
        return self.stores[owner]

    @property
    def state(self) -> device.State:
        return self.store().get()

    def record(self, draft: Mapping[str, Any], own: str) -> Saved:
        """Save an entry; whoever gets an answer may call it saved."""
        moment = write_instant(self.now() + self.skew)
        empty = {"visit": None, "amends": None, "voids": None, "reason": None}
        made = empty | {"id": own, "schema": 1, "recorded_at": moment, "utc_offset": 0, "author": self.person}
        state = device.save(self.state, made | dict(draft))
        self.keep(self.store(), state)
        entry = state.outbox[own]
        return Saved(entry, entry_hash(dict(entry)), self.person)

    def ask(self, most: int, send_held: bool) -> bytes:
        """Begin an exchange; the bytes that travel."""
        push = device.batch(self.state, most, send_held)
        returned = returning.handing_back(self.state, most)
        asked = device.request(self.state, push, "simulation", self.name, returned)
        self.flights += 1
        self.flight = Flight(self.flights, self.person, asked)
        return json.dumps(request_json(asked), ensure_ascii=False).encode()

    def hear(self, answer: Answer | None) -> Reply | None:
        """What comes back, or nothing: the reply when it was one and has been kept."""
        flight, self.flight = self.flight, None
        if flight is None or answer is None:
            return None
        try:
            return self.take(flight, answer)
        except SignInNeeded:
            self.signed_out(flight)
        except AnswerError:
            pass
        return None

    def take(self, flight: Flight, answer: Answer) -> Reply:
        reply = understood(answer, len(flight.asked.push), len(flight.asked.handed_back))
        # Since the request left, more may have been saved: the answer is applied to what is there now.
        store = self.store(flight.person)
        self.file(store, flight, reply)
        return reply

    def file(self, store: MemoryStore, flight: Flight, reply: Reply) -> None:
        """Keep an answer: all of it or nothing."""
        state = device.apply_reply(store.get(), flight.asked, reply)
        self.keep(store, device.renamed(state, flight.asked, reply, self.new_id))

    def keep(self, store: MemoryStore, state: device.State) -> None:
        """One transaction of the phone's store; the power may fail before it and after it."""
        self.cut("before the store")
        store.put(state)
        self.cut("after the store")

    def cut(self, moment: str) -> None:
        if self.off_at == moment:
            self.off_at = self.flight = None
            raise PowerCut(moment)

    def signed_out(self, _flight: Flight) -> None:
        """A 401, or an answer for somebody else: the screen asks to sign in, nothing else happens."""

    def put_back(self, copy: Mapping[str, device.State]) -> None:
        """Everything on the phone is as in a copy."""
        self.stores = {person: MemoryStore(state) for person, state in copy.items()}
        self.flight = self.off_at = None

    def wipe(self) -> set[str]:
        """The store of the person who uses it is gone; the ids of the device that was."""
        gone = {self.state.device, *self.state.former}
        del self.stores[self.person]
        self.flight = None
        return gone


def understood(answer: Answer, pushed: int, returned: int) -> Reply:
    """The reply in an answer; an error when there is none."""
    if answer.status == 401:
        raise SignInNeeded("sign in")
    if answer.status != 200:
        raise AnswerError(f"status {answer.status}")
    return parse_reply(answer.json(), pushed, returned)
