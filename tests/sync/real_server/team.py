"""A small team on a real database, their devices on a real line, and what must be true after every fault."""

import copy
import time
import uuid
from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import select

from sync.canonical import entry_hash
from sync.client import Client
from sync.device import State
from sync.errors import AnswerError, ServerRefused, SignInNeeded
from sync.store import MemoryStore
from sync.transport import HttpTransport
from tests.webapp.support import PASSWORD, SECRET
from webapp.storage import Database, assign_caseload, create_client, create_organisation, create_user
from webapp.storage.models import Entry, Organisation
from webapp.storage.read import entry_json

PATIENCE = 90.0
DEADLINE = 30.0


class Team:
    """Ann and Ben of one organisation; Ann sees ann1 and both, Ben ben1 and both."""

    def __init__(self, database_url: str) -> None:
        self.database = Database(database_url, SECRET)
        self.name = f"Larkmere {uuid.uuid4().hex}"
        self.organisation = create_organisation(self.database, self.name)
        self.people = {name: self.add_person(name) for name in ("ann", "ben")}
        self.clients = {name: create_client(self.database, self.organisation)
                        for name in ("ann1", "ben1", "both")}  # fmt: skip
        for name, person in self.people.items():
            own = [self.clients[f"{name}1"], self.clients["both"]]
            assign_caseload(self.database, person, own, since=datetime.now(UTC) - timedelta(days=30))
        self.saved: dict[str, str] = {}
        self.visits: Counter[str] = Counter()

    def add_person(self, name: str):
        return create_user(self.database, self.organisation, sign_in_name=self.sign_in_name(name),
                           display_name=f"{name.title()} Example", role="therapist",
                           password=PASSWORD)  # fmt: skip

    def sign_in_name(self, name: str) -> str:
        """Sign-in names are unique over all organisations."""
        return f"{name}@{self.organisation}.example"

    def rows(self) -> list[tuple[int, str, dict[str, Any]]]:
        """Number, stored hash and entry of everything in the log, in order."""
        with self.database.reading() as session:
            found = session.scalars(
                select(Entry).where(Entry.organisation_id == self.organisation).order_by(Entry.seq)
            ).all()
        return [(row.seq, row.hash, bare(entry_json(row))) for row in found]

    def head(self) -> int:
        with self.database.reading() as session:
            return session.get_one(Organisation, self.organisation).head

    def check(self, *devices: "Device") -> None:
        """The oracle after each fault: nothing lost, nothing doubled, nothing half, nothing else."""
        rows = self.rows()
        assert [seq for seq, _, _ in rows] == list(range(1, self.head() + 1))
        stored = {entry["id"]: entry_hash(entry) for _, _, entry in rows}
        assert len(stored) == len(rows) and all(stored[entry["id"]] == kept for _, kept, entry in rows)
        assert stored == {own: self.saved.get(own) for own in stored}, "something nobody recorded"
        for device in devices:
            device.check(stored)
        waiting = {own: entry_hash(dict(entry)) for device in devices
                   for own, entry in device.state.outbox.items()}  # fmt: skip
        assert self.saved == waiting | stored
        here = Counter(entry["visit"] for _, _, entry in rows if entry["visit"])
        assert here == {visit: self.visits[visit] for visit in here}, "half a visit"

    def check_settled(self, *devices: "Device") -> None:
        """The same once every device has synced in peace: all agree, nothing waits."""
        for device in (*devices, *devices):
            device.settle()
        self.check(*devices)
        rows = self.rows()
        for device in devices:
            due = {entry["id"]: seq for seq, _, entry in rows if entry["client"] in device.state.clients}
            assert {own: entry["seq"] for own, entry in device.state.entries.items()} == due
            assert dict(device.state.outbox) == {}


class Device:
    """One device of one person, and what it called saved."""

    def __init__(self, team: Team, url: str, name: str = "ann", deadline: float = DEADLINE) -> None:
        self.team, self.name, self.url = team, name, url
        self.transport = HttpTransport(url, deadline)
        self.client = Client(self.transport, MemoryStore(State(device=str(uuid.uuid4()))))
        self.sign_in()

    def another(self) -> "Device":
        """A further device of the same person, signed in already."""
        other = copy.copy(self)
        state = State(device=str(uuid.uuid4()), person=self.state.person)
        other.client = Client(self.transport, MemoryStore(state))
        other.client._session = self.client.session()
        return other

    @property
    def state(self) -> State:
        return self.client.state

    def sign_in(self) -> None:
        self.client.sign_in(self.team.sign_in_name(self.name), PASSWORD)

    def over(self, url: str, deadline: float = DEADLINE) -> None:
        """Go on over another line, with the session it has."""
        transport = HttpTransport(url, deadline)
        transport._opener, transport._url = self.transport._opener, url
        self.client._transport = self.transport = transport

    def visit(self, entries: int = 3, whose: str = "both", text: str = "é😀 noted") -> list[str]:
        """Record a visit's entries; their ids."""
        visit, client = str(uuid.uuid4()), self.team.clients[whose]
        self.team.visits[visit] = entries
        return [self.keep(self.client.record("note", client, {"text": f"{text} {number}"}, visit=visit))
                for number in range(entries)]  # fmt: skip

    def keep(self, own: str) -> str:
        self.team.saved[own] = entry_hash(dict(self.state.outbox[own]))
        return own

    def try_sync(self) -> Exception | None:
        """One exchange; what went wrong, if something did."""
        try:
            self.client.sync()
        except (AnswerError, ServerRefused, SignInNeeded) as error:
            return error
        return None

    def settle(self) -> None:
        """Sync as a device does, trying again, until nothing waits and nothing is left to fetch."""
        until = time.monotonic() + PATIENCE
        while True:
            try:
                self.client.sync_all()
                return
            except (AnswerError, ServerRefused) as error:
                assert time.monotonic() < until, error
                time.sleep(0.05)
            except SignInNeeded:
                self.sign_in()

    def check(self, stored: dict[str, str]) -> None:
        """What it holds as sent is in the log with the same hash; what waits here is what it recorded."""
        for own, entry in self.state.entries.items():
            assert stored.get(own) == entry_hash(bare(entry)), "held as sent, but not in the log"
        assert set(self.state.held) <= set(self.state.outbox)


def bare(entry: Any) -> dict[str, Any]:
    """An entry without what the server added."""
    return {key: value for key, value in entry.items() if key not in ("seq", "received_at")}
