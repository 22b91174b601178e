"""A phone: a store for each person who uses it, a clock that may be wrong, requests of two windows."""

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
from sync.refusals import refusal_in
from sync.replies import Reply, parse_reply
from sync.transport import Answer

WINDOWS = 2
# Where the power may fail: while recording, while asking, while filing an answer.
STEPS = (
    "before an entry is made", "before it asks", "after it sent", "before it looks at the answer",
    "before the store", "while the store writes", "after the store",
)  # fmt: skip


class PowerCut(Exception):
    """The phone went off; what its store had not put is gone."""


@dataclass(frozen=True)
class Flight:
    """A request under way: kept in memory only."""

    number: int
    window: int
    person: str
    asked: Request


@dataclass(frozen=True)
class Saved:
    """An entry that a phone called saved."""

    entry: Mapping[str, Any]
    hash: str
    person: str
    skew: timedelta


class Flash:
    """A store as a phone has one: a state is written beside the one before and then put in its place."""

    def __init__(self, state: device.State, step: Callable[[str], None]) -> None:
        self.state, self.draft, self.step = state, state, step

    def get(self) -> device.State:
        return self.state

    def put(self, state: device.State) -> None:
        self.step("before the store")
        self.draft = state
        self.step("while the store writes")
        self.state = self.draft
        self.step("after the store")


class Phone:
    """What survives a power cut is `stores`, `cookie` and `skew`; `flights` do not."""

    offers = 3  # of what waits in vain, how much an exchange at rest offers again
    stride = 1  # how many of its steps count as one when it is said where the power fails

    def __init__(self, name: str, person: str, now: Callable[[], datetime], new_id: Any) -> None:
        self.name, self.person, self.now, self.new_id = name, person, now, new_id
        self.stores: dict[str, Flash] = {}
        self.cookie: str | None = None
        self.skew = timedelta()
        self.flights: dict[int, Flight] = {}
        self.sent = self.delivered = 0
        self.off_in: int | None = None
        self.post: Callable[..., None] = lambda *_message: None

    def store(self, person: str | None = None) -> Flash:
        """The store of a person on this phone, made when they first use it."""
        owner = person or self.person
        if owner not in self.stores:
            self.stores[owner] = Flash(device.State(device=self.new_id(), person=owner), self.step)
        return self.stores[owner]

    @property
    def state(self) -> device.State:
        return self.store().get()

    def state_of(self, person: str) -> device.State:
        return self.store(person).get()

    def flight(self, number: int) -> Flight | None:
        """The request of this number, if a window still waits for its answer."""
        return next((one for one in self.flights.values() if one.number == number), None)

    def record(self, draft: Mapping[str, Any], own: str) -> Saved:
        """Save an entry; whoever gets an answer may call it saved."""
        self.step("before an entry is made")
        moment = write_instant(self.now() + self.skew)
        empty = {"visit": None, "amends": None, "voids": None, "reason": None}
        made = empty | {"id": own, "schema": 1, "recorded_at": moment, "utc_offset": 0, "author": self.person}
        state = device.save(self.state, made | dict(draft))
        self.store().put(state)
        return self.found(own)

    def found(self, own: str) -> Saved:
        """An unsent entry of this phone's as one that was saved."""
        entry = self.state.outbox[own]
        return Saved(entry, entry_hash(dict(entry)), self.person, self.skew)

    def ask(self, most: int, send_held: bool, window: int = 0) -> None:
        """Begin an exchange in a window: what travels is posted."""
        if window in self.flights:
            return
        self.step("before it asks")
        self.sent += 1
        flight = Flight(self.sent, window, self.person, self.message(most, send_held))
        self.flights[window] = flight
        self.post(flight.number, json.dumps(request_json(flight.asked), ensure_ascii=False).encode())
        self.step("after it sent")

    def message(self, most: int, send_held: bool = False) -> Request:
        """What this phone has to say now."""
        push = device.batch(self.state, most, send_held)
        returned = returning.handing_back(self.state, most)
        return device.request(self.state, push, "simulation", self.name, returned)

    def hear(self, number: int, answer: Answer | None) -> bool:
        """What comes back to a request, or nothing: whether it was a reply and has been kept."""
        flight = self.flight(number)
        assert flight is not None
        del self.flights[flight.window]
        if answer is None:
            return False
        self.step("before it looks at the answer")
        try:
            reply = understood(answer, len(flight.asked.push), len(flight.asked.handed_back))
            # Since the request left, more may have been saved: the answer is applied to what is there now.
            self.file(self.store(flight.person), flight, reply)
            return True
        except SignInNeeded:
            self.signed_out(flight)
        except AnswerError:
            pass
        return False

    def file(self, store: Flash, flight: Flight, reply: Reply) -> None:
        """Keep an answer: all of it or nothing."""
        state = device.apply_reply(store.get(), flight.asked, reply, self.now() + self.skew)
        store.put(device.renamed(state, flight.asked, reply, self.new_id))

    def step(self, name: str) -> None:
        """Here the power may fail: at the step it was told to, counted from where it stands."""
        if self.off_in is not None:
            self.off_in -= 1
            if self.off_in < 0:
                self.restart()
                raise PowerCut(name)

    def signed_out(self, _flight: Flight) -> None:
        """A 401, or an answer for somebody else: the screen asks to sign in, nothing else happens."""

    def give_up(self, window: int) -> None:
        self.flights.pop(window, None)

    def restart(self) -> None:
        self.flights.clear()
        self.off_in = None

    def copy(self) -> dict[str, device.State]:
        """Everything on the phone, as its own backup keeps it."""
        return {person: store.get() for person, store in self.stores.items()}

    def put_back(self, copy: Mapping[str, device.State]) -> None:
        """Everything on the phone is as in a copy."""
        self.restart()
        self.stores = {person: Flash(state, self.step) for person, state in copy.items()}

    def wipe(self) -> set[str]:
        """The store of the person who uses it is gone; the ids of the device that was."""
        gone = {self.state.device, *self.state.former}
        del self.stores[self.person]
        self.restart()
        return gone


def understood(answer: Answer, pushed: int, returned: int) -> Reply:
    """The reply in an answer; an error when there is none."""
    if answer.status != 200:
        refusal = refusal_in(answer)
        raise refusal if isinstance(refusal, SignInNeeded) else AnswerError(f"status {answer.status}")
    return parse_reply(answer.json(), pushed, returned)
