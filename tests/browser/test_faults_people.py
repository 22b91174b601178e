"""People, rights and clocks in a real browser: faults 25, 32, 39, 41, 42 and 47."""

import shutil
import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from tests.browser.engine_bench import Bench, open_controlled, sign_in
from tests.browser.engine_server import NAME, OTHER_NAME, PASSWORD, SECRET
from tests.browser.kept import ENTRIES, OPEN, OUTBOX, check_all_there, check_kept, hashes, log_of, save, sync
from webapp.storage import Database
from webapp.storage.epochs import renew_epoch
from webapp.storage.models import User
from webapp.storage.passwords import hash_password
from webapp.storage.people import Person
from webapp.storage.signing_in import end_sessions

PRINTED = r"Failed to load resource: (net::ERR_|the server responded with a status of 401)"
CARD = f"""async ([person, client]) => {{
  {OPEN}
  return bench.clientCard(await store.entriesOf(client), '2026-11-25');
}}"""
FORGET_RECEIPTS = """async (person) => {
  const asked = (request) => new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
  const db = await asked(indexedDB.open(`lintel-${person}`));
  const meta = db.transaction('meta', 'readwrite').objectStore('meta');
  const range = IDBKeyRange.bound('receipt:', 'receipt:\uffff');
  const found = await asked(meta.count(range));
  await asked(meta.delete(range));
  db.close();
  return found;
}"""
SAVE_ONE = f"async ([person, draft]) => {{ {OPEN} return store.save(draft); }}"


@pytest.fixture
def page(phone, bench, watch):
    watch.allow(PRINTED)
    page = open_controlled(phone, bench)
    sign_in(page, bench)
    return page


@pytest.fixture
def second(open_phone, bench):
    """The same person's other device."""
    page = open_controlled(open_phone(), bench)
    sign_in(page, bench)
    return page


def database_of(bench: Bench) -> Database:
    return Database(f"sqlite:///{bench.folder / 'lintel.sqlite3'}", SECRET)


def person_in(database: Database) -> Person:
    with database.reading() as session:
        row = session.scalars(select(User).where(User.sign_in_name == NAME)).one()
        return Person(row.id, row.organisation_id, row.display_name, row.role)


def test_an_ended_sign_in_keeps_two_hundred_entries_and_more(page, bench):
    """Fault 41: 401 changes the state of nothing, and after signing in everything goes, in batches."""
    person = bench.ids["person"]
    assert sync(page, person)["phase"] == "idle"
    page.context.clear_cookies()
    saved = save(page, person, bench.ids["one"], 205)
    status = sync(page, person)
    assert (status["phase"], status["waiting"]) == ("sign_in", 205)
    assert set(check_kept(page, bench, person, saved).values()) == {"waiting"}
    sign_in(page, bench)
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)


def test_a_password_changed_elsewhere_ends_the_sign_in_and_keeps_the_entries(own_bench, page, bench):
    """Fault 42: the old password signs nobody in any more; with the new one everything goes."""
    person = bench.ids["person"]
    assert sync(page, person)["phase"] == "idle"
    saved = save(page, person, bench.ids["one"], 3)
    database = database_of(bench)
    owner = person_in(database)
    with database.writing() as session:
        session.get_one(User, (owner.organisation, owner.id)).password_hash = hash_password("a new password")
    end_sessions(database, owner, datetime.now(UTC))
    assert sync(page, person)["phase"] == "sign_in"
    assert set(check_kept(page, bench, person, saved).values()) == {"waiting"}
    page.goto(f"{bench.url}/sign-in")
    page.fill("input[name=name]", NAME)
    for word in (PASSWORD, "a new password"):
        page.fill("input[name=password]", word)
        page.click("button[type=submit]")
        page.wait_for_load_state()
    page.wait_for_url("**/app/")
    database.dispose()
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)


