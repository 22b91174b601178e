"""Actors for the server's tests: a house full of invented people, and phones that sync."""

import json
import uuid
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import msgspec
from flask import Flask
from sqlalchemy import insert, select

from sync.instants import write_instant
from sync.uuid7 import uuid7
from webapp import create_app, examiner
from webapp.config import Settings
from webapp.storage import (
    Database,
    Person,
    assign_caseload,
    create_client,
    create_organisation,
    create_user,
)
from webapp.storage.models import Base

NOW = datetime(2026, 11, 25, 9, 40, tzinfo=UTC)
SECRET = "an invented secret, for tests and for nothing else"
PASSWORD = "correct horse battery"
SERVICE = "Larkmere Home Therapy"
TEMPERATURE = {
    "fields": {"site": "oral", "temperature": "36.8"},
    "units": {"temperature": "Cel"},
    "technique": [],
    "confirmed": [],
}
PRESSURE = {
    "fields": {
        "posture": "sitting",
        "method": "automatic",
        "readings": [{"arm": "left", "systolic": "128", "diastolic": "76"}],
    },
    "units": {},
    "technique": [],
    "confirmed": [],
}
_random = iter(int.to_bytes(number, 10, "big") for number in range(1, 10**9))


def new_id() -> str:
    """An entry id nobody has used."""
    return uuid7(int(NOW.timestamp() * 1000), next(_random))


def draft(kind: str, body: Any, **other: Any) -> dict[str, Any]:
    """An entry with everything but its author, client and device filled in."""
    made = {
        "id": new_id(),
        "kind": kind,
        "schema": 1,
        "visit": None,
        "utc_offset": 0,
        "recorded_at": write_instant(NOW - timedelta(minutes=5)),
        "device": str(uuid.uuid4()),
        "device_seq": 1,
        "amends": None,
        "voids": None,
        "reason": None,
        "body": body,
    }
    return json.loads(json.dumps(made | other))


SOMEBODY = "00000000-0000-4000-8000-00000000000a"
EXAMINED = Person(
    id="00000000-0000-4000-8000-0000000000aa", organisation=SOMEBODY, name="Ann", role="therapist"
)


def refusal_of(entry: Any) -> dict[str, Any] | None:
    """What an entry is told when it is looked at alone: None when it may be taken."""
    found = examiner()(entry, EXAMINED, NOW).refusal
    return msgspec.to_builtins(found) if found else None


def entry_of(kind: str = "temperature", body: Any = TEMPERATURE, **other: Any) -> dict[str, Any]:
    return draft(kind, body, author=EXAMINED.id, client=SOMEBODY) | other


@dataclass
class Clock:
    """The server's clock, turned by hand."""

    moment: datetime = NOW

    def __call__(self) -> datetime:
        return self.moment

    def forward(self, **by: float) -> None:
        """Let some time pass."""
        self.moment += timedelta(**by)


class House:
    """Ann and Ben of one organisation, Cleo of another; Ann sees anna1 and anna2, Ben ben1, Cleo cleo1."""

    def __init__(self, url: str, app: Flask | None = None, **settings: Any) -> None:
        self.clock = Clock()
        settings = {"secret_key": SECRET, "demo": True, "clock": self.clock} | settings
        self.settings = Settings(database_url=url, **settings)
        self.app = app or create_app(self.settings)
        self.app.extensions["lintel.settings"] = self.settings
        self.database: Database = self.app.extensions["lintel.database"]
        if app is None:
            self.move_in()

    def move_in(self) -> None:
        self.organisation = create_organisation(self.database, SERVICE)
        self.other = create_organisation(self.database, "Somewhere Else")
        self.people: dict[str, Person] = {}
        self.clients: dict[str, str] = {}
        for name, organisation in (
            ("ann", self.organisation),
            ("ben", self.organisation),
            ("cleo", self.other),
        ):
            self.people[name] = self.add_person(name, organisation)
        for name, person in (("ann1", "ann"), ("ann2", "ann"), ("ben1", "ben"), ("cleo1", "cleo")):
            self.clients[name] = self.add_client(person)

    def add_person(self, name: str, organisation: str, role: str = "therapist") -> Person:
        return create_user(
            self.database,
            organisation,
            sign_in_name=f"{name}@example.org",
            role=role,
            display_name=f"{name.title()} Example",
            password=PASSWORD,
        )

    def add_client(self, person: str) -> str:
        owner = self.people[person]
        client = create_client(self.database, owner.organisation)
        assign_caseload(self.database, owner, [client], since=NOW - timedelta(days=30))
        return client

    def phone(self, name: str, sign_in: bool = True) -> "Phone":
        """A phone of somebody, signed in unless told otherwise."""
        phone = Phone(self, name)
        if sign_in:
            phone.sign_in()
        return phone

    def close(self) -> None:
        self.database.dispose()


