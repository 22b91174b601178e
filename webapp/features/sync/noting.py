"""What a message says of its device, noted once: with its entries where that can be, else by itself."""

import logging
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from sync.messages import Request, Verdict
from sync.server import of_another
from webapp.storage import Database, Person
from webapp.storage.devices import note_device, note_known_device
from webapp.storage.signing_in import note_use

log = logging.getLogger("lintel")


@dataclass
class Noting:
    """A message, and whether it was noted."""

    person: Person
    request: Request
    session_key: str
    moment: datetime
    done: bool = False

    def with_entries(self, session: Session, verdicts: list[Verdict]) -> None:
        """Note it in the transaction of its entries: one less for which others wait.

        It may come again, when that transaction had to. Not of a device that is new: making it known may wait
        for another message of it, the log locked.
        """
        self.done = not of_another(verdicts) and self._note_known(session)

    def by_itself(self, database: Database, verdicts: list[Verdict]) -> None:
        """Note it, unless that was done."""
        if self.done:
            return
        try:
            with database.noting() as session:
                if of_another(verdicts):
                    self._note_use(session)
                    return
                if self._note_known(session):
                    return
            with database.writing() as session:
                note_device(session, self.person, self.request, self.moment)
                self._note_use(session)
        # Entries are committed, and a full disk can still be read: the device is noted the next time.
        except OperationalError as error:
            log.warning("device_not_noted", extra={"error": type(error.orig).__name__})

    def _note_known(self, session: Session) -> bool:
        known = note_known_device(session, self.person, self.request, self.moment)
        if known:
            self._note_use(session)
        return known

    def _note_use(self, session: Session) -> None:
        # After the device, and the device after the counter: one order for all who lock them.
        note_use(session, self.session_key, self.request.device)
