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

from webapp.reminders.reckoning import Reckon, reckon_changed
from webapp.reminders.sending import USUAL_SHARE, Sends, Share, send_due
from webapp.storage.database import Database
from webapp.storage.models import PushSubscription, Reminder, WorkerBeat

log = logging.getLogger("lintel")
PAUSE_SECONDS = 10.0
# One at a time: a device that pushes about a client waits for whoever reckons that client.
RECKONED_AT_ONCE, RECKONED_BY_TURNS, SENDING_THREADS = 1, 200, 8
# A worker that was not heard of for so long is forgotten, and so is what was sent or ended long ago.
FORGOTTEN, OLD = timedelta(days=1), timedelta(days=60)


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
        """Work until told to stop; whatever went wrong, such as a database that is away, is tried again."""
        while not stop.is_set():
            try:
                self.once()
            except Exception as error:
                log.warning("reminders_interrupted", extra={"error": type(error).__name__})
            # Not all of them at the same moment.
            stop.wait(pause * random.uniform(0.8, 1.2))

    def once(self) -> Counter[str]:
        """Do all there is to do now; what was done since the start."""
        self._tidy()
        more = True
        with ThreadPoolExecutor(SENDING_THREADS) as pool:
            while more:
                # By turns: after a change of rules everybody is reckoned, and no reminder waits for that.
                more = self._reckon_some()
                self._beat()
                while self._send_some(pool):
                    self._beat()
        return self._counts

    def _reckon_some(self) -> bool:
        """Reckon a number of clients; whether there may be more."""
        for _ in range(RECKONED_BY_TURNS):
            with self._database.writing() as session:
                reckoned = reckon_changed(session, self._reckon, self._clock(), RECKONED_AT_ONCE)
            self._counts["reckoned"] += reckoned
            if not reckoned:
                return False
        return True

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

    def _tidy(self) -> None:
        long_ago = self._clock() - OLD
        with self._database.writing() as session:
            session.execute(delete(Reminder).where(Reminder.settled_at < long_ago))
            session.execute(delete(PushSubscription).where(PushSubscription.ended_at < long_ago))
