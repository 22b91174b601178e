"""A push service, a service with keys for it, and workers whose clock is turned by hand."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta

import pytest

from tests.webapp.reminders.push_service import PushService
from tests.webapp.reminders.support import subscribe
from tests.webapp.support import House
from webapp.reminders.reckoning import DueItem, Reckoned
from webapp.reminders.vapid import make_private_key, public_key
from webapp.reminders.web_push import Keys, Sender
from webapp.reminders.worker import Worker

PRIVATE = make_private_key()


@pytest.fixture
def push_service() -> Iterator[PushService]:
    with PushService() as started:
        started.public_key = public_key(PRIVATE)
        yield started


@pytest.fixture
def served(database_url: str, push_service: PushService) -> Iterator[House]:
    """A house whose service sends reminders through the push service of the tests."""
    built = House(
        database_url,
        push_private_key=PRIVATE,
        push_contact="mailto:pilot@example.org",
        push_hosts=(push_service.host,),
    )
    yield built
    built.database.dispose()


class Dues:
    """What is due by client, instead of what the log says: the days are what these tests are about."""

    def __init__(self) -> None:
        self.of: dict[str, Reckoned | Exception] = {}

    def __call__(self, _session: object, _organisation: str, client: str, _now: object) -> Reckoned:
        found = self.of.get(client, Reckoned())
        if isinstance(found, Exception):
            raise found
        return found

    def set(self, client: str, due_on: date, window: int = 7, rule: str = "every") -> None:
        self.of[client] = Reckoned((DueItem(rule, due_on - timedelta(days=window), due_on),))


@pytest.fixture
def dues() -> Dues:
    return Dues()


@pytest.fixture
def worker_for(dues: Dues) -> Callable[[House], Worker]:
    def make(house: House, **other: object) -> Worker:
        keys = Keys(house.settings.push_private_key, house.settings.push_contact)
        return Worker(house.database, dues, Sender(keys, house.settings.push_hosts), house.clock)

    return make


@pytest.fixture
def remind(served, dues, worker_for, push_service):
    """Ann has two clients due and a browser; everything is reckoned."""
    ann, browser = served.phone("ann"), push_service.browser()
    for client in ("ann1", "ann2"):
        dues.set(served.clients[client], date(2026, 11, 30))
    subscribe(ann, browser)
    worker = worker_for(served)
    worker.once()
    return ann, browser, worker
