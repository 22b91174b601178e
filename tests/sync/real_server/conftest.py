"""Fixtures: a server with two workers for each module and database, a fresh team for each test."""

from collections.abc import Iterator

import pytest

from tests.databases import DURABLE, Cluster, copy_of
from tests.sync.real_server.gunicorn_server import WITH_FAILPOINTS, Gunicorn, serving
from tests.sync.real_server.team import Team
from tests.webapp.conftest import quick_passwords, sqlite_template  # noqa: F401  (pytest finds them by name)
from webapp.storage import upgrade


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL that keeps what it committed when it is killed."""
    started = Cluster.start(DURABLE)
    yield started
    started.stop()


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A database with all tables and nothing in them, one of each kind for a module."""
    if request.param == "sqlite":
        yield copy_of(request.getfixturevalue("sqlite_template"), tmp_path_factory.mktemp("database"))
        return
    cluster = request.getfixturevalue("cluster")
    name = cluster.create()
    upgrade(cluster.url(name))
    yield cluster.url(name)
    cluster.drop(name)


@pytest.fixture(scope="module")
def running(
    request: pytest.FixtureRequest, database_url: str, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Gunicorn]:
    """The service: with places at which a test can have it die, unless the module names another APP."""
    app = getattr(request.module, "APP", WITH_FAILPOINTS)
    with serving(tmp_path_factory.mktemp("server"), database_url, app) as started:
        yield started


@pytest.fixture
def server(running: Gunicorn) -> Iterator[Gunicorn]:
    """The service, up and told to do nothing; nothing may surprise it that the test did not ask for."""
    running.begin()
    yield running
    running.end()


@pytest.fixture
def team(database_url: str) -> Iterator[Team]:
    """An organisation of its own, with an empty log."""
    made = Team(database_url)
    yield made
    made.database.dispose()
