"""Backup and restore on both databases: all of it or nothing, whatever happens in the middle."""

import json
import os
import signal
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from tests.webapp.support import SECRET, House
from tests.webapp.support_audit import actions, check
from webapp.service import __main__ as service
from webapp.storage.backup import BackupFailed, archive, restore, write_backup
from webapp.storage.database import Database
from webapp.storage.models import Base, Organisation, SignIn

ROOT = Path(__file__).resolve().parents[2]


def content(house: House) -> dict[str, list[str]]:
    """Every row of every table, without what a backup or a restore itself writes."""
    found = {}
    with house.database.reading() as session:
        for table in Base.metadata.sorted_tables:
            left_out = {"organisations": {"epoch", "audit_seq", "audit_hash"}, "sessions": {"revoked_at"}}
            columns = [column for column in table.columns if column.name not in left_out.get(table.name, ())]
            query = select(*columns)
            if table.name == "audit":
                query = query.where(table.c.action.not_in(["backed_up", "restored"]))
            found[table.name] = sorted(map(repr, session.execute(query)))
    return found


def fill(house: House) -> Any:
    ann = house.phone("ann")
    details = {"set": {"name": "Zebulon Quackenbush"}, "seen": {"name": []}}
    ann.sync(ann.entry("details", details), *[ann.entry() for _ in range(5)], "no entry at all")
    return ann


def restored(house: House, path: Path, **options: Any):
    house.database.dispose()
    return restore(house.database, path, options.get("key"), options.get("erasures"))


def test_everything_comes_back_and_every_log_begins_a_new_life(house: House, tmp_path):
    ann = fill(house)
    epoch = ann.sync()["epoch"]
    before = content(house)
    written = write_backup(house.database, tmp_path / "one.backup")
    assert archive.digest(tmp_path / "one.backup") == written.sha256
    assert (tmp_path / "one.backup").stat().st_mode & 0o077 == 0
    assert sorted(path.name for path in tmp_path.glob("*one*")) == ["one.backup"]
    ann.sync(ann.entry(), ann.entry())
    assert content(house) != before
    done = restored(house, tmp_path / "one.backup")
    assert content(house) == before
    assert done.kept and done.erased_again == 0
    assert check(house).fault is None and actions(house)[-1] == "restored"
    with house.database.reading() as session:
        assert all(row.revoked_at for row in session.scalars(select(SignIn)))
        epochs = set(session.scalars(select(Organisation.epoch)))
    assert epoch not in epochs and len(epochs) == 2
    assert ann.browser.get("/api/v1/session").status_code == 401


def test_what_is_written_meanwhile_waits_for_nobody(house: House, tmp_path, monkeypatch):
    ann = fill(house)
    real = archive.pack

    def pack(*arguments):
        assert ann.verdict(ann.entry())["verdict"] == "applied"
        real(*arguments)

    monkeypatch.setattr(archive, "pack", pack)
    write_backup(house.database, tmp_path / "one.backup")
    restored(house, tmp_path / "one.backup")
    with house.database.reading() as session:
        assert session.get_one(Organisation, house.organisation).head == 6


def test_a_sealed_backup_opens_with_its_key_alone(house: House, tmp_path):
    fill(house)
    before = content(house)
    public, other = archive.make_key(tmp_path / "key"), archive.make_key(tmp_path / "other key")
    write_backup(house.database, tmp_path / "sealed", public)
    assert b"lintel_backup" not in (tmp_path / "sealed").read_bytes()
    for key, said in ((None, "--key FILE"), (tmp_path / "other key", "another key"), (ROOT, "no secret key")):
        with pytest.raises(BackupFailed, match=said):
            restored(house, tmp_path / "sealed", key=key)
    restored(house, tmp_path / "sealed", key=tmp_path / "key")
    assert content(house) == before and other.startswith("age1")
    with pytest.raises(BackupFailed, match="exists already"):
        archive.make_key(tmp_path / "key")
    with pytest.raises(BackupFailed, match="public one"):
        write_backup(house.database, tmp_path / "wrong", "a passphrase")


