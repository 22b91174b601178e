"""One house that a module's random requests may wear out, and a watch over its tables."""

from collections.abc import Iterator

import pytest

from tests.databases import copy_of
from tests.webapp.fuzz.watch import Watch
from tests.webapp.support import House


@pytest.fixture(scope="module")
def made(tmp_path_factory, sqlite_template, quick_passwords) -> Iterator[House]:
    """A house on SQLite for one module: what it learns from one request stays for the next."""
    house = House(copy_of(sqlite_template, tmp_path_factory.mktemp("fuzz")))
    yield house
    house.close()


@pytest.fixture(scope="module")
def watch(made: House) -> Watch:
    """What stands in the tables of that house."""
    return Watch(made)
