"""Yesterday's backup is put back (F25): a copied SQLite file, and PostgreSQL's own dump and restore.

The service's operator says so with one command; what any device still holds comes back from there.
"""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import select

from tests.databases import Cluster
from tests.sync.real_server.gunicorn_server import ROOT, Gunicorn
from tests.sync.real_server.team import Device, Team
from webapp.storage.models import AuditRow


class Backup:
    """A copy of the database, made while the service runs and put back while it does not."""

    def __init__(self, request: pytest.FixtureRequest, url: str, folder: Path) -> None:
        self.url, self.copy = url, folder / "backup"
        self.cluster: Cluster | None = None
        if url.startswith("postgresql"):
            self.cluster = request.getfixturevalue("cluster")
            self.name = url.split("?")[0].rsplit("/", 1)[1]
            self.copy = self.cluster.folder / f"{self.name}.dump"

    @property
    def file(self) -> Path:
        return Path(self.url.removeprefix("sqlite:///"))

    def make(self) -> None:
        if self.cluster:
            self.cluster.run("pg_dump", "-Fc", "-f", str(self.copy), *self.where(), self.name)
            return
        with closing(sqlite3.connect(self.file)) as source, closing(sqlite3.connect(self.copy)) as target:
            source.backup(target)

    def put_back(self) -> None:
        if self.cluster:
            self.cluster.drop(self.name)
            self.cluster.run("createdb", *self.where(), self.name)
            self.cluster.run("pg_restore", "--exit-on-error", *self.where(), "-d", self.name, str(self.copy))
            return
        for rest in ("-wal", "-shm"):
            Path(f"{self.file}{rest}").unlink(missing_ok=True)
        shutil.copyfile(self.copy, self.file)

    def where(self) -> list[str]:
        return ["-h", str(self.cluster.folder), "-U", "postgres"]


@pytest.fixture
def backup(request: pytest.FixtureRequest, database_url: str, tmp_path: Path) -> Backup:
    return Backup(request, database_url, tmp_path)


def restore(team: Team, server: Gunicorn, backup: Backup, *, said: bool) -> None:
    """Stop the service, put the backup back, say so or forget to, start the service."""
    server.kill()
    team.database.dispose()
    backup.put_back()
    if said:
        command = [sys.executable, "-m", "webapp.service", "restored"]
        done = subprocess.run(
            command, cwd=ROOT, env={**os.environ, **server.variables}, capture_output=True, text=True
        )
        assert done.returncode == 0 and "begun anew" in done.stdout, done.stderr
    server.start()


def test_what_devices_hold_comes_back_after_a_restore(team: Team, server: Gunicorn, backup: Backup):
    """F25: recorded on three devices, acknowledged after the backup; one signed in only after it."""
    phone, ben = Device(team, server.url), Device(team, server.url, "ben")
    phone.visit()
    team.check_settled(phone, ben)
    backup.make()
    today = phone.visit() + ben.visit(whose="ben1")
    corrected = phone.keep(phone.client.record("note", team.clients["both"], {"text": "better"},
                                               amends=today[0], reason="misheard"))  # fmt: skip
    team.check_settled(phone, ben)
    late = Device(team, server.url)
    late.visit(whose="ann1")
    team.check_settled(phone, ben, late)
    unsent = phone.visit()
    before = {entry["id"] for _, _, entry in team.rows()}
    restore(team, server, backup, said=True)
    lost = before - {entry["id"] for _, _, entry in team.rows()}
    assert len(lost) == 10 and {*today, corrected} <= lost
    # The log grows past where the devices stood, so that no number can tell them.
    fresh = Device(team, server.url, "ben")
    fresh.visit(20)
    fresh.settle()
    assert team.head() > len(before)
    team.check_settled(phone, ben, late, fresh)
    assert lost | set(unsent) <= {entry["id"] for _, _, entry in team.rows()}
    assert {entry["id"] for _, _, entry in team.rows()} == set(team.saved)


def test_a_device_notices_by_itself_that_the_log_is_behind(team: Team, server: Gunicorn, backup: Backup):
    """F25: nobody gave the command, but the log ends before what the device has read."""
    phone, ben = Device(team, server.url), Device(team, server.url, "ben")
    phone.visit()
    team.check_settled(phone, ben)
    backup.make()
    phone.visit()
    team.check_settled(phone, ben)
    restore(team, server, backup, said=False)
    assert team.head() == 3
    team.check_settled(phone, ben)
    assert team.head() == 6


def test_what_a_colleague_holds_comes_back_when_its_phone_is_gone_for_good(
    team: Team, server: Gunicorn, backup: Backup
):
    """F25: Ann's phone is lost, the backup is older, Ben's phone had fetched what she recorded."""
    phone, ben = Device(team, server.url), Device(team, server.url, "ben")
    first = phone.visit()
    team.check_settled(phone, ben)
    backup.make()
    lost = phone.visit(40)
    lost.append(phone.keep(phone.client.record("note", team.clients["both"], {"text": "better"},
                                               amends=lost[0], reason="misheard")))  # fmt: skip
    alone = phone.visit(whose="ann1")
    team.check_settled(phone, ben)
    unsent = ben.visit()
    restore(team, server, backup, said=True)
    assert {entry["id"] for _, _, entry in team.rows()} == set(first)
    ben.settle()
    found = {entry["id"]: entry for _, _, entry in team.rows()}
    assert set(found) == {*first, *lost, *unsent}
    assert {found[own]["author"] for own in lost} == {team.people["ann"].id}
    assert {found[own]["device"] for own in lost} == {phone.state.device}
    with team.database.reading() as session:
        query = select(AuditRow.actor_id, AuditRow.count).where(AuditRow.organisation_id == team.organisation)
        back = session.execute(query.where(AuditRow.action == "entries_handed_back")).all()
    assert {actor for actor, _ in back} == {team.people["ben"].id} and sum(n for _, n in back) == len(lost)
    # What nobody else held is gone with the phone: it alone may be missing.
    for own in alone:
        del team.saved[own]
    fresh = Device(team, server.url)
    team.check_settled(ben, fresh)


def test_after_the_secret_was_changed_the_former_one_still_proves(
    team: Team, server: Gunicorn, backup: Backup
):
    """F25: the service has a new secret since; receipts from before it count while it is listed."""
    former = "an invented secret, with a comma, which parts nothing"
    server.kill()
    server.variables["LINTEL_SECRET_KEY"] = former
    server.start()
    phone, ben = Device(team, server.url), Device(team, server.url, "ben")
    backup.make()
    lost = phone.visit()
    team.check_settled(phone, ben)
    server.variables["LINTEL_OLD_SECRET_KEYS"] = json.dumps([former])
    server.variables["LINTEL_SECRET_KEY"] = "another invented secret, long enough to be one"
    restore(team, server, backup, said=True)
    assert team.rows() == []
    ben.settle()
    assert {entry["id"] for _, _, entry in team.rows()} == set(lost)
    team.check_settled(ben)
