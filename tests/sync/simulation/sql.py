"""The same server for the simulation, but the real one: the application over an SQLite file."""

import shutil
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any
from unittest import mock

from sqlalchemy import delete, event, select

import sync.server
from sync.pages import Budget
from sync.server import Report
from sync.transport import Answer
from tests.sync.simulation.memory import Row
from tests.sync.simulation.service import PAGE, SESSION, Crash
from webapp import create_app
from webapp.config import Settings
from webapp.security import cookie_name
from webapp.storage import (
    Person,
    assign_caseload,
    create_client,
    create_organisation,
    create_user,
    end_caseload,
    set_active,
)
from webapp.storage.devices import is_revoked, known_devices, set_revoked
from webapp.storage.epochs import renew_epoch
from webapp.storage.models import Client, Device, Entry, Holding, SignIn, SignInAttempts
from webapp.storage.read import SqlView, entry_json
from webapp.storage.rights import writable_until
from webapp.storage.signing_in import token_hash

PASSWORD = "correct horse battery"
# A request makes some forty statements and commits three times: it dies at one or at the other.
STATEMENTS = 9


class SqlService:
    """What `Service` is, over the application itself."""

    def __init__(self, file: Path, people: dict[str, Person], now: datetime, new_id: Any) -> None:
        self.file, self.people, self.now, self.new_id = file, people, now, new_id
        settings = self.settings = Settings(
            database_url=f"sqlite:///{file}",
            secret_key="an invented secret, for tests and for nothing else",
            demo=True,
            clock=lambda: self.now,
        )
        self.app = create_app(settings)
        self.database = self.app.extensions["lintel.database"]
        for own in dict.fromkeys(person.organisation for person in people.values()):
            create_organisation(self.database, "Larkmere Home Therapy", id=own)
        for person in people.values():
            create_user(self.database, person.organisation, sign_in_name=person.id, display_name=person.name,
                        role=person.role, password=PASSWORD, id=person.id)  # fmt: skip
        self.browsers: dict[str, tuple[Any, str]] = {}
        self.copies: list[Path] = []
        self.given: dict[str, set[str]] = {}
        self.dies_in: int | None = None
        self.dies_at = ""
        event.listen(self.database.engine, "before_cursor_execute", lambda *_all: self.step("at a statement"))
        event.listen(self.database.engine, "commit", lambda _connection: self.step("at a commit"))

    # What an administrator does.

    def assign(self, person: str, client: str) -> None:
        self.given.setdefault(person, set()).add(client)
        with self.database.reading() as session:
            known = session.get(Client, (self.people[person].organisation, client))
        if known is None:
            create_client(self.database, self.people[person].organisation, id=client)
        assign_caseload(self.database, self.people[person], [client], since=self.now)

    def end(self, person: str, client: str) -> None:
        end_caseload(self.database, self.people[person], client, until=self.now)

    def set_active(self, person: str, active: bool) -> None:
        set_active(self.database, self.people[person], active)
        with self.database.writing() as session:
            session.execute(delete(SignInAttempts))

    def set_revoked(self, person: str, device: str, revoked: bool) -> None:
        set_revoked(
            self.database, self.people[person].organisation, device, self.now if revoked else None
        )

    def back_up(self) -> None:
        copy = self.file.with_suffix(f".{len(self.copies)}")
        with closing(sqlite3.connect(self.file)) as source, closing(sqlite3.connect(copy)) as target:
            source.backup(target)
        self.copies.append(copy)

    def restore(self, number: int) -> set[tuple[str, str, str]]:
        before = self.everything()
        self.database.dispose()
        for rest in ("-wal", "-shm"):
            Path(f"{self.file}{rest}").unlink(missing_ok=True)
        shutil.copyfile(self.copies[number], self.file)
        renew_epoch(self.database)
        return before - self.everything()

    def everything(self) -> set[tuple[str, str, str]]:
        with self.database.reading() as session:
            found = session.execute(select(Entry.organisation_id, Entry.id, Entry.hash))
            return {(own, name, digest) for own, name, digest in found}

    # What a device meets.

    def sign_in(self, person: str) -> str | None:
        browser = self.app.test_client()
        page = browser.get("/sign-in").text.split('name="csrf_token"')[1].split('value="')[1].split('"')[0]
        browser.post("/sign-in", data={"csrf_token": page, "name": person, "password": PASSWORD})
        session = browser.get("/api/v1/session")
        if session.status_code != 200:
            return None
        cookie = self.new_id()
        self.browsers[cookie] = (browser, session.json["csrf"])
        return cookie

    def expire(self, cookie: str | None) -> None:
        if cookie in self.browsers:
            browser, csrf = self.browsers[cookie]
            browser.post("/sign-out", headers={"X-CSRFToken": csrf})
            assert browser.get("/api/v1/session").status_code == 401

    def handle(self, data: bytes, cookie: str | None, path: str, headers: Mapping[str, str]) -> Answer:
        browser, csrf = self.browsers.get(cookie or "", (self.app.test_client(), ""))
        if self.dies_in is not None:
            at_commits = self.dies_in % 2
            self.dies_in = self.dies_in // 2 * (1 if at_commits else STATEMENTS)
            self.dies_at = "at a commit" if at_commits else "at a statement"
        if path == SESSION:
            answer = browser.get(path)
        else:
            told = {"x-csrftoken": csrf, "content-type": "application/json"} | dict(headers)
            with mock.patch.object(sync.server, "Budget", lambda: Budget(entries=PAGE)):
                answer = browser.post(path, data=data, headers=told)
        assert answer.status_code < 500
        headers = {name.lower(): value for name, value in answer.headers.items()}
        return Answer(answer.status_code, headers, answer.data)

    def step(self, name: str) -> None:
        """As the server in memory: here it may die."""
        if self.dies_in is not None and name == self.dies_at:
            self.dies_in -= 1
            if self.dies_in < 0:
                self.dies_in = None
                raise Crash(name)

    # What a check looks at.

    def rows(self, organisation: str) -> list[Row]:
        query = select(Entry).where(Entry.organisation_id == organisation).order_by(Entry.seq)
        with self.database.reading() as session:
            found = session.scalars(query).all()
        return [Row(row.seq, row.hash, _bare(entry_json(row)), row.received_at) for row in found]

    def view(self, session: Any, person: str) -> SqlView:
        return SqlView(session, self.people[person], self.now)

    def head_and_epoch(self, organisation: str) -> tuple[int, str]:
        somebody = next(own for own, person in self.people.items() if person.organisation == organisation)
        with self.database.reading() as session:
            return self.view(session, somebody).head_and_epoch()

    def head(self, organisation: str) -> int:
        return self.head_and_epoch(organisation)[0]

    def epoch(self, organisation: str) -> str:
        return self.head_and_epoch(organisation)[1]

    def clients(self, person: str) -> list[str]:
        with self.database.reading() as session:
            return self.view(session, person).clients()

    def writable_until(self, person: str) -> dict[str, datetime]:
        everybody = set().union(*self.given.values())
        with self.database.reading() as session:
            return writable_until(session, self.people[person], everybody, self.now)

    def is_revoked(self, person: str, device: str, cookie: str | None = None) -> bool:
        """Also under another id, in a session that was used from a withdrawn device."""
        with self.database.reading() as session:
            home, used = self.people[person].organisation, self.used_from(session, cookie)
            return any(is_revoked(session, home, own) for own in (device, used) if own)

    def used_from(self, session: Any, cookie: str | None) -> str | None:
        browser = self.browsers.get(cookie or "", (None, ""))[0]
        token = browser and browser.get_cookie(cookie_name(self.settings, "session"))
        query = select(SignIn.device_id).where(SignIn.token_hash == token_hash(token.value if token else ""))
        return session.scalar(query)

    def ever(self, person: str) -> set[str]:
        return self.given.get(person, set())

    def set_aside(self, organisation: str) -> set[str]:
        here = (Holding.organisation_id == organisation, Holding.settled_at.is_(None))
        with self.database.reading() as session:
            return {own for own in session.scalars(select(Holding.entry_id).where(*here)) if own}

    def report(self, person: str, device: str) -> Report | None:
        with self.database.reading() as session:
            row = session.get(Device, (self.people[person].organisation, person, device))
        return row and Report(row.unsent, row.last_device_seq)

    def missing(self, person: str, device: str) -> list[int]:
        with self.database.reading() as session:
            found = known_devices(session, self.people[person].organisation, person)
        spans = [span for each in found if each.id == device for span in each.missing]
        return [number for first, last in spans for number in range(first, last + 1)]


def _bare(entry: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in entry.items() if key not in ("seq", "received_at")}
