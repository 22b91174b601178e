"""Erasures as they lie beside backups, so that restoring an older one does not bring anybody back."""

import json
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.storage.erasing.erase import erase_client, leave_marks, leave_tombstone
from webapp.storage.locking import lock_counter
from webapp.storage.models import Client, ErasedEntry, Organisation, Tombstone

_MARK = ("id_hash", "author_id", "device_id", "device_seq")


def lines_of(session: Session) -> list[str]:
    """Every erasure, a line of JSON each: ids, hashes, when and on what ground."""
    lines = []
    for stone in session.scalars(select(Tombstone).order_by(Tombstone.erased_at, Tombstone.client_id)):
        marks = session.scalars(
            select(ErasedEntry)
            .where(
                ErasedEntry.organisation_id == stone.organisation_id,
                ErasedEntry.client_id == stone.client_id,
            )
            .order_by(ErasedEntry.id_hash)
        )
        facts = {
            "organisation": stone.organisation_id,
            "client": stone.client_id,
            "at": stone.erased_at.astimezone(UTC).isoformat(),
            "ground": stone.ground,
            "entries": [{name: getattr(mark, name) for name in _MARK} for mark in marks],
        }
        lines.append(json.dumps(facts, sort_keys=True))
    return lines


def read_lines(text: str) -> dict[tuple[str, str], dict[str, Any]]:
    """The erasures in such lines by organisation and client; ValueError for anything else."""
    found = {}
    for line in filter(None, text.splitlines()):
        try:
            facts = json.loads(line)
            datetime.fromisoformat(facts["at"])
            marks = [{name: mark[name] for name in _MARK} for mark in facts["entries"]]
            found[str(facts["organisation"]), str(facts["client"])] = {**facts, "entries": marks}
        except (KeyError, TypeError, AttributeError) as error:
            raise ValueError("this is no erasure") from error
    return found


def reapply(session: Session, erasures: Iterable[dict[str, Any]]) -> int:
    """Erase again what was erased and has come back; how many clients were still or again there."""
    again = 0
    for facts in erasures:
        organisation, client = facts["organisation"], facts["client"]
        if session.get(Organisation, organisation) is None:
            continue
        lock_counter(session, organisation)
        at = datetime.fromisoformat(facts["at"])
        row = session.get(Client, (organisation, client))
        if row is not None:
            # It was erased after any hold that the older copy still knows.
            row.held_since = None
            session.flush()
            erase_client(session, organisation, client, facts["ground"], at)
            again += 1
        elif session.get(Tombstone, (organisation, client)) is None:
            leave_tombstone(session, organisation, client, facts["ground"], at)
        session.flush()
        leave_marks(session, organisation, client, facts["entries"])
    return again
