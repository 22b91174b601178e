"""Keeping what could not be taken: the item as it came, once, with who sent it and why it stands aside."""

import hashlib
from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from sync.messages import SETTLED, Candidate, Verdict
from webapp.storage.models import Holding
from webapp.storage.people import Person

KEPT = frozenset({"held", "clash"})


def hold(
    session: Session, person: Person, device: str, now: datetime, judged: Iterable[tuple[Candidate, Verdict]]
) -> None:
    """Keep items that were held or clashed; settle earlier holdings of those that were now taken."""
    by_hash = {raw_hash(candidate): (candidate, verdict) for candidate, verdict in judged}
    kept = _kept(session, person, by_hash)
    for own, (candidate, verdict) in by_hash.items():
        if verdict.verdict in SETTLED and own in kept:
            kept[own].settled_at = kept[own].settled_at or now
        if verdict.verdict in KEPT and own not in kept:
            session.add(_holding(person, device, now, candidate, verdict))


def raw_hash(candidate: Candidate) -> str:
    """The hash of an item as it came."""
    return hashlib.sha256(candidate.raw.encode()).hexdigest()


def _kept(session: Session, person: Person, hashes: Iterable[str]) -> dict[str, Holding]:
    rows = session.scalars(
        select(Holding).where(
            Holding.organisation_id == person.organisation,
            Holding.user_id == person.id,
            Holding.raw_hash.in_(list(hashes)),
        )
    )
    return {row.raw_hash: row for row in rows}


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
