"""What each device last said about itself, so that a loss on the device shows on the server."""

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from sync.messages import Request
from sync.server import Report, latest_report
from sync.server import missing_numbers as missing_of
from webapp.storage.models import Device, Entry
from webapp.storage.people import Person


def note_device(session: Session, person: Person, request: Request, now: datetime) -> None:
    """Remember when a device synced and how much it says it still holds unsent."""
    key = (person.organisation, person.id, request.device)
    # Locked: two of its messages may be answered at once, and the older must not win.
    device = session.get(Device, key, with_for_update=True)
    before = device and Report(device.unsent, device.last_device_seq)
    if device is None:
        device = Device(organisation_id=person.organisation, user_id=person.id, id=request.device)
        session.add(device)
    report = latest_report(before, request)
    device.name, device.build = request.device_name, request.build
    device.last_sync_at, device.unsent = now, report.unsent
    device.last_device_seq = report.last_device_seq
    session.flush()


def missing_numbers(session: Session, person: Person, device: str) -> list[int]:
    """The numbers a person's device says it gave out that the log lacks: waiting there, or lost with it."""
    known = session.get(Device, (person.organisation, person.id, device))
    stored = select(Entry.device_seq).where(
        Entry.organisation_id == person.organisation,
        Entry.author_id == person.id,
        Entry.device_id == device,
    )
    if known is None:
        return []
    return missing_of(Report(known.unsent, known.last_device_seq), set(session.scalars(stored)))
