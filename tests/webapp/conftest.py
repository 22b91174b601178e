"""Fixtures of the server's tests. Whatever takes `database_url` runs on SQLite and on PostgreSQL."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from tests.databases import Cluster, copy_of, migrated_file
from tests.webapp.logs_of_the_run import recorded, seeded_in
from tests.webapp.support import House
from webapp.storage import passwords, upgrade


@pytest.fixture(scope="session", autouse=True)
def quick_passwords() -> Iterator[None]:
    """Argon2id at its cheapest: the tests sign in often and guard nothing."""
    kept, passwords.HASHER = passwords.HASHER, PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    yield
    passwords.HASHER = kept


@pytest.fixture(scope="session", autouse=True)
def nothing_typed_is_logged() -> Iterator[None]:
    """At the end of the run: no name, note or passphrase of any test stands in what was logged."""
    with recorded() as stream:
        yield
    assert seeded_in(stream.getvalue()) == []


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    started = Cluster.start()
    yield started
    started.stop()


@pytest.fixture(scope="session")
def postgres_name(cluster: Cluster) -> str:
    name = cluster.create()
    upgrade(cluster.url(name))
    return name


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return migrated_file(tmp_path_factory.mktemp("sqlite"))


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A database with all tables and nothing in them, once of each kind."""
    if request.param == "sqlite":
        yield copy_of(request.getfixturevalue("sqlite_template"), tmp_path)
        return
    cluster = request.getfixturevalue("cluster")
    name = request.getfixturevalue("postgres_name")
    cluster.empty(name)
    yield cluster.url(name)


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A database without any table, once of each kind."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.sqlite3'}"
        return
    cluster = request.getfixturevalue("cluster")
    name = cluster.create()
    yield cluster.url(name)
    cluster.drop(name)


@pytest.fixture
def house(database_url: str) -> Iterator[House]:
    """Two organisations with therapists and clients, and the application that serves them."""
    built = House(database_url)
    yield built
    built.close()


@pytest.fixture
def ann(house: House):
    """The signed-in phone of a therapist with two clients."""
    return house.phone("ann")
