"""What travels in a world, and what must hold of every single answer."""

from collections import Counter
from typing import Any

from sync.messages import request_json
from sync.transport import Answer
from tests.sync.simulation.line import PORTAL, Message, Returned, damaged, handed_in, spoilt
from tests.sync.simulation.looks import Looked, follow
from tests.sync.simulation.phone import STEPS, Phone, PowerCut
from tests.sync.simulation.service import SYNC, Crash

KEPT_NOTHING = STEPS[:-1]
NOBODY = -1  # the flight of a message that no phone waits for


class Traffic:
    """The part of a world that is its line: messages under way and answers on their way back."""

    service: Any

    def __init__(self) -> None:
        self.line: list[Message] = []
        self.back: list[Returned] = []
        self.released: set[tuple[str, str]] = set()
        self.reported: Counter[tuple[str, str]] = Counter()
        self.acknowledged: dict[tuple[str, str], str] = {}
        self.seen: Counter[str] = Counter()

    def post(self, phone: Phone, flight: int, data: bytes, path: str = SYNC, headers: Any = None) -> None:
        """A phone puts a request on the line, with the cookie that its browser has then."""
        self.line.append(Message(phone, flight, data, phone.cookie, path, headers))

    def ask(self, phone: Phone, most: int = 200, send_held: bool = False, window: int = 0) -> None:
        self.seen["two windows ask"] += bool(set(phone.flights) - {window})
        try:
            phone.ask(most, send_held, window)
        except PowerCut as cut:
            self.seen[f"power cut {cut}"] += 1

    def stray(self, phone: Phone, person: str, forged: bool) -> None:
        """A phone's ids, cursor and epoch come under another's session, its entries in the other's name."""
        asked = request_json(phone.message(most=3))
        if forged:
            asked["push"] = [entry | {"author": person} for entry in asked["push"]]
        cookie = self.service.sign_in(person)
        self.line.append(Message(phone, NOBODY, b"", cookie).saying(asked))

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
        if fault == "portal":  # it answers, and the server never hears of it
            self.back.append(Returned(message.phone, message.flight, PORTAL))
            return
        answer = self.served(damaged(message, fault, at), at % 12 if fault == "the server dies" else None)
        if answer is not None:
            self.back.append(Returned(message.phone, message.flight, answer))

    def served(self, message: Message, dies_in: int | None) -> Answer | None:
        """What the server says to a message, if it lives to say it."""
        self.service.dies_in = dies_in
        try:
            answer: Answer = self.service.handle(
                message.data, message.cookie, message.path, message.headers or {}
            )
        except Crash as crash:
            self.seen[f"server died {crash}"] += 1
            return None
        finally:
            self.service.dies_in = None
        self.seen[f"answered {answer.status}"] += 1
        if answer.status == 200 and message.path == SYNC:
            self.look(message, answer.json())
        return answer

    def look(self, message: Message, facts: Any) -> None:
        """Nothing leaves the server that the one who asks may not see; what it calls stored is stored."""
        asked, person = message.request(), facts["person"]
        words = Counter(verdict["verdict"] for verdict in facts["verdicts"])
        if {verdict.get("code") for verdict in facts["verdicts"]} != {"wrong_author"}:
            self.listen(person, asked["device"], asked["last_device_seq"])
        revoked = self.service.is_revoked(person, asked["device"], message.cookie)
        page = Looked(self.service, person, asked, facts, revoked)
        page.look()
        self.acknowledged |= page.acknowledged()
        self.seen.update(words)
        self.seen["withdrawn"] += handed_in(facts, revoked)
        self.seen["filled"] += len(facts["pull"]["fill"])
        self.seen["stubs"] += len(page.stubs)
        handed = facts.get("returned", ())
        self.seen.update(f"handed back: {verdict['verdict']}" for verdict in handed)
        assert message.flight == NOBODY or "unproved" not in {verdict.get("code") for verdict in handed}
        if message.flight == NOBODY:
            self.seen["of another organisation"] += 1
            self.seen["forged"] += words["applied"]

    def listen(self, person: str, device: str, last: int) -> None:
        """What a device once told the server about itself stays known there."""
        told = max(self.reported[person, device], last)
        report = self.service.report(person, device)
        # It may know more: from a message whose answer it died of.
        assert report is not None and report.last_device_seq >= told
        self.reported[person, device] = told

    def hear(self, number: int, fault: str = "arrives", at: int = 0) -> bool:
        """One of the answers reaches its phone, if that still waits for it: whether the phone kept it."""
        if not self.back:
            return False
        returned = self.back.pop(number % len(self.back))
        phone, flight = returned.phone, returned.phone.flight(returned.flight)
        if flight is None:
            self.seen["too late"] += 1
            return False
        if fault == "the power fails":
            phone.off_in = at % (4 * phone.stride)
        before = phone.state_of(flight.person)
        answer, kept, cut = spoilt(returned.answer, fault, at), False, ""
        try:
            kept = phone.hear(flight.number, answer)
        except PowerCut as failed:
            cut = str(failed)
            self.seen[f"power cut {cut}"] += 1
        after = phone.state_of(flight.person)
        if self.is_strange(returned.answer, before) or cut in KEPT_NOTHING:
            assert after == before, "somebody else's answer, one of a former log, or a part of one"
        follow(self, before, after)
        if kept and answer is not None and answer.json().get("device_state") == "active":
            assert "device_revoked" not in {verdict.code for verdict in after.verdicts.values()}
        return kept

    def is_strange(self, answer: Answer, before: Any) -> bool:
        """Whether an answer is for somebody else, or out of a life of the log that the phone has left."""
        facts = answer.json() if answer.status == 200 and answer is not PORTAL else {}
        present = self.service.epoch(self.service.people[before.person].organisation)
        former = before.epoch == present and facts.get("epoch") not in (None, present)
        self.seen["of a former log"] += former
        return facts.get("person") not in (None, before.person) or former

    def give_up(self, phone: Phone, window: int = 0) -> None:
        phone.give_up(window)

    def pass_time(self, seconds: int = 1) -> None:
        raise NotImplementedError
