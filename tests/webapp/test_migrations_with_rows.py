"""Migrating a database that is in use: from each earlier revision, with rows in it, on both databases."""

import json
from datetime import UTC, datetime

import pytest
from alembic import command
from sqlalchemy import column as plain
from sqlalchemy import insert, select, table, text
from sqlalchemy.exc import IntegrityError

from webapp.storage import Database, upgrade
from webapp.storage.client_keys import client_key
from webapp.storage.finding import found_by
from webapp.storage.models import Caseload, Client, ClientKey, Device, Entry, Organisation, SignIn, User
from webapp.storage.upgrade import migration_config

ORGANISATION, CLIENT, DEVICE = (f"00000000-0000-4000-8000-00000000000{number}" for number in (1, 2, 3))
ROLES = ("therapist", "supervisor", "administrator")
PEOPLE = {role: f"00000000-0000-4000-8000-0000000000a{number}" for number, role in enumerate(ROLES)}
AT = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)
FIRST, MENDED = (f"019a0000-0000-7000-8000-00000000000{number}" for number in (1, 2))
PREVIOUS = ["0001", "0002"]


@pytest.fixture
def database(empty_url):
    opened = Database(empty_url)
    yield opened
    opened.dispose()


def put(session, model, **values) -> None:
    """Insert by the columns an old revision has, with the types of today's models."""
    columns = [plain(name, model.__table__.c[name].type) for name in values]
    session.execute(insert(table(model.__tablename__, *columns)), [values])


def fill(session) -> None:
    """The rows of a small service as the first revision knew them."""
    put(
        session,
        Organisation,
        id=ORGANISATION,
        name="Larkmere",
        head=2,
        epoch=ORGANISATION,
        settings={},
        created_at=AT,
    )
    for role, own in PEOPLE.items():
        put(
            session,
            User,
            organisation_id=ORGANISATION,
            id=own,
            sign_in_name=role,
            display_name=role,
            role=role,
            password_hash="x",
            active=True,
            created_at=AT,
        )
        put(
            session,
            SignIn,
            organisation_id=ORGANISATION,
            token_hash=role,
            user_id=own,
            created_at=AT,
            seen_at=AT,
            expires_at=AT,
        )
    put(session, Client, organisation_id=ORGANISATION, id=CLIENT, created_at=AT)
    client = {"organisation_id": ORGANISATION, "client_id": CLIENT}
    put(session, Caseload, **client, user_id=PEOPLE["therapist"], since=AT, until=None)
    put(
        session,
        Device,
        organisation_id=ORGANISATION,
        user_id=PEOPLE["therapist"],
        id=DEVICE,
        name="phone",
        build="1",
        last_sync_at=AT,
        unsent=0,
        last_device_seq=2,
    )
    for seq, (own, amends, name) in enumerate(((FIRST, None, "Ada Berk"), (MENDED, FIRST, "Ada Berg")), 1):
        body = json.dumps({"seen": {}, "set": {"birth_date": "1948-03-02", "name": name}})
        put(
            session,
            Entry,
            **client,
            id=own,
            seq=seq,
            hash=own,
            kind="details",
            schema=1,
            visit_id=None,
            author_id=PEOPLE["therapist"],
            device_id=DEVICE,
            device_seq=seq,
            recorded_at=AT.isoformat()[:24],
            utc_offset=0,
            amends=amends,
            voids=None,
            reason=None,
            body=body,
            received_at=AT,
        )


def rows_of(session) -> dict[str, int]:
    """How many rows each of the first tables holds."""
    models = (Organisation, User, SignIn, Client, Caseload, Device, Entry)
    return {model.__tablename__: len(session.scalars(select(model)).all()) for model in models}


@pytest.mark.parametrize("revision", PREVIOUS)
def test_from_every_earlier_revision_nothing_is_lost(database, empty_url, revision):
    upgrade(empty_url, revision)
    with database.writing() as session:
        fill(session)
    upgrade(empty_url)
    with database.reading() as session:
        assert rows_of(session) == {
            "organisations": 1,
            "users": 3,
            "sessions": 3,
            "clients": 1,
            "caseload": 1,
            "devices": 1,
            "entries": 2,
        }
        roles = {user.id: user.role for user in session.scalars(select(User))}
        assert roles == {
            PEOPLE["therapist"]: "therapist",
            PEOPLE["supervisor"]: "lead",
            PEOPLE["administrator"]: "administrator",
        }
        assert session.scalars(select(Caseload)).one().emergency is False
        assert found_by(session, ORGANISATION, "Ada Berg", "1948-03-02") == [CLIENT]
        assert found_by(session, ORGANISATION, "Ada Berk", "1948-03-02") == []
        assert len(session.scalars(select(ClientKey)).all()) == 2
        assert session.get(ClientKey, (ORGANISATION, client_key("berg", "1948-03-02"), CLIENT)) is not None


@pytest.mark.parametrize(("changed", "noticed"), [("", None), ("UPDATE entries SET device_seq = 1", AT)])
def test_devices_whose_numbers_met_before_are_noticed(database, empty_url, changed, noticed):
    upgrade(empty_url, "0002")
    with database.writing() as session:
        fill(session)
        session.execute(text(changed or "SELECT 1"))
    upgrade(empty_url)
    with database.reading() as session:
        assert session.scalars(select(Device)).one().copied_at == noticed


def test_after_it_the_references_still_hold(database, empty_url):
    """The table of users is made anew on SQLite: what refers to it must go on doing so."""
    upgrade(empty_url, "0002")
    with database.writing() as session:
        fill(session)
    upgrade(empty_url)
    for statement in (
        "DELETE FROM users",
        "UPDATE users SET role = 'supervisor'",
        f"UPDATE sessions SET user_id = '{CLIENT}'",
    ):
        with pytest.raises(IntegrityError), database.writing() as session:
            session.execute(text(statement))


def test_down_again_with_rows_the_role_has_its_former_name(database, empty_url):
    upgrade(empty_url, "0002")
    with database.writing() as session:
        fill(session)
    upgrade(empty_url)
    with database.migrating() as session:
        command.downgrade(migration_config(session.connection()), "0002")
    with database.reading() as session:
        assert set(session.execute(text("SELECT role FROM users")).scalars()) == set(ROLES)
        assert session.execute(text("SELECT count(*) FROM entries")).scalar() == 2


@pytest.mark.parametrize("empty_url", ["sqlite"], indirect=True)
def test_a_migration_that_would_break_a_reference_is_undone(database, empty_url):
    """PostgreSQL checks references at every step, SQLite here only at the end."""
    upgrade(empty_url, "0002")
    with database.writing() as session:
        fill(session)
    with pytest.raises(RuntimeError, match="refer to nothing"), database.migrating() as session:
        session.execute(text("DELETE FROM users"))
    with database.reading() as session:
        assert session.execute(text("SELECT count(*) FROM users")).scalar() == 3
