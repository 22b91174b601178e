"""The demo server fills its folder once, by the server's own way in, and starts and stops cleanly."""

import re
import shutil
import signal
import socket
import stat
import subprocess
import sys
from datetime import date
from functools import cache

import pytest
from sqlalchemy import func, select

from demo_home_visits import people, serve
from demo_home_visits.build import build
from demo_home_visits.fill import RefusedByServer, append_all
from tests.browser.live_server import ROOT, LiveServer, server_variables
from webapp.storage.database import Database
from webapp.storage.models import Client, Entry, Organisation, User
from webapp.storage.passwords import password_fits
from webapp.storage.people import Person

TODAY = date(2026, 11, 25)


@cache
def scenario():
    return build(TODAY)


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    """A database filled for one day."""
    path = tmp_path_factory.mktemp("filled") / serve.DATABASE
    serve.make_database(path, TODAY)
    database = Database(serve.url_of(path))
    yield database
    database.dispose()


def count(session, model):
    return session.scalar(select(func.count()).select_from(model))


def test_the_server_takes_every_entry(filled):
    with filled.reading() as session:
        assert count(session, Entry) == len(scenario().entries)
        assert count(session, Client) == 25
        assert session.scalars(select(Organisation)).one().head == count(session, Entry)


def test_everybody_can_sign_in_with_the_printed_password(filled):
    with filled.reading() as session:
        kept = {user.sign_in_name: user.password_hash for user in session.scalars(select(User))}
    assert set(kept) == {name for name, _, _ in people.sign_ins()}
    assert all(password_fits(each, people.PASSWORD) for each in kept.values())


def test_an_entry_the_server_refuses_stops_the_filling(filled):
    person = next(each for each in scenario().people if each["key"] == "oriane")
    author = Person(person["id"], scenario().organisation["id"], person["name"], person["role"])
    twin = next(entry for entry in scenario().entries if entry["author"] == author.id)
    with pytest.raises(RefusedByServer):
        append_all(filled, author, person["device"], [twin])


def test_an_interrupted_filling_leaves_no_database(tmp_path, monkeypatch):
    def interrupted(database, scenario):
        raise KeyboardInterrupt

    monkeypatch.setattr(serve, "fill", interrupted)
    with pytest.raises(KeyboardInterrupt):
        serve.make_database(tmp_path / serve.DATABASE, TODAY)
    assert not (tmp_path / serve.DATABASE).exists()


def test_the_secret_is_made_once_and_for_its_owner_only(tmp_path):
    first = serve.secret(tmp_path)
    assert serve.secret(tmp_path) == first and len(first) >= 32
    assert stat.S_IMODE((tmp_path / "secret").stat().st_mode) == 0o600


def test_a_taken_port_gives_the_next_free_one():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with serve.listen(port, 20) as found:
            assert found.getsockname()[1] > port
        with pytest.raises(SystemExit, match="--port"):
            serve.listen(port, 1)


def early_warning(database: Database) -> bool:
    with database.reading() as session:
        return session.scalars(select(Organisation)).one().settings["early_warning"]


def test_the_early_warning_total_is_off_until_it_is_asked_for(filled, tmp_path):
    assert early_warning(filled) is False
    path = tmp_path / serve.DATABASE
    shutil.copyfile(filled.engine.url.database, path)
    serve.show_early_warning(path)
    copy = Database(serve.url_of(path))
    assert early_warning(copy) is True
    copy.dispose()


def test_visits_of_another_day_are_announced(tmp_path, capsys):
    (tmp_path / serve.FILLED_ON).write_text("2026-11-20")
    serve.say_if_old(tmp_path, TODAY)
    assert "2026-11-20" in capsys.readouterr().out
    serve.say_if_old(tmp_path, date(2026, 11, 20))
    assert capsys.readouterr().out == ""


def test_a_killed_server_starts_again_on_its_port_with_everything_there(tmp_path):
    server = LiveServer(tmp_path / "server").start()
    before = (server.folder / "secret").read_text(), server.port
    server.kill()
    assert not server.answers()
    server.start()
    assert ((server.folder / "secret").read_text(), server.port) == before
    assert server.log.read_text().count("Filling the demo database") == 1
    server.stop()
    assert "Stopped." in server.log.read_text() and "Traceback" not in server.log.read_text()


def test_control_c_stops_the_starter_and_fresh_starts_over(tmp_path):
    command = [sys.executable, "-m", "demo_home_visits", "--folder", str(tmp_path), "--port", "8900"]
    for arguments in (["--early-warning"], ["--fresh"]):
        process = subprocess.Popen(
            [*command, *arguments], cwd=ROOT, env=server_variables(), stdout=subprocess.PIPE, text=True
        )
        said = read_until(process, serve.CAUTION)
        process.send_signal(signal.SIGINT)
        rest, _ = process.communicate(timeout=60)
        assert process.returncode == 0 and "Stopped." in rest
        assert re.search(r"http://127\.0\.0\.1:89\d\d/", said)
        assert all(name in said for name, _, _ in people.sign_ins()) and people.PASSWORD in said
        assert "Filling the demo database" in said
        database = Database(serve.url_of(tmp_path / serve.DATABASE))
        assert early_warning(database) is (arguments == ["--early-warning"])
        database.dispose()


def read_until(process, text):
    said = ""
    while text not in said:
        line = process.stdout.readline()
        assert line, f"ended before saying {text!r}: {said}"
        said += line
    return said
