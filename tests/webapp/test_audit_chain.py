"""The audit's chain: what becomes of a row that is changed, of a new secret, of many writers."""

import hashlib
import hmac
import json
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from sync.canonical import canonical
from tests.webapp.support import NOW, SECRET, House
from tests.webapp.support_audit import check, rows, sealed_anew, tamper
from webapp import examiner
from webapp.storage import Database, append_entries, create_client
from webapp.storage.audit import Event, NoAuditKey, record
from webapp.storage.audit.chain import COVERED, derive
from webapp.storage.audit.check import Anchor
from webapp.storage.models import Organisation
from webapp.storage.switches import switch

ROOT = Path(__file__).resolve().parents[2]


def test_what_is_undone_is_not_noted(house: House, ann, monkeypatch):
    before = rows(house)[-1].hash
    monkeypatch.setattr("webapp.storage.append.hold", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        append_entries(
            house.database, ann.person, [ann.entry()], examine=examiner(), device=ann.device, now=NOW
        )
    assert rows(house)[-1].hash == before and check(house).fault is None


def test_the_database_refuses_to_change_or_remove_a_row(house: House):
    on_postgres = house.settings.database_url.startswith("postgresql")
    statements = ["UPDATE audit SET reason = 'x'", "DELETE FROM audit", *(["TRUNCATE audit"] * on_postgres)]
    for statement in statements:
        with pytest.raises(DBAPIError, match="only ever added"), house.database.writing() as session:
            session.execute(text(statement))
    assert check(house).fault is None


def test_a_hash_is_what_the_standards_say_it_is(house: House):
    """Worked out with the standard library alone: HKDF by RFC 5869 over HMAC by RFC 2104."""
    pseudo_random = hmac.new(b"\0" * 32, SECRET.encode(), hashlib.sha256).digest()
    key = hmac.new(pseudo_random, b"lintel audit 1\x01", hashlib.sha256).digest()
    assert key == derive(SECRET)
    last = "0" * 64
    for row in rows(house):
        facts = {name: getattr(row, name) for name in COVERED}
        facts["at"] = row.at.strftime("%Y-%m-%dT%H:%M:%S.") + f"{row.at.microsecond // 1000:03d}Z"
        assert row.prev_hash == last
        assert row.hash == hmac.new(key, canonical(facts).encode(), hashlib.sha256).hexdigest()
        last = row.hash


EDITS = {
    "actor_id": "00000000-0000-4000-8000-00000000000b", "action": "signed_out", "outcome": "refused",
    "record_id": "other", "reason": "other", "count": 7, "at": "2020-01-01 00:00:00+00", "hash": "f" * 64,
}  # fmt: skip


@pytest.mark.parametrize("column", EDITS)
def test_an_edited_row_is_named(house: House, column):
    value = f"'{EDITS[column]}'" if column != "count" else "7"
    if column == "actor_id" and not house.settings.database_url.startswith("postgresql"):
        value = value.replace("-", "")
    where = f"seq = 3 AND organisation_id = '{stored_id(house)}'"
    tamper(house, f"UPDATE audit SET {column} = {value} WHERE {where}")
    assert check(house).fault == "row 3 was edited"
    assert check(house).rows == 2


def stored_id(house: House) -> str:
    """The organisation's id as the database writes it."""
    on_postgres = house.settings.database_url.startswith("postgresql")
    return house.organisation if on_postgres else house.organisation.replace("-", "")


def test_an_edit_sealed_with_the_key_still_shows_at_the_next_row(house: House):
    row = rows(house)[2]
    new = sealed_anew(house, row, reason="other")
    where = f"seq = 3 AND organisation_id = '{stored_id(house)}'"
    tamper(house, f"UPDATE audit SET reason = 'other', hash = '{new}' WHERE {where}")
    assert check(house).fault.startswith("row 4 does not follow row 3")


def test_deleted_rows_are_named(house: House):
    where = f"organisation_id = '{stored_id(house)}'"
    tamper(house, f"DELETE FROM audit WHERE seq IN (2, 3) AND {where}")
    assert check(house).fault == "rows 2 to 3 were deleted"


def test_a_cut_tail_is_found_by_the_head_and_a_mended_head_by_an_anchor(house: House):
    found = rows(house)
    anchor = Anchor(house.organisation, found[-1].seq, found[-1].hash)
    where = f"organisation_id = '{stored_id(house)}'"
    tamper(house, f"DELETE FROM audit WHERE seq > 3 AND {where}")
    assert check(house).fault == f"the end is cut off: rows 4 to {found[-1].seq} were deleted"
    with house.database.writing() as session:
        row = session.get_one(Organisation, house.organisation)
        row.audit_seq, row.audit_hash = 3, found[2].hash
    assert check(house).fault is None, "without an anchor nobody can know"
    assert "cut off" in check(house, [anchor]).fault
    with house.database.writing() as session:
        record(session, house.organisation, NOW, *[Event("backed_up", "backup")] * (len(found) - 3))
    assert check(house).fault is None
    assert check(house, [anchor]).fault.startswith(f"row {anchor.seq} is not the one that was anchored")


def test_a_row_put_behind_the_head_is_found(house: House):
    with house.database.writing() as session:
        row = session.get_one(Organisation, house.organisation)
        row.audit_seq -= 1
    assert "rows were put behind it" in check(house).fault


def test_a_new_secret_continues_the_chain_and_the_old_one_checks_what_it_sealed(house: House):
    url, before = house.settings.database_url, len(rows(house))
    opened = Database(url, "another secret, as invented as the first")
    create_client(opened, house.organisation)
    house.database.audit_keys = opened.audit_keys
    checked = check(house)
    assert (checked.fault, checked.rows) == (None, before + 1)
    assert list(checked.unchecked.values()) == [(1, before)]
    opened.dispose()
    both = Database(url, "another secret, as invented as the first", [SECRET])
    house.database.audit_keys = both.audit_keys
    assert check(house).unchecked == {}
    both.dispose()


def test_without_the_secret_nothing_audited_can_be_changed(house: House):
    keyless = Database(house.settings.database_url)
    with pytest.raises(NoAuditKey):
        create_client(keyless, house.organisation)
    keyless.dispose()
    assert check(house).fault is None


def test_many_writers_keep_one_chain(house: House):
    phones = [house.phone(name) for name in ("ann", "ben") for _ in range(3)]
    batches = {phone.device: [[phone.entry()] for _ in range(5)] for phone in phones}
    start = threading.Barrier(len(phones) + 1)

    def write(phone):
        start.wait()
        for batch in batches[phone.device]:
            append_entries(
                house.database, phone.person, batch, examine=examiner(), device=phone.device, now=NOW
            )

    def decide():
        start.wait()
        for on in [True, False] * 5:
            switch(house.database, house.organisation, "early_warning", on)

    before = len(rows(house))
    with ThreadPoolExecutor(len(phones) + 1) as pool:
        jobs = [pool.submit(write, phone) for phone in phones] + [pool.submit(decide)]
        assert [job.result(60) for job in jobs] == [None] * len(jobs)
    assert len(rows(house)) - before == 6 * 5 + 10
    assert check(house).fault is None


WRITER = """
import json, sys
from datetime import datetime, UTC
from webapp.storage import Database, create_client
given = json.load(sys.stdin)
database = Database(given["url"], given["secret"])
for _ in range(20):
    create_client(database, given["organisation"])
"""


def test_two_processes_keep_one_chain(house: House):
    given = {"url": house.settings.database_url, "secret": SECRET, "organisation": house.organisation}
    before = len(rows(house))
    started = [
        subprocess.Popen([sys.executable, "-W", "error", "-c", WRITER], cwd=ROOT, stdin=subprocess.PIPE)
        for _ in range(2)
    ]
    for process in started:
        process.stdin.write(json.dumps(given).encode())
        process.stdin.close()
    assert [process.wait(120) for process in started] == [0, 0]
    assert len(rows(house)) - before == 40 and check(house).fault is None
