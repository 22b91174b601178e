"""What every feature that shows a client's record leaves in the audit."""

import logging
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from sqlalchemy.exc import OperationalError

from webapp.features.current import database
from webapp.storage import Person
from webapp.storage.audit import Event
from webapp.storage.audit.record import record_once, unrepeated

log = logging.getLogger("lintel")


def note_read(
    person: Person, entries: Iterable[Mapping[str, Any]], moment: datetime, device: str | None = None
) -> None:
    """Write down whose record a person was just given; whole entries only, once a client in a while."""
    clients = sorted({entry["client"] for entry in entries if "client" in entry})
    _note(person, [Event("record_read", "client", client, device=device) for client in clients], moment)


def note_client_refused(person: Person, client: str, moment: datetime) -> None:
    """Write down that a person asked for a client who is not theirs to see."""
    refused = Event("client_refused", "client", client, refused=True, reason="not_found")
    _note(person, [refused], moment)


def _note(person: Person, events: list[Event], moment: datetime) -> None:
    try:
        _write(person, events, moment)
    # A database that is full or busy can still be read, and somebody at a bedside must: the log says so.
    except OperationalError as error:
        log.warning("read_not_audited", extra={"error": type(error.orig).__name__})


def _write(person: Person, events: list[Event], moment: datetime) -> None:
    if not events:
        return
    # Looked up without a lock first: most of the time there is nothing to write.
    with database().reading() as session:
        events = unrepeated(session, person.organisation, moment, events)
    if events:
        with database().writing() as session:
            record_once(session, person.organisation, moment, *events)
