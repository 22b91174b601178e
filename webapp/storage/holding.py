"""Keeping what could not be taken: the item as it came, once, with who sent it and why it stands aside."""

import hashlib
from datetime import datetime

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from sync.messages import SETTLED, Candidate, Verdict
from webapp.storage.models import Holding
from webapp.storage.people import Person

KEPT = frozenset({"held", "clash"})


def hold(
    session: Session, person: Person, device: str, candidate: Candidate, verdict: Verdict, now: datetime
) -> None:
    """Keep an item that was held or clashed; settle an earlier holding of one that was now taken."""
    raw = candidate.raw.encode()
    key = (person.organisation, person.id, hashlib.sha256(raw).hexdigest())
    kept = session.get(Holding, key)
    if verdict.verdict in SETTLED:
        if kept is not None and kept.settled_at is None:
            kept.settled_at = now
        return
    if verdict.verdict in KEPT and kept is None:
        session.add(
            Holding(
                organisation_id=person.organisation,
                user_id=person.id,
                raw_hash=key[2],
                entry_id=candidate.id,
                device_id=device,
                verdict=verdict.verdict,
                code=verdict.code or "held",
                field=verdict.field,
                raw=raw,
                received_at=now,
            )
        )
        session.flush()


def held_of(organisation: str) -> Select[tuple[Holding]]:
    """The query for everything an organisation has standing aside, oldest first."""
    return (
        select(Holding)
        .where(Holding.organisation_id == organisation, Holding.settled_at.is_(None))
        .order_by(Holding.received_at, Holding.raw_hash)
    )