class Plan:
    """A house as it was just built: the same one stands again in any empty database at its address.

    It is the same application too. Building one makes every route and compiles every query anew, and both
    take longer than most tests.
    """

    def __init__(self, house: House) -> None:
        self.house, self.people, self.clients = house, dict(house.people), dict(house.clients)
        with house.database.reading() as session:
            self.rows = {
                table: [dict(row) for row in session.execute(select(table)).mappings()]
                for table in Base.metadata.sorted_tables
            }

    def build(self) -> House:
        house = House(self.house.settings.database_url, self.house.app)
        house.organisation, house.other = self.house.organisation, self.house.other
        house.people, house.clients = dict(self.people), dict(self.clients)
        with house.database.writing() as session:
            for table, rows in self.rows.items():
                if rows:
                    session.execute(insert(table), rows)
        return house


@dataclass
class Phone:
    """One device of one person: signs in, records, syncs."""

    house: House
    name: str
    device: str = field(default_factory=lambda: str(uuid.uuid4()))
    seq: int = 0
    csrf: str = ""
    epoch: str | None = None
    after: int = 0

    def __post_init__(self) -> None:
        self.browser = self.house.app.test_client()
        self.person = self.house.people[self.name]

    def form_token(self) -> str:
        """The hidden field of the sign-in form."""
        return (
            self.browser.get("/sign-in").text.split('name="csrf_token"')[1].split('value="')[1].split('"')[0]
        )

    def sign_in(self, name: str | None = None, password: str = PASSWORD):
        """Sign in by the form, then ask who is signed in."""
        answer = self.browser.post(
            "/sign-in",
            data={
                "csrf_token": self.form_token(),
                "name": name or f"{self.name}@example.org",
                "password": password,
            },
        )
        session = self.browser.get("/api/v1/session")
        self.csrf = session.json.get("csrf", "")
        return answer

    def entry(
        self, kind: str = "temperature", body: Any = None, client: str = "", **other: Any
    ) -> dict[str, Any]:
        """An entry as this phone would record it."""
        self.seq += 1
        own = {
            "client": self.house.clients[client or f"{self.name}1"],
            "author": self.person.id,
            "recorded_at": write_instant(self.house.clock() - timedelta(minutes=5)),
            "device": self.device,
            "device_seq": self.seq,
        }
        return draft(kind, TEMPERATURE if body is None else body, **own | other)

    def message(self, push: list[Any], **other: Any) -> dict[str, Any]:
        """A sync message as this phone would write it."""
        made = {
            "protocol": 1,
            "build": "test",
            "device": self.device,
            "device_name": "A phone",
            "epoch": self.epoch,
            "unsent": len(push),
            "last_device_seq": self.seq,
            "push": push,
            "pull": {"after": self.after, "caseload": None, "fill": []},
        }
        return made | other

    def post(self, data: Any, **options: Any):
        """Send anything to the sync address."""
        headers = {"X-CSRFToken": self.csrf} | options.pop("headers", {})
        body = data if isinstance(data, bytes | str) else json.dumps(data)
        options.setdefault("content_type", "application/json")
        return self.browser.post("/api/v1/sync", data=body, headers=headers, **options)

    def sync(self, *push: Any, **other: Any) -> dict[str, Any]:
        """One good sync; the answer."""
        answer = self.post(self.message(list(push), **other))
        assert answer.status_code == 200, answer.text
        return answer.json

    def verdict(self, item: Any) -> dict[str, Any]:
        """The verdict on one item sent alone."""
        [verdict] = self.sync(item)["verdicts"]
        return verdict

    def pull(self, **pull: Any) -> dict[str, Any]:
        """What the server sends for a cursor, with the epoch it named last."""
        if self.epoch is None:
            self.epoch = self.sync()["epoch"]
        return self.sync(pull={"after": 0, "caseload": None, "fill": []} | pull)["pull"]
