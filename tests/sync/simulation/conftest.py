"""One Node process for all phones with the browser's code."""

from collections.abc import Iterator

import pytest

from tests.sync.simulation.host import Host


@pytest.fixture(scope="session")
def host() -> Iterator[Host]:
    process = Host()
    yield process
    process.end()
