"""Looking up what the verdicts of a batch depend on."""

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from sync.judging import Known, Link
from sync.messages import Candidate
from webapp.storage.among import among
from webapp.storage.devices import is_revoked
from webapp.storage.models import Client, Entry, ErasedEntry, Holding, Tombstone, User
from webapp.storage.models.erasure import hash_of
from webapp.storage.rights import readable, writable_until
from webapp.storage.sender import Sender


def known_to(session: Session, sender: Sender, candidates: Sequence[Candidate]) -> Known:
    """Look up, in a few queries, everything the verdicts of a batch depend on."""
    person, now = sender.person, sender.now
    entries = [candidate.entry for candidate in candidates if candidate.entry]
    targets = {entry[link] for entry in entries for link in ("amends", "voids") if entry[link]}
    clients = {entry["client"] for entry in entries}
    ids = targets | {candidate.id for candidate in candidates if candidate.id}
    rows = session.execute(
        select(Entry.id, Entry.seq, Entry.hash, Entry.client_id, Entry.kind).where(
            Entry.organisation_id == person.organisation, among(session, Entry.id, ids)
        )
    )
    held = session.scalars(
        select(Holding.entry_id).where(
            Holding.organisation_id == person.organisation,
            Holding.user_id == person.id,
            among(session, Holding.entry_id, targets),
            Holding.settled_at.is_(None),
        )
    )
    return Known(
        entries={row.id: Link(row.seq, row.hash, row.client_id, row.kind) for row in rows},
        held=set(filter(None, held)),
        writable=writable_until(session, person, clients, now),
        readable=_readable(session, sender, clients),
        revoked=not sender.admitted and _withdrawn(session, sender),
        erased=_erased(session, person.organisation, candidates),
        people=_people(session, sender, {entry["author"] for entry in entries}),
    )


def _readable(session: Session, sender: Sender, clients: set[str]) -> set[str]:
    if not (sender.admitted and sender.proved is not None):
        return readable(session, sender.person, clients, sender.now)
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
    found = session.scalars(
        select(Tombstone.client_id).where(
            Tombstone.organisation_id == organisation, among(session, Tombstone.client_id, clients)
        )
    )
    by_hash = {hash_of(candidate.id): candidate.id for candidate in candidates if candidate.id}
    entries = session.scalars(
        select(ErasedEntry.id_hash).where(
            ErasedEntry.organisation_id == organisation, among(session, ErasedEntry.id_hash, by_hash)
        )
    )
    return {*found, *(by_hash[own] for own in entries)}
