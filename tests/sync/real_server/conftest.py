"""Fixtures of the real server: both databases, the team on them, and a server with two workers."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.databases import DURABLE, Cluster
from tests.sync.real_server.gunicorn_server import WITH_FAILPOINTS, Gunicorn, serving
from tests.sync.real_server.team import Team
from tests.webapp.conftest import (  # noqa: F401  (pytest finds fixtures by name)
    database_url,
    postgres_name,
    quick_passwords,
    sqlite_template,
)


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL that keeps what it committed when it is killed."""
    started = Cluster.start(DURABLE)
    yield started
    started.stop()


@pytest.fixture
def team(database_url: str) -> Iterator[Team]:  # noqa: F811
    made = Team(database_url)
    yield made
    made.database.dispose()


@pytest.fixture
def server(team: Team, database_url: str, tmp_path: Path) -> Iterator[Gunicorn]:  # noqa: F811
    """The service, with places at which a test can have it die."""
    with serving(tmp_path, database_url, WITH_FAILPOINTS) as running:
        yield running
