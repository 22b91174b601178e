"""Copies of one device: a phone's backup on a second phone, a copied browser profile.

Both go on under one id and give out the same numbers. Nothing is lost by it, entries have ids of their own;
but which numbers are missing of such a device cannot be told, and withdrawing it withdraws both. So it is
noticed when two entries come under one number, and each copy is told to take an id of its own.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from webapp.circumstances import acting
from webapp.storage.among import among
from webapp.storage.audit import Event, record
from webapp.storage.models import Device, Entry
from webapp.storage.sender import Sender

_NUMBERED = select(Entry.device_seq, Entry.id).where(
    Entry.organisation_id == bindparam("organisation"),
    Entry.author_id == bindparam("person"),
    Entry.device_id == bindparam("device"),
    among(Entry.device_seq, "numbers"),
)


def note_copies(session: Session, sender: Sender, taken: Iterable[Mapping[str, Any]]) -> None:
    """Mark the sender's devices of which an entry that was just taken has the number of another entry."""
    numbers: dict[str, dict[int, str]] = {}
    met = set()
    for entry in taken:
        own = numbers.setdefault(entry["device"], {})
        if entry["device_seq"] in own:
            met.add(entry["device"])
        own[entry["device_seq"]] = entry["id"]
    for device, own in numbers.items():
        if device not in met and _used_before(session, sender, device, own):
            met.add(device)
    for device in sorted(met):
        _mark(session, sender, device)


def _used_before(session: Session, sender: Sender, device: str, own: Mapping[int, str]) -> bool:
    wanted = {"person": sender.person.id, "organisation": sender.person.organisation, "device": device}
    rows = session.execute(_NUMBERED, wanted | {"numbers": own})
    return any(own[number] != entry for number, entry in rows)


def _mark(session: Session, sender: Sender, device: str) -> None:
    person = sender.person
    row = session.get(Device, (person.organisation, person.id, device), with_for_update=True)
    if row is None or row.copied_at is not None:
        return
    row.copied_at = sender.now
    with acting(person.id):
        copied = Event("device_copied", "device", device, person=person.id, device=device)
        record(session, person.organisation, sender.now, copied)