def test_another_person_on_the_device_neither_sees_nor_sends_what_the_first_left(own_bench, page, bench):
    """Fault 47: it is counted, stays, is never sent as the second's, and goes when the first is back."""
    ann, ben = bench.ids["person"], bench.ids["other"]
    assert sync(page, ann)["phase"] == "idle"
    anns = save(page, ann, bench.ids["one"], 3)
    page.evaluate("async (id) => bench.rememberPerson({id})", ann)
    page.context.clear_cookies()
    sign_in(page, bench, OTHER_NAME)
    assert page.evaluate("(id) => bench.unsentOfOthers(id)", ben) == 3
    assert page.evaluate(OUTBOX, ben) == [] and page.evaluate("() => store.cards()") == []
    bens = save(page, ben, bench.ids["bens"], 1)
    assert sync(page, ben)["phase"] == "idle"
    page.evaluate("() => { delete globalThis.store; delete globalThis.engine; }")
    status = sync(page, ann)
    assert (status["phase"], status["waiting"]) == ("sign_in", 3), "her window while he is signed in"
    assert {entry["id"] for entry in log_of(bench)} == set(bens)
    page.context.clear_cookies()
    sign_in(page, bench)
    assert sync(page, ann)["phase"] == "idle"
    check_all_there(page, bench, ann, anns | bens)
    assert {entry["author"] for entry in log_of(bench) if entry["id"] in anns} == {ann}
    assert page.evaluate("(id) => bench.unsentOfOthers(id)", ben) == 0


def test_two_devices_that_edited_one_client_offline_disagree_alike(page, second, bench):
    """Fault 39: both values are kept, and both devices show the same disagreement."""
    person, one = bench.ids["person"], bench.ids["one"]
    for device in (page, second):
        assert sync(device, person)["phase"] == "idle"
        device.context.set_offline(True)
    for device, door in ((page, "The blue door."), (second, "Ring twice.")):
        body = {"set": {"access": door}, "seen": {}}
        device.evaluate(SAVE_ONE, [person, {"kind": "details", "client": one, "body": body}])
        assert sync(device, person)["phase"] == "offline"
    saved = {}
    for device in (page, second, page):
        saved |= hashes(device.evaluate(ENTRIES, [person, one]))
        device.context.set_offline(False)
        assert sync(device, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)
    shown = [device.evaluate(CARD, [person, one])["disagreements"] for device in (page, second)]
    assert shown[0] == shown[1]
    assert [option["value"] for option in shown[0][0]["options"]] == ["Ring twice.", "The blue door."]


def test_a_clock_ahead_or_behind_changes_what_is_written_but_never_what_is_kept(page, bench):
    """Fault 32: up to a day ahead and years behind are taken as recorded; beyond a day ahead it is held."""
    person, one = bench.ids["person"], bench.ids["one"]
    # In the middle of an hour, which nothing here takes long enough to leave.
    now, saved, written = datetime.now(UTC).replace(minute=30), {}, []
    for shift in (timedelta(hours=23), timedelta(days=-366), timedelta(0)):
        page.clock.set_system_time(now + shift)
        fresh = page.evaluate(
            SAVE_ONE, [person, {"kind": "note", "client": one, "body": {"text": "A clock."}}]
        )
        written.append(fresh["recorded_at"])
        saved |= hashes([fresh])
        assert sync(page, person)["phase"] == "idle"
    assert [moment[:13] for moment in written] == [
        (now + shift).strftime("%Y-%m-%dT%H")
        for shift in (timedelta(hours=23), timedelta(days=-366), timedelta(0))
    ]
    check_all_there(page, bench, person, saved)
    came = [entry["recorded_at"] for entry in log_of(bench) if entry["id"] in saved]
    assert came == written, "in the order it came, as written"

    page.clock.set_system_time(now + timedelta(hours=25))
    early = page.evaluate(SAVE_ONE, [person, {"kind": "note", "client": one, "body": {"text": "Too early."}}])
    page.clock.set_system_time(now)
    assert sync(page, person)["held"] == 1
    assert check_kept(page, bench, person, saved | hashes([early])) == {early["id"]: "held"}
    (row,) = page.evaluate(OUTBOX, person)
    assert row["code"] == "own_clock" and "date of this device was wrong" in row["message"]


