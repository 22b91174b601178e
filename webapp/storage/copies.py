"""Copies of one device: a phone's backup on a second phone, a copied browser profile.

Both go on under one id and give out the same numbers. Nothing is lost by it, entries have ids of their own;
but which numbers are missing of such a device cannot be told, and withdrawing it withdraws both. So it is
noticed when two entries come under one number, and each copy is told to take an id of its own.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session

from webapp.circumstances import acting
from webapp.storage.among import among
from webapp.storage.audit import Event, record
from webapp.storage.models import Device, Entry
from webapp.storage.sender import Sender

_NUMBERED = select(func.count()).where(
    Entry.organisation_id == bindparam("organisation"),
    Entry.author_id == bindparam("person"),
    Entry.device_id == bindparam("device"),
    among(Entry.device_seq, "numbers"),
)


def note_copies(session: Session, sender: Sender, taken: Iterable[Mapping[str, Any]]) -> None:
    """Mark the sender's devices of which an entry that was just taken has the number of another entry."""
    numbers: dict[str, set[int]] = {}
    for entry in taken:
        numbers.setdefault(entry["device"], set()).add(entry["device_seq"])
    for device, own in sorted(numbers.items()):
        if _entries_with(session, sender, device, own) > len(own):
            _mark(session, sender, device)


def _entries_with(session: Session, sender: Sender, device: str, numbers: Collection[int]) -> int:
    """How many entries of a device have one of some numbers."""
    wanted = {"person": sender.person.id, "organisation": sender.person.organisation, "device": device}
    return int(session.connection().scalars(_NUMBERED, wanted | {"numbers": numbers}).one())


def _mark(session: Session, sender: Sender, device: str) -> None:
    person = sender.person
    row = session.get(Device, (person.organisation, person.id, device), with_for_update=True)
    if row is None or row.copied_at is not None:
        return
    row.copied_at = sender.now
    with acting(person.id):
        copied = Event("device_copied", "device", device, person=person.id, device=device)
        record(session, person.organisation, sender.now, copied)
