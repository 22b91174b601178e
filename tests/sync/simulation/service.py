"""The server of the simulation: the real rules over logs in memory; it can die at each of its steps."""

import json
from collections.abc import Mapping
from contextlib import contextmanager
from datetime import datetime
from functools import partial
from typing import Any
from unittest import mock

import msgspec

import sync.server
from sync import strict_json
from sync.errors import MessageError
from sync.handing_back import candidates_of
from sync.instants import write_instant
from sync.messages import PROTOCOL, Request, Verdict, parse_request
from sync.packing import unpack
from sync.pages import Budget
from sync.receipts import Receipts
from sync.transport import Answer
from tests.sync.simulation.memory import Data, MemoryLog, MemoryView, Row, Span
from webapp.features.sync import examine
from webapp.storage import Person

JSON = {"content-type": "application/json"}
SYNC, SESSION = "/api/v1/sync", "/api/v1/session"
# Where it dies, in the order it comes there; the second to the fourth are within the transaction.
STEPS = (
    "before it reads", "before it judges", "between two entries", "before it keeps aside",
    "before the commit", "after the commit", "before it pulls", "before it answers",
)  # fmt: skip
PAGE = 4
RECEIPTS = Receipts([b"an invented key of the simulation"])
MOST_BYTES = 4_194_304


class Crash(BaseException):
    """The server died; whatever it had not committed is gone. Nothing that catches errors catches it."""


