"""Phones, people, a line and a server; every act takes its choices as numbers, so a run can be repeated."""

import json
from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import Any

from sync.canonical import entry_hash
from sync.transport import Answer
from sync.uuid7 import uuid7
from tests.sync.simulation.line import Message, Returned, damaged, handed_in, meant_for, spoilt
from tests.sync.simulation.phone import Phone, PowerCut, Saved
from tests.sync.simulation.service import STEPS, Crash, Service
from tests.sync.simulation.witnesses import Witnesses, no_witness, witnesses_of
from webapp.clinical import resolve_entries
from webapp.clinical.record import resolve_details
from webapp.storage import Person

START = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
SKEWS = (timedelta(), timedelta(hours=20), timedelta(days=3), timedelta(days=-400), timedelta(hours=-2))
FIELDS = ("phone", "access", "address")
ORGANISATION = "00000000-0000-4000-8000-0000000000ff"


class World:
    """Three phones of Ann's, Ben's and of both; four clients, the last on nobody's caseload at first."""

    def __init__(self, service: Any = Service) -> None:
        self.now, self.made = START, 0
        self.ann, self.ben = (f"00000000-0000-4000-8000-0000000000a{number}" for number in (1, 2))
        self.clients = [f"00000000-0000-4000-8000-0000000000c{number}" for number in range(4)]
        self.people = {own: Person(own, ORGANISATION, own[-2:], "therapist") for own in (self.ann, self.ben)}
        self.service = service(self.people, self.now, self.new_id)
        owners = {"a": self.ann, "b": self.ben, "shared": self.ann, "second": self.ann}
        self.phones = [Phone(name, who, lambda: self.now, self.new_id) for name, who in owners.items()]
        self.line: list[Message] = []
        self.back: list[Returned] = []
        self.saved: list[Saved] = []
        self.wiped: set[str] = set()
        self.dropped: set[str] = set()
        self.released: set[tuple[str, str]] = set()
        self.copies: dict[str, dict[str, Any]] = {}
        self.copied: set[str] = set()
        self.forgotten: set[str] = set()
        self.reported: Counter[tuple[str, str]] = Counter()
        self.seen: Counter[str] = Counter()
        self.witnesses: Witnesses = {}
        for person, numbers in ((self.ann, (0, 1)), (self.ben, (1, 2))):
            for number in numbers:
                self.service.assign(person, self.clients[number])
        for phone in self.phones:
            self.sign_in(phone)

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
        others = [saved.entry for saved in self.saved if saved.entry["device"] != phone.state.device]
        notes = [entry for entry in others if entry["kind"] == "note" and not entry["amends"]]
        known = {**phone.state.outbox, **phone.state.entries}
        notes = [entry for entry in notes if entry["id"] not in known and not entry["voids"]]
        if notes:
            other = notes[number % len(notes)]
            self.record(phone, "note", other["client"], {"text": f"twin {self.made}"}, own=other["id"])

    def record(self, phone: Phone, kind: str, client: str, body: Any, own: str = "", **links: Any) -> None:
        self.pass_time()
        try:
            draft = {"kind": kind, "client": client, "body": body, **links}
            self.saved.append(phone.record(draft, own or self.new_id()))
        except PowerCut as cut:
            # After the transaction it is saved, though nobody could say so any more: it is watched too.
            self.seen["power cut while saving"] += 1
            if str(cut) == "after the store":
                entry = list(phone.state.outbox.values())[-1]
                self.saved.append(Saved(entry, entry_hash(dict(entry)), phone.person))

    def power_fails(self, phone: Phone, after: bool) -> None:
        """At its next transaction the phone goes off."""
        phone.off_at = "after the store" if after else "before the store"

    def restart(self, phone: Phone) -> None:
        phone.flight = None

    def wipe(self, phone: Phone) -> None:
        self.seen["wiped unsent"] += bool(phone.state.outbox)
        self.wiped |= phone.wipe()
        no_witness(self.witnesses, phone, phone.person)

    def copy(self, phone: Phone) -> None:
        """The phone's own backup of everything on it."""
        self.copies[phone.name] = {person: store.get() for person, store in phone.stores.items()}

    def put_back(self, phone: Phone, onto: Phone) -> None:
        """A phone's backup comes back: onto itself, or onto another, and then there are two of one name."""
        if phone.name not in self.copies:
            return
        copy = self.copies[phone.name]
        for person, store in onto.stores.items():
            kept = copy.get(person)
            known = {**kept.entries, **kept.outbox} if kept and kept.device == store.get().device else {}
            self.forgotten |= {*store.get().entries, *store.get().outbox} - {*known}
        no_witness(self.witnesses, onto, *onto.stores)
        onto.put_back(copy)
        self.copied |= {state.device for state in copy.values()}
        self.seen["put back" if phone is onto else "cloned"] += 1

    def hand_over(self, phone: Phone, signs_in: bool) -> None:
        """Somebody else takes the phone; a window of theirs may open before they signed in."""
        phone.person = self.ben if phone.person == self.ann else self.ann
        phone.store()
        if signs_in:
            self.sign_in(phone)

    def sign_in(self, phone: Phone) -> None:
        phone.cookie = self.service.sign_in(phone.person) or phone.cookie

    def set_clock(self, phone: Phone, number: int) -> None:
        phone.skew = SKEWS[number]

    # What an administrator does.

    def assign(self, person: int, client: int) -> None:
        self.pass_time()
        self.service.assign((self.ann, self.ben)[person], self.clients[client])

    def end(self, person: int, client: int) -> None:
        self.pass_time()
        self.service.end((self.ann, self.ben)[person], self.clients[client])

    def set_active(self, person: int, active: bool) -> None:
        self.service.set_active((self.ann, self.ben)[person], active)

    def revoke(self, phone: Phone, revoked: bool) -> None:
        self.service.set_revoked(phone.state.device, revoked)

    def back_up(self) -> None:
        self.service.back_up()

    def restore(self, number: int) -> None:
        if self.service.copies:
            lost = self.service.restore(-1 - number % len(self.service.copies))
            self.seen["restored with loss"] += bool(lost)
            self.dropped |= lost
            self.witnesses = witnesses_of(self.phones)
            # What the copy does not know was never told.
            for key in self.reported:
                report = self.service.report(*key)
                self.reported[key] = report.last_device_seq if report else 0

    # What the line does.

    def ask(self, phone: Phone, most: int = 200, send_held: bool = False) -> None:
        if phone.flight is None:
            data = phone.ask(most, send_held)
            self.line.append(Message(phone, phone.flights, data, phone.cookie))

    def deliver(self, number: int, fault: str = "arrives", at: int = 0) -> None:
        """One of the messages on the line reaches the server, or not, or not whole; in any order."""
        if not self.line:
            return
        self.pass_time()
        message = self.line.pop(number % len(self.line))
        if fault == "lost":
            return
        if fault == "twice":
            self.line.append(message)
        self.seen["out of order"] += message.flight < message.phone.delivered
        message.phone.delivered = max(message.flight, message.phone.delivered)
        data = damaged(message.data, fault, at)
        self.service.dies = fault if fault in STEPS else None
        try:
            answer = self.service.handle(data, message.cookie)
        except Crash:
            self.seen["server died"] += 1
            return
        self.seen[f"answered {answer.status}"] += 1
        self.look(message, answer)
        self.back.append(Returned(message.phone, message.flight, answer))

    def look(self, message: Message, answer: Answer) -> None:
        """Nothing leaves the server that the one who asks may not see."""
        if answer.status == 200:
            facts, asked = answer.json(), json.loads(message.data)
            if {verdict.get("code") for verdict in facts["verdicts"]} != {"wrong_author"}:
                self.listen(facts["person"], asked["device"], asked["last_device_seq"])
            allowed = set(self.service.clients(facts["person"]))
            assert {one["client"] for one in facts["pull"]["entries"] if "client" in one} <= allowed
            self.seen.update(verdict["verdict"] for verdict in facts["verdicts"])
            self.seen["withdrawn"] += handed_in(facts, self.service.is_revoked(asked["device"]))
            handed = facts.get("returned", ())
            self.seen.update(f"handed back: {verdict['verdict']}" for verdict in handed)
            assert "unproved" not in {verdict.get("code") for verdict in handed}
            self.seen["filled"] += len(facts["pull"]["fill"])
            self.seen["stubs"] += sum("kind" not in one for one in facts["pull"]["entries"])

    def listen(self, person: str, device: str, last: int) -> None:
        """What a device once told the server about itself stays known there."""
        told = max(self.reported[person, device], last)
        report = self.service.report(person, device)
        # It may know more: from a message whose answer it died of.
        assert report is not None and report.last_device_seq >= told
        self.reported[person, device] = told

    def hear(self, number: int, fault: str = "arrives", at: int = 0) -> Any:
        """One of the answers reaches its phone, if that still waits for it."""
        if not self.back:
            return None
        returned = self.back.pop(number % len(self.back))
        phone = returned.phone
        if phone.flight is None or phone.flight.number != returned.flight:
            self.seen["too late"] += 1
            return None
        if fault in ("before the store", "after the store"):
            phone.off_at = fault
        store = phone.store(phone.flight.person)
        before, for_whom = store.get(), meant_for(returned.answer)
        try:
            reply = phone.hear(spoilt(returned.answer, fault, at))
            codes = {verdict.code for verdict in store.get().verdicts.values()}
            assert reply is None or reply.revoked or "device_revoked" not in codes
            return reply
        except PowerCut:
            self.seen["power cut while filing"] += 1
        finally:
            assert for_whom in (None, before.person) or store.get() == before, "somebody else's answer"
            self.follow(before, store.get())
        return None

    def follow(self, before: Any, after: Any) -> None:
        """What a phone let go of because its client left; what it shows is its person's only."""
        assert "wrong_author" not in {verdict.code for verdict in after.verdicts.values()}
        assert set(after.clients) <= self.service.ever(after.person)
        had = {**before.entries, **before.outbox}
        gone = {own for own, entry in had.items() if entry["client"] not in after.clients}
        gone -= {*after.entries, *after.outbox}
        self.released |= {(name, own) for own in gone for name in (before.device, *before.former)}
        self.seen["renamed"] += before.device != after.device
        self.seen["removed"] += bool(gone)
        self.seen["new epoch"] += before.epoch not in (None, after.epoch)

    def give_up(self, phone: Phone) -> None:
        phone.flight = None


def details_on(phone: Phone, client: str) -> Any:
    """The details of a client as a phone shows them: what came and what waits."""
    state = phone.state
    everything = (*state.entries.values(), *state.outbox.values())
    return resolve_details(resolve_entries([dict(one) for one in everything if one["client"] == client]))
