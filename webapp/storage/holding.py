"""Keeping what could not be taken: the item as it came, once, with who sent it and why it stands aside."""

import hashlib
from collections.abc import Iterable, Sequence
from datetime import datetime

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from sync.messages import SETTLED, Candidate, Verdict
from webapp.storage.among import among
from webapp.storage.models import Holding
from webapp.storage.people import Person

KEPT = frozenset({"held", "clash"})
_ORGANISATION = bindparam("organisation")
_STOOD_ASIDE = select(Holding.entry_id).where(
    Holding.organisation_id == _ORGANISATION, among(Holding.entry_id, "ids"), Holding.settled_at.is_(None)
)
_KEPT = select(Holding).where(Holding.organisation_id == _ORGANISATION, among(Holding.raw_hash, "hashes"))


def hold(
    session: Session, person: Person, device: str, now: datetime, judged: Iterable[tuple[Candidate, Verdict]]
) -> None:
    """Keep items that were held or clashed; settle earlier holdings of those that were now taken.

    They are settled whoever's session brought them: an entry that was sent while somebody else was signed
    in stands aside under that person's name, and is taken later from its own author. Of a client whose record
    was erased nothing is kept.
    """
    pairs = list(judged)
    stood_aside = _stood_aside(session, person, [candidate.id for candidate, _ in pairs if candidate.id])
    by_hash = {
        raw_hash(candidate): (candidate, verdict)
        for candidate, verdict in pairs
        if verdict.verdict in KEPT or candidate.id in stood_aside
    }
    if not by_hash:
        return
    kept = _kept(session, person, by_hash)
    for row in kept:
        if row.settled_at is None and by_hash[row.raw_hash][1].verdict in SETTLED:
            row.settled_at = now
    already = {row.raw_hash for row in kept if row.user_id == person.id}
    for own, (candidate, verdict) in by_hash.items():
        if verdict.verdict in KEPT and verdict.code != "erased" and own not in already:
            session.add(_holding(person, device, now, candidate, verdict))


def raw_hash(candidate: Candidate) -> str:
    """The hash of an item as it came."""
    return hashlib.sha256(candidate.raw.encode()).hexdigest()


def _stood_aside(session: Session, person: Person, ids: Sequence[str]) -> set[str | None]:
    """Of some entries those of which something still stands aside, under whoever's name."""
    return set(session.connection().scalars(_STOOD_ASIDE, {"organisation": person.organisation, "ids": ids}))


def _kept(session: Session, person: Person, hashes: Iterable[str]) -> Sequence[Holding]:
    return session.scalars(_KEPT, {"organisation": person.organisation, "hashes": hashes}).all()


def _holding(person: Person, device: str, now: datetime, candidate: Candidate, verdict: Verdict) -> Holding:
    return Holding(
        organisation_id=person.organisation,
        user_id=person.id,
        raw_hash=raw_hash(candidate),
        entry_id=candidate.id,
        device_id=device,
        verdict=verdict.verdict,
        code=verdict.code or verdict.verdict,
        field=verdict.field,
        raw=candidate.raw.encode(),
        received_at=now,
    )
