"""The logs of a whole run hold ids, codes and counts, and nothing anybody typed."""

import io
import json
import logging

import pytest

from tests.webapp.logs_of_the_run import recorded, seeded_in
from tests.webapp.support import PASSWORD, House
from webapp.logs import ALLOWED, AllowListFormatter

SEEDED = [
    "Zebulon",
    "Quackenbush",
    "zebulon@example.org",
    "Larkmere",
    PASSWORD,
    "hush-hush",
    "wrong-guess",
    "36.8",
    "A phone of Zebulon",
]


@pytest.fixture
def written():
    """Everything any logger writes, as an operator's file would hold it."""
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(AllowListFormatter())
    plain = logging.StreamHandler(stream)
    loggers = [logging.getLogger(name) for name in ("lintel", "werkzeug", "sqlalchemy", "alembic", "webapp")]
    loggers[0].addHandler(handler)
    for logger in loggers[1:]:
        logger.addHandler(plain)
    yield stream
    loggers[0].removeHandler(handler)
    for logger in loggers[1:]:
        logger.removeHandler(plain)


def test_a_run_full_of_faults_logs_nothing_personal(house: House, written, monkeypatch):
    house.people["zebulon"] = house.add_person("zebulon", house.organisation)
    house.clients["zebulon1"] = house.add_client("zebulon")
    phone = house.phone("zebulon", sign_in=False)
    phone.sign_in(password="wrong-guess")
    phone.sign_in()
    details = {"set": {"name": "Zebulon Quackenbush"}, "seen": {"name": []}}
    note = phone.entry("note", {"text": "hush-hush"})
    phone.sync(
        phone.entry("details", details),
        phone.entry(),
        note,
        note | {"utc_offset": 60},
        phone.entry("note", {"text": "hush-hush\x00"}),
        phone.entry("hush_hush", {"x": "hush-hush"}),
        phone.entry(author=house.people["ann"].id),
        "hush-hush",
        device_name="A phone of Zebulon",
    )
    phone.post('{"hush-hush": "Zebulon')
    phone.browser.get("/app/Zebulon?name=Quackenbush")
    phone.browser.get("/api/v1/Zebulon")
    monkeypatch.setattr("webapp.features.sync.noting.note_known_device", lambda *_: {}["hush-hush Zebulon"])
    assert phone.post(phone.message([phone.entry("note", {"text": "hush-hush"})])).status_code == 500
    monkeypatch.undo()
    monkeypatch.setattr("webapp.features.sync.examining.check_entry", lambda *_: int("hush-hush"))
    assert phone.verdict(phone.entry("note", {"text": "hush-hush"}))["code"] == "not_checked"
    monkeypatch.setattr("webapp.features.sync.examining.check_entry", lambda *_: None)
    refused = phone.entry("note", {"text": "hush-hush"}, author="00000000-0000-4000-8000-0000000000ff")
    assert phone.verdict(refused)["code"] == "not_stored"
    lines = [json.loads(line) for line in written.getvalue().splitlines()]
    # The moment of a line may well end in 36.8 seconds.
    text = json.dumps([{**line, "at": None} for line in lines])
    assert [word for word in SEEDED if word.casefold() in text.casefold()] == []
    assert {"request", "sync", "unexpected", "examine"} <= {line["event"] for line in lines}
    assert all(set(line) <= {"at", "level", "logger", "event", *ALLOWED} for line in lines)


def test_a_log_of_sync_counts_verdicts(house: House, ann, written):
    ann.sync(ann.entry(), ann.entry(body={"fields": {}}))
    [line] = [line for line in map(json.loads, written.getvalue().splitlines()) if line["event"] == "sync"]
    assert (line["applied"], line["held"], line["code"], line["device"]) == (1, 1, ["required"], ann.device)


def test_a_foreign_loggers_message_is_not_written():
    for text, values in (("name: %s", ("Zebulon",)), ("name: Zebulon", ())):
        record = logging.LogRecord("sqlalchemy.engine", logging.WARNING, "", 0, text, values, None)
        assert "Zebulon" not in AllowListFormatter().format(record)


def test_errors_say_where_and_not_what():
    from webapp.errors import where

    try:
        int("Zebulon")
    except ValueError as error:
        assert where(error).startswith("tests.webapp.test_logs:") and "Zebulon" not in where(error)


def test_database_errors_hide_their_parameters(house: House):
    with house.database.reading() as session, pytest.raises(Exception) as found:
        from sqlalchemy import text

        session.execute(text("SELECT nothing FROM nowhere WHERE name = :name"), {"name": "Zebulon"})
    assert "Zebulon" not in str(found.value)


def test_the_search_over_the_whole_run_would_find_something():
    ours, theirs = logging.getLogger("trial"), logging.getLogger("trial of theirs")
    ours.propagate = theirs.propagate = False
    with recorded("trial", "trial of theirs") as stream:
        ours.warning("a message", extra={"code": "Zebulon was here", "typed": "Quackenbush"})
        theirs.warning("name: %s", "Ann Example")
        theirs.info("not written: hush-hush")
    assert seeded_in(stream.getvalue()) == ["Ann Example", "Zebulon"]
