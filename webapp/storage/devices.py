"""What each device last said about itself, so that a loss on it shows here, and which were withdrawn."""

from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Select, and_, bindparam, exists, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from sync.messages import Request
from sync.server import Report, latest_report
from sync.shapes import is_uuid
from webapp.circumstances import acting
from webapp.storage.audit import Event, record
from webapp.storage.database import Database
from webapp.storage.locking import lock_counter
from webapp.storage.missing import Spans, amount, missing_spans, not_aside
from webapp.storage.models import Device, User
from webapp.storage.people import Person, person_of

_ORGANISATION, _DEVICE = bindparam("organisation"), bindparam("device")
_WITHDRAWN = exists().where(
    Device.organisation_id == _ORGANISATION, Device.id == _DEVICE, Device.revoked_at.is_not(None)
)
_REVOKED: Select[tuple[bool]] = select(_WITHDRAWN)
_OWN = and_(
    Device.organisation_id == _ORGANISATION, Device.user_id == bindparam("person"), Device.id == _DEVICE
)
_STATE = select(_WITHDRAWN, select(Device.copied_at).where(_OWN).scalar_subquery())
_LOCKED = select(Device.unsent, Device.last_device_seq).where(_OWN).with_for_update()
_SAID = (
    update(Device.__table__)
    .where(_OWN)
    .values(
        name=bindparam("now_name"),
        build=bindparam("now_build"),
        last_sync_at=bindparam("now"),
        unsent=bindparam("now_unsent"),
        last_device_seq=bindparam("now_last"),
    )
)


def note_device(session: Session, person: Person, request: Request, now: datetime) -> None:
    """Remember when a device synced and how much it says it still holds unsent."""
    if not note_known_device(session, person, request, now):
        _make_known(session, person, request, now)
        note_known_device(session, person, request, now)


def note_known_device(session: Session, person: Person, request: Request, now: datetime) -> bool:
    """The same, of a device that was heard of before; False, and nothing done, for another."""
    own = {"organisation": person.organisation, "person": person.id, "device": request.device}
    before = session.connection().execute(_LOCKED, own).one_or_none()
    if before is None:
        return False
    report = latest_report(Report(before.unsent, before.last_device_seq), request)
    session.connection().execute(
        _SAID,
        own
        | {
            "now_name": request.device_name,
            "now_build": request.build,
            "now": now,
            "now_unsent": report.unsent,
            "now_last": report.last_device_seq,
        },
    )
    return True


def _make_known(session: Session, person: Person, request: Request, now: datetime) -> None:
    """Make a device's row; two of its messages may be answered at once, even its first."""
    fresh = Device(organisation_id=person.organisation, user_id=person.id, id=request.device,
                   name=request.device_name, build=request.build, last_sync_at=now,
                   unsent=request.unsent, last_device_seq=request.last_device_seq)  # fmt: skip
    try:
        with session.begin_nested():
            session.add(fresh)
    except IntegrityError:
        return
    with acting(person.id):
        seen = Event("device_seen", "device", request.device, device=request.device)
        record(session, person.organisation, now, seen)


def is_revoked(session: Session, organisation: str, device: str) -> bool:
    """Whether a device was withdrawn, whoever uses it now."""
    return bool(session.connection().scalar(_REVOKED, {"organisation": organisation, "device": device}))


def state_of_device(session: Session, person: Person, device: str) -> str:
    """What a device is told of itself: "revoked", "copied" when there are two of it, else "active"."""
    own = {"organisation": person.organisation, "person": person.id, "device": device}
    revoked, copied_at = session.connection().execute(_STATE, own).one()
    if person.withdrawn or revoked:
        return "revoked"
    return "copied" if copied_at is not None else "active"


def set_revoked(database: Database, organisation: str, device: str, at: datetime | None) -> bool:
    """Withdraw a device from a moment on, or take it back into service (None); False for an unknown one."""
    if not is_uuid(device):
        return False
    with database.writing() as session:
        return revoke(session, organisation, device, at)


def revoke(session: Session, organisation: str, device: str, at: datetime | None) -> bool:
    """As `set_revoked`, within a transaction."""
    lock_counter(session, organisation)
    rows = session.scalars(
        select(Device).where(Device.organisation_id == organisation, Device.id == device)
    ).all()
    for row in rows:
        row.revoked_at = at
    if rows:
        action = "device_withdrawn" if at else "device_allowed"
        record(session, organisation, at or datetime.now(UTC), Event(action, "device", device))
    return bool(rows)


@dataclass(frozen=True)
class Known:
    """A device as a service may see it: whose it is, what it last said, and what the log lacks of it.

    `copied_at` is when it was noticed that there are two of it.
    """

    id: str
    name: str
    person: Person
    last_sync_at: datetime
    unsent: int
    missing: Spans
    revoked_at: datetime | None
    copied_at: datetime | None

    @property
    def lacking(self) -> int:
        """How many of its entries are missing."""
        return amount(self.missing)


def known_devices(session: Session, organisation: str, user: str | None = None) -> list[Known]:
    """Every device of an organisation, or of one user in it; the one that was heard of last in front."""
    rows = _rows(session, organisation, user)
    missing = missing_spans(session, [device for device, _ in rows])
    return [_known(device, owner, missing.get((owner.id, device.id), ())) for device, owner in rows]


def lacking_devices(session: Session, person: Person) -> list[Known]:
    """A person's devices in service that gave out numbers the server has nothing of, not even set aside."""
    rows = _rows(session, person.organisation, person.id)
    mine = {device.id: (device, owner) for device, owner in rows if device.revoked_at is None}
    missing = missing_spans(session, [device for device, _ in mine.values()])
    left = [
        _known(*mine[device], not_aside(session, mine[device][0], spans))
        for (_, device), spans in missing.items()
    ]
    return [each for each in left if each.missing]


def _rows(session: Session, organisation: str, user: str | None) -> list[tuple[Device, Person]]:
    query = (
        select(Device, User)
        .join(User, (User.organisation_id == Device.organisation_id) & (User.id == Device.user_id))
        .where(Device.organisation_id == organisation)
        .order_by(Device.last_sync_at.desc(), Device.id)
    )
    rows = session.execute(query if user is None else query.where(Device.user_id == user))
    return [(device, person_of(owner)) for device, owner in rows]


def _known(device: Device, person: Person, missing: Spans) -> Known:
    return Known(
        device.id,
        device.own_name or device.name,
        person,
        device.last_sync_at,
        device.unsent,
        missing,
        device.revoked_at,
        device.copied_at,
    )
