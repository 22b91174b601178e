"""Taking back what devices hold of a log that was restored: proved by receipts, or set aside."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import select

from sync.handing_back import as_it_stands, candidates_of
from sync.messages import Candidate, Request, Verdict
from webapp.storage.append import Examine, append_candidates
from webapp.storage.caseload import create_client
from webapp.storage.database import Database
from webapp.storage.models import Client
from webapp.storage.people import Person
from webapp.storage.sender import Sender


def take_back(
    database: Database, person: Person, request: Request, *, examine: Examine, now: datetime
) -> list[Verdict]:
    """Append what a device hands back and can prove, under its author; a verdict for each item, in order.

    The rest is kept aside for somebody who decides. Repeating it changes nothing.
    """
    candidates, proved = candidates_of(
        request, database.receipts, person.organisation, lambda item: examine(item, person, now)
    )
    sender = Sender(person, request.device, now, proved=frozenset(proved))
    return append_candidates(database, sender, candidates)


def admit_proved(
    database: Database, person: Person, device: str, items: Sequence[Any], now: datetime
) -> list[Verdict]:
    """Take what was handed back with proof and put aside, whoever may see its client.

    A client whom the restored service does not know is known again: the log once told of them.
    """
    candidates = [found for found in map(as_it_stands, items) if found is not None]
    _know_again(database, person.organisation, {str(each.about) for each in candidates})
    return _admit(database, Sender(person, device, now, admitted=True), candidates)


def offer_again(
    database: Database, person: Person, device: str, items: Sequence[Any], now: datetime
) -> list[Verdict]:
    """Judge what was put aside with proof as if its device handed it back just now."""
    candidates = [found for found in map(as_it_stands, items) if found is not None]
    return _admit(database, Sender(person, device, now), candidates)


def admit_vouched(
    database: Database, person: Person, device: str, items: Sequence[Any], now: datetime, examine: Examine
) -> list[Verdict]:
    """Take what was handed back without proof, on the word of whoever decides; its content is looked at."""
    candidates = [examine(item, replace(person, id=str(item["author"])), now) for item in items]
    return _admit(database, Sender(person, device, now, admitted=True), candidates)


def _admit(database: Database, sender: Sender, candidates: list[Candidate]) -> list[Verdict]:
    known = frozenset(str(each.hash) for each in candidates if each.refusal is None)
    return append_candidates(database, replace(sender, proved=known), candidates)


def _know_again(database: Database, organisation: str, clients: set[str]) -> None:
    with database.reading() as session:
        known = set(session.scalars(select(Client.id).where(Client.organisation_id == organisation)))
    for client in sorted(clients - known):
        with suppress(ValueError):  # erased: what is about them is refused further on
            create_client(database, organisation, id=client)
