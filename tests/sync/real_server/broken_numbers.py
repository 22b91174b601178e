"""The service with one rule broken on purpose: numbers are taken before, and outside, the entries' commit.

That is what a database's own sequence does. The race must notice it, or it would prove nothing.
"""

import random
import time
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import update

from sync.messages import Candidate, Verdict
from sync.server import Batch
from webapp.features.sync import routes
from webapp.storage import Database, Person
from webapp.storage.append import Also, Examine, Sender, SqlLog
from webapp.storage.models import Organisation

SLOWEST = 0.02


def install(reach: Any) -> None:
    """Have every push numbered the broken way; `reach` is told when numbers are taken."""

    def append(database: Database, person: Person, items: Iterable[Any], *, examine: Examine, device: str,
               now: datetime | None = None, also: Also | None = None) -> list[Verdict]:  # fmt: skip
        sender = Sender(person, device, now or datetime.now(UTC))
        candidates = [examine(item, person, sender.now) for item in items]
        if not candidates:
            return []
        before = take_numbers(database, person.organisation, len(candidates))
        reach("numbers taken")
        time.sleep(random.uniform(0, SLOWEST))
        with database.writing() as session:
            log = BrokenLog(session, sender, candidates, before)
            verdicts = Batch(log, candidates).append()
            log.store()
            if also is not None:
                also(session, verdicts)
            return verdicts

    routes.append_entries = append


def take_numbers(database: Database, organisation: str, count: int) -> int:
    """Take some numbers in a transaction of their own; the number before the first of them."""
    with database.writing() as session:
        taken = session.scalar(
            update(Organisation)
            .where(Organisation.id == organisation)
            .values(head=Organisation.head + count)
            .returning(Organisation.head)
        )
    return int(taken) - count


class BrokenLog(SqlLog):
    """A log that locks nothing and numbers from what was taken before."""

    def __init__(self, session: Any, sender: Sender, candidates: list[Candidate], before: int) -> None:
        self._make_ready(session, sender, candidates)
        self._before = before

    @property
    def head(self) -> int:
        return self._before

    @head.setter
    def head(self, _head: int) -> None:
        pass  # the counter has moved already
