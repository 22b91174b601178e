"""The worker of reminders: reckons what changed, sends what is due, says that it lives; over and over."""

import logging
import random
import uuid
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from threading import Event

from sqlalchemy import delete
from sqlalchemy.exc import SQLAlchemyError

from webapp.reminders.reckoning import Reckon, reckon_changed
from webapp.reminders.sending import USUAL_SHARE, Sends, Share, send_due
from webapp.storage.database import Database
from webapp.storage.models import WorkerBeat

log = logging.getLogger("lintel")
PAUSE_SECONDS = 10.0
RECKONED_AT_ONCE, SENDING_THREADS = 10, 8
# A worker that was not heard of for so long is forgotten.
FORGOTTEN = timedelta(days=1)


class Worker:
    """One process's share of the work; many may run at once, on one database."""

    def __init__(
        self,
        database: Database,
        reckon: Reckon,
        sender: Sends | None,
        clock: Callable[[], datetime],
        share: Share = USUAL_SHARE,
    ) -> None:
        self.id = str(uuid.uuid4())
        self._share = share
        self._database, self._reckon, self._sender, self._clock = database, reckon, sender, clock
        self._started = clock()
        self._counts: Counter[str] = Counter()

    def run(self, stop: Event, pause: float = PAUSE_SECONDS) -> None:
        """Work until told to stop; a database that cannot be reached is tried again."""
        while not stop.is_set():
            try:
                self.once()
            except SQLAlchemyError as error:
                log.warning("reminders_interrupted", extra={"error": type(error).__name__})
            # Not all of them at the same moment.
            stop.wait(pause * random.uniform(0.8, 1.2))

    def once(self) -> Counter[str]:
        """Do all there is to do now; what was done since the start."""
        while self._reckon_some():
            self._beat()
        with ThreadPoolExecutor(SENDING_THREADS) as pool:
            while self._send_some(pool):
                self._beat()
        self._beat()
        return self._counts

    def _reckon_some(self) -> int:
        with self._database.writing() as session:
            reckoned = reckon_changed(session, self._reckon, self._clock(), RECKONED_AT_ONCE)
        self._counts["reckoned"] += reckoned
        return reckoned

    def _send_some(self, pool: ThreadPoolExecutor) -> int:
        outcomes = send_due(
            self._database, self._sender, self.id, self._share, self._clock(), pool
        )
        self._counts.update(outcome.state for outcome in outcomes)
        for outcome in outcomes:
            if outcome.code not in (None, "nothing_due", "no_browser", "out_of_hours"):
                log.info("reminder", extra={"code": outcome.code})
        return len(outcomes)

    def _beat(self) -> None:
        now = self._clock()
        with self._database.writing() as session:
            session.merge(
                WorkerBeat(id=self.id, started_at=self._started, beat_at=now, counts=dict(self._counts))
            )
            session.execute(delete(WorkerBeat).where(WorkerBeat.beat_at < now - FORGOTTEN))