class Service:
    """A server with its clock, a log for each organisation, the sessions of its people, and copies of all."""

    def __init__(self, people: dict[str, Person], now: datetime, new_id: Any) -> None:
        self.people, self.now, self.new_id = people, now, new_id
        organisations = dict.fromkeys(person.organisation for person in people.values())
        self.logs = {own: Data(new_id()) for own in organisations}
        self.sessions: dict[str, str] = {}
        self.closed: set[str] = set()
        self.copies: list[dict[str, Data]] = []
        self.given: dict[str, set[str]] = {}
        self.dies_in: int | None = None

    def log(self, person: str) -> Data:
        return self.logs[self.people[person].organisation]

    # What an administrator does.

    def assign(self, person: str, client: str) -> None:
        self.given.setdefault(person, set()).add(client)
        log = self.log(person)
        if client not in log.clients(person, self.now):
            log.spans.append(Span(person, client, self.now))

    def end(self, person: str, client: str) -> None:
        log = self.log(person)
        log.spans = [
            Span(span.person, span.client, span.since, self.now)
            if (span.person, span.client, span.until) == (person, client, None)
            else span
            for span in log.spans
        ]

    def set_active(self, person: str, active: bool) -> None:
        self.closed = self.closed - {person} if active else self.closed | {person}

    def set_revoked(self, person: str, device: str, revoked: bool) -> None:
        """Withdraw a device that the person's organisation has heard of, or allow it again."""
        log = self.log(person)
        if device in {known for _person, known in log.reports}:
            log.revoked = log.revoked | {device} if revoked else log.revoked - {device}

    def back_up(self) -> None:
        self.copies.append({own: log.copy() for own, log in self.logs.items()})

    def restore(self, number: int) -> set[tuple[str, str, str]]:
        """Go back to a copy and give its logs new epochs; the entries that are gone, by organisation."""
        before = self.everything()
        self.logs = {own: log.copy() for own, log in self.copies[number].items()}
        for log in self.logs.values():
            self.renew_epoch(log)
        return before - self.everything()

    def everything(self) -> set[tuple[str, str, str]]:
        return {(own, row.entry["id"], row.hash) for own, log in self.logs.items() for row in log.rows}

    def renew_epoch(self, log: Data) -> None:
        log.epoch = self.new_id()

    # What a device meets.

    def sign_in(self, person: str) -> str | None:
        """A cookie, unless the account is closed."""
        if person in self.closed:
            return None
        cookie = self.new_id()
        self.sessions[cookie] = person
        return cookie

    def expire(self, cookie: str | None) -> None:
        self.sessions.pop(cookie or "", None)

    def handle(self, data: bytes, cookie: str | None, path: str, headers: Mapping[str, str]) -> Answer:
        """One request, as the application answers it."""
        self.step("before it reads")
        person = self.sessions.get(cookie or "")
        if person is None or person in self.closed:
            return error(401, "sign_in_needed")
        if path == SESSION:
            return self.session(person, cookie)
        if headers.get("x-csrftoken", f"token {cookie}") != f"token {cookie}":
            return error(400, "csrf")
        try:
            plain = unpack(data, MOST_BYTES) if headers.get("content-encoding") == "gzip" else data
            request = parse_request(strict_json.parse(plain))
        except MessageError as problem:
            return error(400, problem.code)
        return self.answer(self.people[person], request)

    def session(self, person: str, cookie: str | None) -> Answer:
        """Who is signed in."""
        facts = {"user": {"id": person, "name": person[-2:], "role": "therapist"}, "csrf": f"token {cookie}",
                 "organisation": {"id": self.people[person].organisation, "settings": {}},
                 "server_time": write_instant(self.now), "lacking": []}  # fmt: skip
        return Answer(200, JSON, json.dumps(facts).encode())

    def answer(self, person: Person, request: Request) -> Answer:
        returned = self.take_back(person, request)
        verdicts = self.take(person, request)
        log = self.log(person.id)
        if not sync.server.of_another(verdicts):
            key = (person.id, request.device)
            log.reports[key] = sync.server.latest_report(log.reports.get(key), request)
        self.step("before it pulls")
        with mock.patch.object(sync.server, "Budget", lambda: Budget(entries=PAGE)):
            revoked = self.withdrawn(person.id, request.device)
            view = MemoryView(log, person.id, self.now)
            issue = partial(RECEIPTS.issue, person.organisation)
            epoch, head, pull = sync.server.pull_answer(view, request, verdicts, revoked, issue)
        self.step("before it answers")
        facts = {"protocol": PROTOCOL, "server_time": write_instant(self.now), "person": person.id,
                 "device_state": "revoked" if revoked else self.state_of(person.id, request.device),
                 "settings": {},
                 "epoch": epoch, "head": head, "pull": pull,
                 "verdicts": verdicts}  # fmt: skip
        if request.returned:
            facts["returned"] = returned
        return Answer(200, JSON, msgspec.json.encode(facts))

    def withdrawn(self, person: str, device: str) -> bool:
        return device in self.log(person).revoked

    def take(self, person: Person, request: Request) -> list[Verdict]:
        candidates = [examine(item, person, self.now) for item in request.push]
        with self.transaction(person.organisation) as data:
            log = MemoryLog(data, person.id, request.device, self.now, self.step)
            return sync.server.Batch(log, candidates).append()

    def take_back(self, person: Person, request: Request) -> list[Verdict]:
        """Take what a restored log had lost and a device hands back."""
        if not request.returned:
            return []
        candidates, proved = candidates_of(
            request, RECEIPTS, person.organisation, lambda item: examine(item, person, self.now)
        )
        with self.transaction(person.organisation) as data:
            log = MemoryLog(data, person.id, request.device, self.now, self.step)
            return sync.server.Batch(log, candidates, proved).append()

    @contextmanager
    def transaction(self, organisation: str) -> Any:
        data = self.logs[organisation].copy()
        yield data
        self.step("before the commit")
        self.logs[organisation] = data
        self.step("after the commit")

    def step(self, name: str) -> None:
        """Here it may die: at the step it was told to, counted from where it stands."""
        if self.dies_in is not None:
            self.dies_in -= 1
            if self.dies_in < 0:
                self.dies_in = None
                raise Crash(name)

    # What a check looks at.

    def rows(self, organisation: str) -> list[Row]:
        return self.logs[organisation].rows

    def head(self, organisation: str) -> int:
        return self.logs[organisation].head

    def epoch(self, organisation: str) -> str:
        return self.logs[organisation].epoch

    def clients(self, person: str) -> list[str]:
        return self.log(person).clients(person, self.now)

    def writable_until(self, person: str) -> dict[str, datetime]:
        return self.log(person).writable_until(person, self.now)

    def is_revoked(self, person: str, device: str, _cookie: str | None = None) -> bool:
        return device in self.log(person).revoked

    def ever(self, person: str) -> set[str]:
        """The clients who were ever on a person's caseload."""
        return self.given.get(person, set())

    def set_aside(self, organisation: str) -> set[str]:
        """The ids of what is kept aside."""
        return {own for own in self.logs[organisation].held.values() if own}

    def state_of(self, person: str, device: str) -> str:
        """Of a device in service: whether two entries of its person's came under one of its numbers."""
        mine = [row.entry for row in self.log(person).rows if row.entry["author"] == person]
        numbers = [entry["device_seq"] for entry in mine if entry["device"] == device]
        return "active" if len(set(numbers)) == len(numbers) else "copied"

    def report(self, person: str, device: str) -> sync.server.Report | None:
        return self.log(person).reports.get((person, device))

    def missing(self, person: str, device: str) -> list[int]:
        report = self.report(person, device)
        stored = {row.entry["device_seq"] for row in self.log(person).rows if row.entry["device"] == device}
        given = range(1, report.last_device_seq + 1) if report else ()
        return [number for number in given if number not in stored]


def error(status: int, code: str) -> Answer:
    body = {"error": {"code": code, "field": None, "message": code}}
    return Answer(status, JSON, json.dumps(body).encode())
