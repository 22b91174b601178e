"""The log in memory: the store of sync.server and sync.pages, without SQL. A copy of it is a backup."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from sync.instants import write_instant
from sync.judging import Known, Link
from sync.messages import SETTLED, Candidate
from sync.pages import Stored
from sync.server import Judged, Report
from webapp.storage.holding import KEPT, raw_hash

FOREVER = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class Row:
    """An entry of the log."""

    seq: int
    hash: str
    entry: dict[str, Any]
    received_at: datetime

    def travelling(self) -> dict[str, Any]:
        """The entry as it travels."""
        return self.entry | {"seq": self.seq, "received_at": write_instant(self.received_at)}


@dataclass(frozen=True)
class Span:
    """A client on a person's caseload for a time."""

    person: str
    client: str
    since: datetime
    until: datetime | None = None

    def during(self, at: datetime) -> bool:
        """Whether a moment lies in it."""
        return self.since <= at and (self.until is None or self.until > at)


@dataclass
class Data:
    """Everything a server keeps of one organisation."""

    epoch: str
    head: int = 0
    rows: list[Row] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    held: dict[tuple[str, str], str | None] = field(default_factory=dict)
    settled: set[tuple[str, str | None]] = field(default_factory=set)
    reports: dict[tuple[str, str], Report] = field(default_factory=dict)
    revoked: frozenset[str] = frozenset()

    def copy(self) -> "Data":
        """A copy that can change by itself."""
        return replace(
            self,
            rows=list(self.rows),
            spans=list(self.spans),
            held=dict(self.held),
            settled=set(self.settled),
            reports=dict(self.reports),
        )

    def clients(self, person: str, at: datetime) -> list[str]:
        """The clients on a person's caseload at a moment."""
        return sorted({span.client for span in self.spans if span.person == person and span.during(at)})

    def writable_until(self, person: str, now: datetime) -> dict[str, datetime]:
        """The clients a person may write about, and up to which moment of recording."""
        limits: dict[str, datetime] = {}
        for span in self.spans:
            if span.person == person and span.since <= now:
                limits[span.client] = max(limits.get(span.client, span.since), span.until or FOREVER)
        return limits


class MemoryLog:
    """The log for one sender within one transaction: it works on a copy that the commit puts in place.

    `step` is told before each thing it does: there the server may die.
    """

    def __init__(
        self, data: Data, person: str, device: str, now: datetime, step: Callable[[str], None]
    ) -> None:
        self.data, self.person, self.device, self.now, self.step = data, person, device, now, step

    @property
    def head(self) -> int:
        return self.data.head

    @head.setter
    def head(self, head: int) -> None:
        self.data.head = head

    def known(self, candidates: Sequence[Candidate]) -> Known:
        self.step("before it judges")
        links = {
            row.entry["id"]: Link(row.seq, row.hash, row.entry["client"], row.entry["kind"])
            for row in self.data.rows
        }
        held = {own for (person, _), own in self.data.held.items() if own and person == self.person}
        writable = self.data.writable_until(self.person, self.now)
        readable = set(self.data.clients(self.person, self.now))
        people = {candidate.entry["author"] for candidate in candidates if candidate.entry}
        revoked = self.device in self.data.revoked
        return Known(links, held, writable, readable, revoked=revoked, people=people)

    def insert(self, seq: int, candidate: Candidate) -> bool:
        self.step("between two entries")
        entry = candidate.entry or {}
        ids = {row.entry["id"] for row in self.data.rows}
        if entry["id"] in ids or not {entry["amends"], entry["voids"]} <= ids | {None}:
            return False
        self.data.rows.append(Row(seq, str(candidate.hash), entry, self.now))
        return True

    def hold(self, judged: Sequence[Judged]) -> None:
        self.step("before it keeps aside")
        for candidate, verdict in judged:
            digest = raw_hash(candidate)
            if verdict.verdict in SETTLED:
                for key in [key for key in self.data.held if key[1] == digest]:
                    self.data.settled.add((key[0], self.data.held.pop(key)))
            if verdict.verdict in KEPT:
                self.data.held.setdefault((self.person, digest), candidate.id)


@dataclass(frozen=True)
class MemoryView:
    """What a person may read at a moment."""

    data: Data
    person: str
    at: datetime

    def head_and_epoch(self) -> tuple[int, str]:
        return self.data.head, self.data.epoch

    def read_only(self) -> list[str]:
        """Nobody leads a team here."""
        return []

    def clients(self) -> list[str]:
        return self.data.clients(self.person, self.at)

    def entries(self, after: int, head: int, limit: int, client: str | None = None) -> Sequence[Stored]:
        seen = set(self.clients() if client is None else [client]) & set(self.clients())
        rows = [row for row in self.data.rows if after < row.seq <= head and row.entry["client"] in seen]
        return [_stored(row) for row in rows[:limit]]

    def taken_elsewhere(self, device: str, after: int, upto: int) -> Sequence[Stored]:
        rows = [row for row in self.data.rows if after < row.seq <= upto and row.entry["device"] == device]
        mine = [row for row in rows if row.entry["author"] == self.person]
        return [_stored(row) for row in mine if (self.person, row.entry["id"]) in self.data.settled]


def _stored(row: Row) -> Stored:
    entry = row.entry
    return Stored(entry["id"], row.seq, row.hash, entry["device"], entry["visit"], 500, row.travelling)
