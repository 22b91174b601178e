"""Rows made for the driver hold what SQLAlchemy would have stored, on both databases."""

import json

import pytest
from sqlalchemy import delete, insert, select, text

from sync.canonical import canonical
from tests.webapp.support import NOW, House, new_id
from webapp import examiner
from webapp.storage.entry_rows import EntryRows
from webapp.storage.models import Entry, Holding
from webapp.storage.sender import Sender

MANY = 250


@pytest.fixture
def ann(house: House):
    return house.phone("ann")


def test_a_row_is_stored_as_sqlalchemy_stores_it(house: House, ann):
    original = ann.entry()
    ann.sync(original)
    entry = ann.entry(amends=original["id"], reason="Mistyped – \u00b0C", visit=new_id())
    found = examiner()(entry, ann.person, NOW)
    with house.database.writing() as session:
        made = EntryRows(session, Sender(ann.person, ann.device, NOW))
        made.store([(*made.of(found), 7)])
        ours = stored(session, entry["id"])
        session.execute(delete(Entry).where(Entry.id == entry["id"]))
        session.execute(insert(Entry), columns(entry, ann, found.hash))
        theirs = stored(session, entry["id"])
    assert ours == theirs and len(ours) == len(Entry.__table__.columns)


def columns(entry: dict, ann, digest: str) -> dict:
    kept = {key: entry[key] for key in entry if key not in ("client", "visit", "author", "device", "body")}
    links = {f"{key}_id": entry[key] for key in ("client", "visit", "author", "device")}
    return kept | links | {
        "organisation_id": ann.person.organisation, "seq": 7, "hash": digest,
        "body": canonical(entry["body"]), "received_at": NOW,
    }  # fmt: skip


def stored(session, own: str) -> dict:
    """A row as the driver gives it, nothing read into it."""
    mine = own if session.get_bind().dialect.name == "postgresql" else own.replace("-", "")
    row = session.connection().execute(text("SELECT * FROM entries WHERE id = :own"), {"own": mine}).one()
    return dict(row._mapping)


def test_of_very_many_the_one_that_is_refused_is_set_aside_alone(house: House, ann, monkeypatch):
    entries = [ann.entry() for _ in range(MANY)]
    monkeypatch.setattr("webapp.features.sync.examining.check_entry", lambda *_: None)
    # As if a check had let through what a constraint does not: an author who does not exist.
    entries[120]["author"] = new_id()
    verdicts = ann.sync(*entries)["verdicts"]
    assert [each["verdict"] for each in verdicts] == ["applied"] * 120 + ["held"] + ["applied"] * (MANY - 121)
    assert [each["seq"] for each in verdicts if each["verdict"] == "applied"] == list(range(1, MANY))
    with house.database.reading() as session:
        [kept] = session.scalars(select(Holding.raw))
    assert json.loads(kept) == entries[120]


@pytest.mark.parametrize("count", [1, 99, 100, 101, 200, MANY])
def test_every_row_is_stored_once_and_in_order(house: House, ann, count):
    entries = [ann.entry() for _ in range(count)]
    ann.sync(*entries)
    with house.database.reading() as session:
        ids = list(session.scalars(select(Entry.id).order_by(Entry.seq)))
    assert ids == [each["id"] for each in entries]