def test_what_is_damaged_foreign_or_newer_changes_nothing(house: House, tmp_path):
    fill(house)
    good = tmp_path / "good"
    write_backup(house.database, good)
    before, data = content(house), good.read_bytes()
    spoilt = {"empty": b"", "text": b"not a backup", "cut": data[: len(data) // 2]}
    for place in (1, 3, 5):
        at = len(data) * place // 7
        spoilt[f"flipped {place}"] = data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]
    spoilt["other revision"] = packed_anew(good, revision="9999")
    spoilt["other checksum"] = packed_anew(good, sha256="0" * 64)
    spoilt["other backend"] = packed_anew(good, backend="oracle")
    spoilt["later format"] = packed_anew(good, lintel_backup=2)
    spoilt["other heads"] = packed_anew(good, organisations=[])
    for name, bad in spoilt.items():
        (tmp_path / "bad").write_bytes(bad)
        with pytest.raises(BackupFailed) as refused:
            restored(house, tmp_path / "bad")
        assert "othing was" in str(refused.value) or "newer" in str(refused.value), name
        assert content(house) == before, name
    with pytest.raises(BackupFailed):
        restored(house, tmp_path / "not there")


def packed_anew(good: Path, **changes: Any) -> bytes:
    target = good.with_name("anew")
    with zipfile.ZipFile(good) as source, zipfile.ZipFile(target, "w") as copy:
        for name in source.namelist():
            data = source.read(name)
            if name == archive.FACTS:
                data = json.dumps(json.loads(data) | changes).encode()
            copy.writestr(name, data)
    return target.read_bytes()


def test_a_backup_never_replaces_another(house: House, tmp_path):
    (tmp_path / "one").write_text("the only copy")
    with pytest.raises(BackupFailed, match="exists already"):
        write_backup(house.database, tmp_path / "one")
    assert (tmp_path / "one").read_text() == "the only copy"


def test_a_database_in_use_is_not_replaced(house: House, tmp_path):
    fill(house)
    write_backup(house.database, tmp_path / "one")
    before = content(house)
    house.database.dispose()
    other = Database(house.settings.database_url, SECRET)
    with other.engine.connect() as connection:
        connection.exec_driver_sql("SELECT count(*) FROM entries").all()
        with pytest.raises(BackupFailed, match="Stop the service"):
            restored(house, tmp_path / "one")
    other.dispose()
    assert content(house) == before


def test_a_changed_audit_is_not_restored(house: House, tmp_path):
    from tests.webapp.support_audit import tamper

    fill(house)
    tamper(house, "UPDATE audit SET reason = 'x' WHERE seq = 2")
    write_backup(house.database, tmp_path / "one")
    with pytest.raises(BackupFailed, match="row 2 was edited"):
        restored(house, tmp_path / "one")


# Each time another process of its own, forked from one that has imported everything.
DYING = """
import json, os, signal, sys
from webapp.service import __main__ as service
from webapp.storage.backup import archive, postgres, restoring, sqlite, writing

def run(moment, arguments):
    place, name, when = moment.split(":")
    module = globals()[place]
    real = getattr(module, name)
    def dying(*given, **options):
        if when == "after":
            real(*given, **options)
        os.kill(os.getpid(), signal.SIGKILL)
    setattr(module, name, dying)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    return service.main(arguments)

for line in sys.stdin:
    moment, *arguments = json.loads(line)
    child = os.fork()
    if child == 0:
        os._exit(run(moment, arguments))
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""
IN_BACKUP = ["archive:pack:before", "archive:pack:after", "archive:put_in_place:before"]
IN_RESTORE = ["archive:unpack:after", "restoring:upgrade:after", "restoring:_begin_anew:after",
              "restoring:renew_epoch:after"]  # fmt: skip
AT_THE_SWAP = {"sqlite": "sqlite:put_in_place:before", "postgresql": "postgres:swap:before"}


@pytest.fixture
def run_until(house: House) -> Iterator[Callable[..., int]]:
    """Run a command of the service that is killed at a moment; how its process ended."""
    variables = {"LINTEL_DATABASE_URL": house.settings.database_url, "LINTEL_SECRET_KEY": SECRET,
                 "LINTEL_HOSTS": "lintel.example"}  # fmt: skip
    command = [sys.executable, "-W", "error", "-c", DYING]
    with subprocess.Popen(command, cwd=ROOT, env={**os.environ, **variables}, text=True,
                          stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:  # fmt: skip

        def call(*told: str) -> int:
            process.stdin.write(json.dumps(told) + "\n")
            process.stdin.flush()
            return int(process.stdout.readline())

        yield call


def test_killed_in_the_middle_there_is_no_half_state(house: House, run_until, tmp_path):
    """Case 40 of the project's list of attacks, for backup and restore."""
    fill(house)
    target = tmp_path / "one"
    for moment in IN_BACKUP:
        assert run_until(moment, "backup", str(target)) == -signal.SIGKILL
        assert not target.exists(), moment
    write_backup(house.database, target)
    before = content(house)
    house.phone("ann").sync()
    later = content(house)
    house.database.dispose()
    for moment in [*IN_RESTORE, AT_THE_SWAP[house.database.engine.dialect.name]]:
        assert run_until(moment, "restore", str(target)) == -signal.SIGKILL
        assert content(house) == later, moment
        house.database.dispose()
    restored(house, target)
    assert content(house) == before and check(house).fault is None


def test_the_commands_say_what_to_keep_and_what_to_do(house: House, tmp_path, monkeypatch, capsys):
    for name, value in (("LINTEL_DATABASE_URL", house.settings.database_url), ("LINTEL_SECRET_KEY", SECRET),
                        ("LINTEL_HOSTS", "lintel.example")):  # fmt: skip
        monkeypatch.setenv(name, value)
    fill(house)
    house.database.dispose()
    path = str(tmp_path / "one")
    assert service.main(["backup-key", str(tmp_path / "key")]) == 0
    public = capsys.readouterr().out.split("--for ")[1].strip()
    assert service.main(["backup", path, "--for", public]) == 0
    told = capsys.readouterr().out
    assert "SHA-256" in told and "It is sealed" in told and f'"organisation": "{house.organisation}"' in told
    assert service.main(["restore", path]) == 1
    assert "--key FILE" in capsys.readouterr().err
    assert service.main(["restore", path, "--key", str(tmp_path / "key")]) == 0
    assert "Start the service" in capsys.readouterr().out
