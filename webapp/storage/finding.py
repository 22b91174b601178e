"""Keeping what clients are found by in step with the log: renewed in the transaction that appends details."""

import json
from collections import defaultdict
from collections.abc import Iterable

from sqlalchemy import delete, insert, select
from sqlalchemy.orm import Session

from webapp.storage.client_keys import client_key, keys_of, values_of
from webapp.storage.models import ClientKey, Entry

DETAILS = "details"


def renew_keys(session: Session, organisation: str, clients: Iterable[str]) -> None:
    """Make the keys of some clients anew from their details in the log."""
    wanted = sorted(set(clients))
    if not wanted:
        return
    told = _details(session, organisation, wanted)
    session.execute(
        delete(ClientKey).where(ClientKey.organisation_id == organisation, ClientKey.client_id.in_(wanted))
    )
    rows = [
        {"organisation_id": organisation, "key": key, "client_id": client}
        for client in wanted
        for key in sorted(keys_of(told[client]))
    ]
    if rows:
        session.execute(insert(ClientKey), rows)


def found_by(session: Session, organisation: str, name: str, birth_date: str) -> list[str]:
    """The clients of an organisation who have exactly this name and date of birth: at most two are told."""
    query = select(ClientKey.client_id).where(
        ClientKey.organisation_id == organisation, ClientKey.key == client_key(name, birth_date)
    )
    return list(session.scalars(query.limit(2)))


def client_names(session: Session, organisation: str, clients: Iterable[str]) -> dict[str, str]:
    """The recorded names of some clients; of one that two people changed apart, both."""
    told = _details(session, organisation, sorted(set(clients)))
    return {client: " / ".join(sorted(values_of(entries, "name"))) for client, entries in told.items()}


def _details(session: Session, organisation: str, clients: list[str]) -> dict[str, list[dict]]:
    rows = session.execute(
        select(Entry.client_id, Entry.id, Entry.amends, Entry.voids, Entry.body)
        .where(Entry.organisation_id == organisation, Entry.client_id.in_(clients), Entry.kind == DETAILS)
        .order_by(Entry.seq)
    )
    told = defaultdict(list)
    for row in rows:
        entry = {"id": row.id, "amends": row.amends, "voids": row.voids, "body": json.loads(row.body)}
        told[row.client_id].append(entry)
    return told
