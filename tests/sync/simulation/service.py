"""The server of the simulation: the real rules over the log in memory; it can die at each of its steps."""

import json
from contextlib import contextmanager
from datetime import datetime
from functools import partial
from typing import Any
from unittest import mock

import sync.server
from sync import strict_json
from sync.errors import MessageError
from sync.handing_back import candidates_of
from sync.instants import write_instant
from sync.messages import PROTOCOL, Request, Verdict, parse_request
from sync.pages import Budget
from sync.receipts import Receipts
from sync.transport import Answer
from tests.sync.simulation.memory import Data, MemoryLog, MemoryView, Row, Span
from webapp.features.sync import examine
from webapp.storage import Person

JSON = {"content-type": "application/json"}
STEPS = ("before it reads", "inside the transaction", "after the commit", "before it answers")
PAGE = 4
RECEIPTS = Receipts([b"an invented key of the simulation"])


class Crash(Exception):
    """The server died; whatever it had not committed is gone."""


class Service:
    """A server with its clock, the sessions of its people, and copies of itself to go back to."""

    def __init__(self, people: dict[str, Person], now: datetime, new_id: Any) -> None:
        self.people, self.now, self.new_id = people, now, new_id
        self.data = Data(new_id())
        self.sessions: dict[str, str] = {}
        self.closed: set[str] = set()
        self.copies: list[Data] = []
        self.given: dict[str, set[str]] = {}
        self.dies: str | None = None

    # What an administrator does.

    def assign(self, person: str, client: str) -> None:
        self.given.setdefault(person, set()).add(client)
        if client not in self.data.clients(person, self.now):
            self.data.spans.append(Span(person, client, self.now))

    def end(self, person: str, client: str) -> None:
        self.data.spans = [
            Span(span.person, span.client, span.since, self.now)
            if (span.person, span.client, span.until) == (person, client, None)
            else span
            for span in self.data.spans
        ]

    def set_active(self, person: str, active: bool) -> None:
        self.closed = self.closed - {person} if active else self.closed | {person}

    def set_revoked(self, device: str, revoked: bool) -> None:
        """Withdraw a device that was heard of, or allow it again."""
        if device in {known for _person, known in self.data.reports}:
            self.data.revoked = self.data.revoked | {device} if revoked else self.data.revoked - {device}

    def back_up(self) -> None:
        self.copies.append(self.data.copy())

    def restore(self, number: int) -> set[str]:
        """Go back to a copy and give the log a new epoch; the ids of the entries that are gone."""
        before, self.data = self.data, self.copies[number].copy()
        self.renew_epoch()
        return {row.entry["id"] for row in before.rows} - {row.entry["id"] for row in self.data.rows}

    def renew_epoch(self) -> None:
        self.data.epoch = self.new_id()

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

    def handle(self, data: bytes, cookie: str | None) -> Answer:
        """One request, as POST /api/v1/sync answers it."""
        person = self.sessions.get(cookie or "")
        if person is None or person in self.closed:
            return error(401, "sign_in_needed")
        self.step("before it reads")
        try:
            request = parse_request(strict_json.parse(data))
        except MessageError as problem:
            return error(400, problem.code)
        return self.answer(self.people[person], request)

    def answer(self, person: Person, request: Request) -> Answer:
        returned = self.take_back(person, request)
        verdicts = self.take(person, request)
        self.step("after the commit")
        if not sync.server.of_another(verdicts):
            key = (person.id, request.device)
            self.data.reports[key] = sync.server.latest_report(self.data.reports.get(key), request)
        with mock.patch.object(sync.server, "Budget", lambda: Budget(entries=PAGE)):
            view = MemoryView(self.data, person.id, self.now)
            revoked = self.is_revoked(request.device)
            issue = partial(RECEIPTS.issue, person.organisation)
            epoch, head, pull = sync.server.pull_answer(view, request, revoked, issue)
        self.step("before it answers")
        facts = {"protocol": PROTOCOL, "server_time": write_instant(self.now), "person": person.id,
                 "device_state": "revoked" if revoked else self.state_of(person.id, request.device),
                 "settings": {},
                 "epoch": epoch, "head": head, "pull": pull,
                 "verdicts": [verdict.as_json() for verdict in verdicts]}  # fmt: skip
        if request.returned:
            facts["returned"] = [verdict.as_json() for verdict in returned]
        return Answer(200, JSON, json.dumps(facts, ensure_ascii=False).encode())

    def take(self, person: Person, request: Request) -> list[Verdict]:
        candidates = [examine(item, person, self.now) for item in request.push]
        with self.transaction() as data:
            log = MemoryLog(data, person.id, request.device, self.now)
            return sync.server.Batch(log, candidates).append()

    def take_back(self, person: Person, request: Request) -> list[Verdict]:
        """Take what a restored log had lost and a device hands back."""
        if not request.returned:
            return []
        candidates, proved = candidates_of(
            request, RECEIPTS, person.organisation, lambda item: examine(item, person, self.now)
        )
        with self.transaction() as data:
            log = MemoryLog(data, person.id, request.device, self.now)
            return sync.server.Batch(log, candidates, proved).append()

    @contextmanager
    def transaction(self) -> Any:
        data = self.data.copy()
        yield data
        self.step("inside the transaction")
        self.data = data

    def step(self, name: str) -> None:
        if self.dies == name:
            self.dies = None
            raise Crash(name)

    # What a check looks at.

    def rows(self) -> list[Row]:
        return self.data.rows

    def head(self) -> int:
        return self.data.head

    def epoch(self) -> str:
        return self.data.epoch

    def clients(self, person: str) -> list[str]:
        return self.data.clients(person, self.now)

    def writable_until(self, person: str) -> dict[str, datetime]:
        return self.data.writable_until(person, self.now)

    def is_revoked(self, device: str) -> bool:
        return device in self.data.revoked

    def ever(self, person: str) -> set[str]:
        """The clients who were ever on a person's caseload."""
        return self.given.get(person, set())

    def set_aside(self) -> set[str]:
        """The ids of what is kept aside."""
        return {own for own in self.data.held.values() if own}

    def state_of(self, person: str, device: str) -> str:
        """Of a device in service: whether two entries of its person's came under one of its numbers."""
        mine = [row.entry for row in self.data.rows if row.entry["author"] == person]
        numbers = [entry["device_seq"] for entry in mine if entry["device"] == device]
        return "active" if len(set(numbers)) == len(numbers) else "copied"

    def report(self, person: str, device: str) -> sync.server.Report | None:
        return self.data.reports.get((person, device))

    def missing(self, person: str, device: str) -> list[int]:
        report = self.report(person, device)
        stored = {row.entry["device_seq"] for row in self.data.rows if row.entry["device"] == device}
        given = range(1, report.last_device_seq + 1) if report else ()
        return [number for number in given if number not in stored]


def error(status: int, code: str) -> Answer:
    body = {"error": {"code": code, "field": None, "message": code}}
    return Answer(status, JSON, json.dumps(body).encode())
