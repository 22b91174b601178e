"""Phones, people, a line and a server; every act takes its choices as numbers, so a run can be repeated."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Any

from sync.canonical import entry_hash
from sync.uuid7 import uuid7
from tests.sync.simulation.phone import Phone, PowerCut, Saved
from tests.sync.simulation.service import SYNC, Service
from tests.sync.simulation.traffic import Traffic
from tests.sync.simulation.witnesses import Witnesses, no_witness, witnesses_of
from webapp.clinical import resolve_entries
from webapp.clinical.record import resolve_details
from webapp.storage import Person

START = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
SKEWS = (timedelta(), timedelta(hours=20), timedelta(days=3), timedelta(days=-400), timedelta(hours=-2))
FIELDS = ("phone", "access", "address")
ORGANISATION, OTHER = (f"00000000-0000-4000-8000-0000000000f{number}" for number in (1, 2))
Makes = Mapping[str, Callable[..., Phone]]


class World(Traffic):
    """Phones of Ann's, of Ben's, of Cat's and one of all; four clients, the last on no caseload at first.

    Cat is of another organisation on the same server, whose clients have the very ids of the first one's.
    `makes` names phones that are made otherwise.
    """

    def __init__(self, service: Any = Service, makes: Makes | None = None) -> None:
        super().__init__()
        self.now, self.made = START, 0
        people = (f"00000000-0000-4000-8000-0000000000a{number}" for number in (1, 2, 3))
        self.ann, self.ben, self.cat = people
        self.clients = [f"00000000-0000-4000-8000-0000000000c{number}" for number in range(4)]
        homes = {self.ann: ORGANISATION, self.ben: ORGANISATION, self.cat: OTHER}
        self.people = {own: Person(own, home, own[-2:], "therapist") for own, home in homes.items()}
        self.everybody = list(self.people)
        self.service = service(self.people, self.now, self.new_id)
        owners = {"a": self.ann, "b": self.ben, "shared": self.ann, "second": self.ann, "c": self.cat}
        self.phones = [self.phone(name, who, (makes or {}).get(name, Phone)) for name, who in owners.items()]
        self.saved: list[Saved] = []
        self.wiped: set[str] = set()
        self.dropped: set[tuple[str, str]] = set()
        self.copies: dict[str, dict[str, Any]] = {}
        self.copied: set[str] = set()
        self.forgotten: set[str] = set()
        self.witnesses: Witnesses = {}
        for person, numbers in ((self.ann, (0, 1)), (self.ben, (1, 2)), (self.cat, (0, 1))):
            for number in numbers:
                self.service.assign(person, self.clients[number])
        for phone in self.phones:
            self.sign_in(phone)

    def phone(self, name: str, person: str, make: Callable[..., Phone]) -> Phone:
        phone = make(name, person, lambda: self.now, self.new_id)
        phone.post = partial(self.post, phone)
        return phone

    def home(self, person: str) -> str:
        """The organisation somebody belongs to."""
        return self.people[person].organisation

    def new_id(self) -> str:
        """An id nobody has used; the moment in it is the world's."""
        self.made += 1
        return uuid7(int(self.now.timestamp() * 1000), self.made.to_bytes(10, "big"))

    def pass_time(self, seconds: int = 1) -> None:
        self.now += timedelta(seconds=seconds)
        self.service.now = self.now

    # What a therapist does.

    def note(self, phone: Phone, client: int) -> None:
        self.record(phone, "note", self.client_on(phone, client), {"text": f"note {self.made} é😀"})

    def client_on(self, phone: Phone, number: int) -> str:
        """Mostly one of those on the phone; a number beyond them names one who may be on no caseload."""
        known = phone.state.clients
        return known[number] if number < len(known) else self.clients[number % len(self.clients)]

    def detail(self, phone: Phone, client: int, field: int, value: int) -> None:
        """Set a detail, having seen what is on this phone."""
        who, name = self.client_on(phone, client), FIELDS[field]
        seen = details_on(phone, who)["seen"].get(name, [])
        self.record(phone, "details", who, {"set": {name: f"value {value}"}, "seen": {name: seen}})

    def settle(self, phone: Phone, number: int) -> None:
        """Choose between two details that disagree."""
        for client in phone.state.clients:
            found = details_on(phone, client)
            for one in found["disagreements"]:
                name, value = one["field"], one["options"][number % len(one["options"])]["value"]
                body = {"set": {name: value}, "seen": {name: found["seen"][name]}}
                self.record(phone, "details", client, body)
                self.seen["settled"] += 1

    def correct(self, phone: Phone, number: int, void: bool) -> None:
        """Amend or withdraw anything on this phone, sent or not, corrections too."""
        state = phone.state
        known = [*state.entries.values(), *state.outbox.values()]
        if not known:
            return
        target = known[-1 - number % len(known)]
        link = {"voids" if void else "amends": target["id"], "reason": "misheard"}
        body = {} if void else target["body"] or {"text": "after all"}
        if target["kind"] == "details" and not body.get("set") and not void:
            return
        self.record(phone, target["kind"], target["client"], body, **link)
        self.seen["corrected unsent"] += target["id"] in state.outbox

    def twin(self, phone: Phone, number: int) -> None:
        """The rarest accident: the same id, made on two phones for two different things."""
        names = {phone.state.device, *phone.state.former}
        others = [saved.entry for saved in self.saved if saved.entry["device"] not in names]
        notes = [entry for entry in others if entry["kind"] == "note" and not entry["amends"]]
        known = {saved.entry["id"] for saved in self.saved if saved.entry["device"] in names}
        known |= {*phone.state.outbox, *phone.state.entries, *phone.state.returning}
        notes = [entry for entry in notes if entry["id"] not in known and not entry["voids"]]
        # Better one that is still to come here: the two meet on a page then.
        notes = [entry for entry in notes if entry["client"] in phone.state.clients] or notes
        if notes:
            other = notes[number % len(notes)]
            self.record(phone, "note", other["client"], {"text": f"twin {self.made}"}, own=other["id"])

    def record(self, phone: Phone, kind: str, client: str, body: Any, own: str = "", **links: Any) -> None:
        self.pass_time()
        own = own or self.new_id()
        try:
            self.saved.append(phone.record({"kind": kind, "client": client, "body": body, **links}, own))
        except PowerCut as cut:
            # Once the store had it it is saved, though nobody could say so any more: it is watched too.
            self.seen[f"power cut {cut}"] += 1
            if own in phone.state.outbox:
                self.saved.append(phone.found(own))

    def power_fails(self, phone: Phone, steps: int) -> None:
        """After so many more of its steps the phone goes off."""
        phone.off_in = steps * phone.stride + self.made % phone.stride

    def restart(self, phone: Phone) -> None:
        phone.restart()

    def wipe(self, phone: Phone) -> None:
        self.seen["wiped unsent"] += bool(phone.state.outbox)
        self.wiped |= phone.wipe()
        no_witness(self.witnesses, phone, phone.person)

    def copy(self, phone: Phone) -> None:
        """The phone's own backup of everything on it."""
        self.copies[phone.name] = phone.copy()

    def put_back(self, phone: Phone, onto: Phone) -> None:
        """A phone's backup comes back: onto itself, or onto another, and then there are two of one name."""
        if phone.name not in self.copies:
            return
        copy = self.copies[phone.name]
        if type(phone) is not type(onto):
            return
        for person in list(onto.stores):
            kept, here = copy.get(person), onto.state_of(person)
            known = hashes_in(kept) if kept and kept.device == here.device else set()
            self.forgotten |= hashes_in(here) - known
        no_witness(self.witnesses, onto, *onto.stores)
        onto.put_back(copy)
        self.copied |= {state.device for state in copy.values()}
        self.seen["put back" if phone is onto else "cloned"] += 1

    def hand_over(self, phone: Phone, signs_in: bool) -> None:
        """Somebody else takes the phone; a window of theirs may open before they signed in."""
        phone.person = self.everybody[(self.everybody.index(phone.person) + 1) % len(self.everybody)]
        phone.state_of(phone.person)
        if signs_in:
            self.sign_in(phone)

    def sign_in(self, phone: Phone) -> None:
        phone.cookie = self.service.sign_in(phone.person) or phone.cookie

    def set_clock(self, phone: Phone, number: int) -> None:
        phone.skew = SKEWS[number]

    def exchange(
        self, phone: Phone, window: int = 0, there: str = "arrives", back: str = "arrives", at: int = 0
    ) -> None:
        """All that a window has to say at once, the line good unless told otherwise."""
        if window in phone.flights:
            phone.give_up(window)
        self.ask(phone, window=window)
        while window in phone.flights and self.line and self.line[-1].phone is phone:
            syncs = self.line[-1].path == SYNC
            self.deliver(-1, there if syncs else "arrives", at)
            came = bool(self.back) and self.back[-1].phone is phone
            if not (came and self.hear(-1, back if syncs else "arrives", at)):
                return

    # What an administrator does.

    def assign(self, person: int, client: int) -> None:
        self.pass_time()
        self.service.assign(self.everybody[person], self.clients[client])

    def end(self, person: int, client: int) -> None:
        self.pass_time()
        self.service.end(self.everybody[person], self.clients[client])

    def set_active(self, person: int, active: bool) -> None:
        self.service.set_active(self.everybody[person], active)

    def revoke(self, phone: Phone, revoked: bool) -> None:
        self.service.set_revoked(phone.person, phone.state.device, revoked)

    def back_up(self) -> None:
        self.service.back_up()

    def restore(self, number: int) -> None:
        if self.service.copies:
            restored = self.service.restore(-1 - number % len(self.service.copies))
            lost = {(own, name) for own, name, _hash in restored}
            self.seen["restored with loss"] += bool(lost)
            self.dropped |= lost
            self.witnesses = witnesses_of(self.phones, self.home)
            for key in lost:
                self.acknowledged.pop(key, None)
            # What the copy does not know was never told.
            for key in self.reported:
                report = self.service.report(*key)
                self.reported[key] = report.last_device_seq if report else 0


def hashes_in(state: Any) -> set[str]:
    """What a phone has, each with all that it says: an id alone may be that of two."""
    return {entry_hash(dict(entry)) for entry in (*state.entries.values(), *state.outbox.values())}


def details_on(phone: Phone, client: str) -> Any:
    """The details of a client as a phone shows them: what came and what waits."""
    state = phone.state
    everything = (*state.entries.values(), *state.outbox.values())
    return resolve_details(resolve_entries([dict(one) for one in everything if one["client"] == client]))
