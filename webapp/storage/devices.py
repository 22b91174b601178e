"""What each device last said about itself, so that a loss on the device shows on the server."""

from datetime import datetime

from sqlalchemy.orm import Session

from sync.messages import Request
from webapp.storage.models import Device
from webapp.storage.people import Person


def note_device(session: Session, person: Person, request: Request, now: datetime) -> None:
    """Remember when a device synced and how much it says it still holds unsent."""
    device = session.get(Device, (person.organisation, person.id, request.device))
    if device is None:
        device = Device(organisation_id=person.organisation, user_id=person.id, id=request.device)
        session.add(device)
    device.name, device.build = request.device_name, request.build
    device.last_sync_at, device.unsent = now, request.unsent
    device.last_device_seq = request.last_device_seq
    session.flush()
