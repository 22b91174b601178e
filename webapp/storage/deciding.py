"""What whoever decides about handed in items may see: all about a client they may see, else who and when."""

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from sync.instants import read_instant
from sync.shapes import is_uuid
from webapp.storage.admitting import Aside, items_of
from webapp.storage.models import User
from webapp.storage.people import Person, person_of
from webapp.storage.rights import readable


@dataclass(frozen=True)
class Piece:
    """One item that stands aside; its `entry` only for somebody who may see its client now."""

    recorded_at: datetime | None
    author: str | None
    entry: Mapping[str, Any] | None = None


def pieces(session: Session, actor: Person, aside: Aside, now: datetime, most: int) -> list[Piece]:
    """The first items of what a device handed in, in the order they were recorded in."""
    items = [item if isinstance(item, dict) else {} for item in items_of(session, aside)[:most]]
    clients = {item["client"] for item in items if is_uuid(item.get("client"))}
    seen, authors = readable(session, actor, clients, now), _authors(session, actor.organisation, items)
    return [_piece(item, authors, seen) for item in items]


def _piece(item: Mapping[str, Any], authors: Mapping[str, str], seen: Set[str]) -> Piece:
    author, client = authors.get(str(item.get("author"))), str(item.get("client"))
    return Piece(_moment(item.get("recorded_at")), author, item if client in seen else None)


def _moment(text: Any) -> datetime | None:
    try:
        return read_instant(text) if isinstance(text, str) else None
    except ValueError:
        return None


def _authors(session: Session, organisation: str, items: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    named = {item["author"] for item in items if is_uuid(item.get("author"))}
    users = session.scalars(select(User).where(User.organisation_id == organisation, User.id.in_(named)))
    return {user.id: person_of(user).name for user in users}
