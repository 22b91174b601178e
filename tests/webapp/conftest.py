"""Fixtures of the server's tests. Whatever takes `database_url` runs on SQLite and on PostgreSQL."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from tests.databases import Cluster, copy_of, migrated_file
from tests.webapp.logs_of_the_run import recorded, seeded_in
from tests.webapp.support import SECRET, SERVICE, House, Plan
from webapp.service import __main__ as service
from webapp.storage import passwords, upgrade

Told = tuple[int, str, str]


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


@pytest.fixture(scope="session")
def sqlite_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the file of the present test lies: always at one address, so that one application serves all."""
    return tmp_path_factory.mktemp("present")


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest) -> str:
    """A database with all tables and nothing in them, once of each kind."""
    if request.param == "sqlite":
        folder = request.getfixturevalue("sqlite_folder")
        # A new file and not the old one written over: somebody may have it open still.
        shutil.rmtree(folder)
        folder.mkdir()
        return copy_of(request.getfixturevalue("sqlite_template"), folder)
    cluster = request.getfixturevalue("cluster")
    name = request.getfixturevalue("postgres_name")
    cluster.empty(name)
    return cluster.url(name)


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


@pytest.fixture(scope="session")
def plans() -> dict[str, Plan]:
    """The house of each address, once it was built there."""
    return {}


@pytest.fixture
def house(database_url: str, plans: dict[str, Plan]) -> Iterator[House]:
    """Two organisations with therapists and clients, and the application that serves them."""
    if database_url in plans:
        built = plans[database_url].build()
    else:
        built = House(database_url)
        plans[database_url] = Plan(built)
    yield built
    built.close()


@pytest.fixture
def ann(house: House):
    """The signed-in phone of a therapist with two clients."""
    return house.phone("ann")


@pytest.fixture
def service_environment(database_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """What an operator's shell names before `python3 -m webapp.service`."""
    monkeypatch.setenv("LINTEL_DATABASE_URL", database_url)
    monkeypatch.setenv("LINTEL_SECRET_KEY", SECRET)
    monkeypatch.setenv("LINTEL_HOSTS", "lintel.example")


@pytest.fixture
def run_service(service_environment: None, capsys: pytest.CaptureFixture[str]) -> Callable[..., Told]:
    """Run a command of the service; what it answers the shell, prints, and says is wrong."""

    def call(*arguments: str) -> Told:
        done = service.main(arguments)
        return done, *capsys.readouterr()

    return call


@pytest.fixture
def run(run_service: Callable[..., Told]) -> Callable[..., Told]:
    """Run a command for the house's first organisation."""
    return lambda *arguments: run_service(*arguments, "--organisation", SERVICE)