def test_a_zone_changed_in_mid_visit_is_kept_with_each_entry(open_phone, bench):
    """Fault 32: each entry knows the offset of its own moment and place."""
    person, one = bench.ids["person"], bench.ids["one"]
    page = open_controlled(open_phone(timezone_id=None), bench)
    sign_in(page, bench)
    session, offsets, saved = page.context.new_cdp_session(page), [], {}
    for zone in ("Europe/London", "America/St_Johns", "Asia/Kolkata"):
        session.send("Emulation.setTimezoneOverride", {"timezoneId": zone})
        fresh = page.evaluate(SAVE_ONE, [person, {"kind": "note", "client": one, "body": {"text": zone}}])
        offsets.append(fresh["utc_offset"])
        saved |= hashes([fresh])
    assert offsets[1:] in ([-210, 330], [-150, 330]) and offsets[0] in (0, 60)
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved)
    assert [entry["utc_offset"] for entry in log_of(bench) if entry["id"] in saved] == offsets


@pytest.mark.parametrize("renewed", [True, False], ids=["new epoch", "head behind the cursor"])
def test_a_backup_restored_is_made_whole_by_its_devices(own_bench, page, second, bench, watch, renewed):
    """Fault 25: each device offers what the file lost, also of another device that may be gone for good."""
    watch.allow_network_errors()
    person, one = bench.ids["person"], bench.ids["one"]
    saved = save(page, person, one, 2)
    assert sync(page, person)["phase"] == "idle"
    copy_to(bench, bench.folder / "yesterday.sqlite3")
    lost_there = save(second, person, one, 3)
    lost_here = save(page, person, one, 1)
    everything = saved | lost_there | lost_here
    for device in (second, page, second):
        assert sync(device, person)["phase"] == "idle"
    check_all_there(page, bench, person, everything)

    restore(bench, bench.folder / "yesterday.sqlite3", renewed)
    assert sync(page, person)["phase"] == "idle"
    # The other has not been heard of: what it recorded came from here, proved, and nothing stands aside.
    check_all_there(page, bench, person, everything)
    assert hashes(page.evaluate(ENTRIES, [person, one])) == everything
    with sqlite3.connect(bench.folder / "lintel.sqlite3") as log:
        told = log.execute("SELECT count FROM audit WHERE action = 'entries_handed_back'").fetchall()
        assert told == [(3,)]
        assert log.execute("SELECT count(*) FROM holding").fetchone() == (0,)
    assert sync(second, person)["phase"] == "idle"
    check_all_there(second, bench, person, everything)
    assert hashes(second.evaluate(ENTRIES, [person, one])) == everything


def test_ones_own_of_a_lost_phone_comes_back_without_a_receipt_too(own_bench, page, second, bench, watch):
    """Fault 25: fetched from a server that gave no receipts yet; it is judged like any push of its author."""
    watch.allow_network_errors()
    person, one = bench.ids["person"], bench.ids["one"]
    saved = save(page, person, one, 2)
    assert sync(page, person)["phase"] == "idle"
    copy_to(bench, bench.folder / "yesterday.sqlite3")
    lost = save(second, person, one, 2)
    for device in (second, page):
        assert sync(device, person)["phase"] == "idle"
    assert page.evaluate(FORGET_RECEIPTS, person) == 2
    restore(bench, bench.folder / "yesterday.sqlite3", True)
    assert sync(page, person)["phase"] == "idle"
    check_all_there(page, bench, person, saved | lost)


def copy_to(bench: Bench, backup: Path) -> None:
    """A backup of the running server's database, as sqlite3's own backup makes it."""
    with sqlite3.connect(bench.folder / "lintel.sqlite3") as source, sqlite3.connect(backup) as target:
        source.backup(target)


def restore(bench: Bench, backup: Path, renewed: bool) -> None:
    """Put a backup in the database's place; `renewed`: as it should be done, with a new epoch."""
    bench.stop()
    for rest in bench.folder.glob("lintel.sqlite3*"):
        rest.unlink()
    shutil.copy(backup, bench.folder / "lintel.sqlite3")
    if renewed:
        database = database_of(bench)
        renew_epoch(database)
        database.dispose()
    bench.start()
