"""The migrations: from nothing to what the models say, on both databases, and back."""

import sqlite3
import subprocess
import sys
from pathlib import Path
from threading import Timer

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect

from webapp.storage import Database, create_organisation, upgrade
from webapp.storage.database import make_engine
from webapp.storage.models import Base
from webapp.storage.upgrade import migration_config

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def database(empty_url):
    opened = Database(empty_url)
    yield opened
    opened.dispose()


def test_migrating_from_nothing_gives_what_the_models_say(database, empty_url):
    upgrade(empty_url)
    with database.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_constraints_are_the_same_by_name_too(database, empty_url):
    upgrade(empty_url)
    for table in Base.metadata.sorted_tables:
        found = inspect(database.engine)
        named = {item["name"] for item in found.get_foreign_keys(table.name)}
        named |= {item["name"] for item in found.get_unique_constraints(table.name)}
        named |= {item["name"] for item in found.get_check_constraints(table.name)}
        named |= {found.get_pk_constraint(table.name)["name"]}
        wanted = {str(constraint.name) for constraint in table.constraints}
        assert {name for name in named if name} == wanted, table.name
        indexes = {
            item["name"] for item in found.get_indexes(table.name) if not item.get("duplicates_constraint")
        }
        assert indexes == {str(index.name) for index in table.indexes}


def test_the_organisation_stands_in_every_key_and_reference():
    alone = {"organisations", "sign_in_attempts", "passkey_challenges", "worker_beats"}
    for table in Base.metadata.sorted_tables:
        if table.name in alone:
            continue
        assert "organisation_id" in table.primary_key.columns, table.name
        for key in table.foreign_key_constraints:
            assert "organisation_id" in key.column_keys, (table.name, key.name)


def test_migrating_again_keeps_what_is_there(database, empty_url):
    upgrade(empty_url)
    create_organisation(database, "An organisation")
    upgrade(empty_url)
    with database.engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM organisations").scalar() == 1


def test_down_and_up_again(database, empty_url):
    upgrade(empty_url)
    with database.writing() as session:
        command.downgrade(migration_config(session.connection()), "base")
    assert set(inspect(database.engine).get_table_names()) <= {"alembic_version"}
    upgrade(empty_url)
    assert set(Base.metadata.tables) <= set(inspect(database.engine).get_table_names())


def test_a_migration_that_fails_leaves_nothing_behind(database, empty_url, monkeypatch):
    monkeypatch.setattr(command, "upgrade", lambda config, revision: failing(config))
    with pytest.raises(ZeroDivisionError):
        upgrade(empty_url)
    assert inspect(database.engine).get_table_names() == []


def failing(config):
    connection = config.attributes["connection"]
    connection.exec_driver_sql("CREATE TABLE half_done (id INTEGER PRIMARY KEY)")
    raise ZeroDivisionError


def test_there_is_one_line_of_revisions():
    script = ScriptDirectory.from_config(migration_config(None))
    assert len(script.get_heads()) == 1


def test_two_starting_workers_migrate_one_after_the_other(database, empty_url):
    # Processes, not threads: Alembic keeps its context in a module.
    code = f"from webapp.storage import upgrade; upgrade({empty_url!r})"
    command_line = [sys.executable, "-W", "error", "-c", code]
    started = [subprocess.Popen(command_line, cwd=ROOT) for _ in range(2)]
    assert [process.wait(60) for process in started] == [0, 0]
    assert set(Base.metadata.tables) <= set(inspect(database.engine).get_table_names())


def test_a_file_that_another_worker_is_making_is_waited_for(tmp_path):
    """SQLite does not wait its busy timeout for a file not yet in WAL: it says "locked" at once."""
    path = tmp_path / "new.sqlite"
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("CREATE TABLE made (thing)")
    other.execute("BEGIN IMMEDIATE")
    done = Timer(0.3, other.execute, ["COMMIT"])
    done.start()
    engine = make_engine(f"sqlite:///{path}")
    with engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
    engine.dispose()
    done.join(60)
    other.close()
