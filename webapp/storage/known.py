"""Looking up what the verdicts of a batch depend on."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import bindparam, exists, select
from sqlalchemy.orm import Session

from sync.judging import Known, Link
from sync.messages import Candidate
from webapp.storage.among import among
from webapp.storage.devices import is_revoked
from webapp.storage.models import Client, Entry, ErasedEntry, Holding, Tombstone, User
from webapp.storage.models.erasure import hash_of
from webapp.storage.rights import FOREVER, readable, writable_until
from webapp.storage.sender import Sender

# Put together once: that takes longer than having them carried out.
_ORGANISATION = bindparam("organisation")
_ENTRIES = select(Entry.id, Entry.seq, Entry.hash, Entry.client_id, Entry.kind).where(
    Entry.organisation_id == _ORGANISATION, among(Entry.id, "ids")
)
_HELD = select(Holding.entry_id).where(
    Holding.organisation_id == _ORGANISATION,
    Holding.user_id == bindparam("person"),
    among(Holding.entry_id, "ids"),
    Holding.settled_at.is_(None),
)
_ERASED_CLIENTS = select(Tombstone.client_id).where(
    Tombstone.organisation_id == _ORGANISATION, among(Tombstone.client_id, "ids")
)
_ANY_ERASED = select(exists().where(ErasedEntry.organisation_id == _ORGANISATION))
_ERASED_ENTRIES = select(ErasedEntry.id_hash).where(
    ErasedEntry.organisation_id == _ORGANISATION, among(ErasedEntry.id_hash, "ids")
)


def known_to(session: Session, sender: Sender, candidates: Sequence[Candidate]) -> Known:
    """Look up, in a few queries, everything the verdicts of a batch depend on."""
    person, now = sender.person, sender.now
    entries = [candidate.entry for candidate in candidates if candidate.entry]
    targets = {entry[link] for entry in entries for link in ("amends", "voids") if entry[link]}
    clients = {entry["client"] for entry in entries}
    ids = targets | {candidate.id for candidate in candidates if candidate.id}
    rows = session.connection().execute(_ENTRIES, {"organisation": person.organisation, "ids": ids})
    writable = writable_until(session, person, clients, now)
    return Known(
        entries={row.id: Link(row.seq, row.hash, row.client_id, row.kind) for row in rows},
        held=_held(session, sender, targets),
        writable=writable,
        readable=_readable(session, sender, clients, writable),
        revoked=not sender.admitted and _withdrawn(session, sender),
        erased=_erased(session, person.organisation, candidates),
        people=_people(session, sender, {entry["author"] for entry in entries}),
    )


def _held(session: Session, sender: Sender, targets: Collection[str]) -> set[str]:
    if not targets:
        return set()
    own: dict[str, Any] = {"organisation": sender.person.organisation, "person": sender.person.id}
    return set(filter(None, session.connection().scalars(_HELD, own | {"ids": targets})))


def _readable(
    session: Session, sender: Sender, clients: set[str], writable: Mapping[str, datetime]
) -> set[str]:
    if not (sender.admitted and sender.proved is not None):
        # Whoever may write about a client for good sees that client: nobody need be asked.
        own = {client for client in clients if writable.get(client) == FOREVER}
        return own | readable(session, sender.person, clients - own, sender.now)
    own = Client.organisation_id == sender.person.organisation
    return set(session.scalars(select(Client.id).where(own, Client.id.in_(clients))))


def _people(session: Session, sender: Sender, authors: set[str]) -> set[str]:
    """Of the authors of what is handed back, those who have an account."""
    if sender.proved is None:
        return set()
    own = User.organisation_id == sender.person.organisation
    return set(session.scalars(select(User.id).where(own, User.id.in_(authors))))


def _withdrawn(session: Session, sender: Sender) -> bool:
    return sender.person.withdrawn or is_revoked(session, sender.person.organisation, sender.device)


def _erased(session: Session, organisation: str, candidates: Sequence[Candidate]) -> set[str]:
    """Of the clients and the entries of a batch, those whose record was erased."""
    clients = {candidate.about for candidate in candidates if candidate.about}
    connection = session.connection()
    found = connection.scalars(_ERASED_CLIENTS, {"organisation": organisation, "ids": clients})
    if not connection.scalar(_ANY_ERASED, {"organisation": organisation}):
        return set(found)  # no need to hash every id
    by_hash = {hash_of(candidate.id): candidate.id for candidate in candidates if candidate.id}
    entries = connection.scalars(_ERASED_ENTRIES, {"organisation": organisation, "ids": by_hash})
    return {*found, *(by_hash[own] for own in entries)}
