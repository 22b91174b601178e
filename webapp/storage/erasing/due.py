"""How long a service keeps the record of a care that ended, and what keeps it longer."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from webapp.storage.audit import Event, record
from webapp.storage.locking import lock_counter
from webapp.storage.models import Caseload, Client, Entry, Organisation


@dataclass(frozen=True)
class Due:
    """A client whose record has been kept as long as the service decided, counted from its last entry."""

    client: str
    last: datetime
    since: datetime
    held: bool


def set_retention(session: Session, organisation: str, years: int | None, at: datetime) -> None:
    """Say for how many years a record is kept after its last entry; None: nothing ever falls due."""
    reason = "unset" if years is None else f"years_{years}"
    record(session, organisation, at, Event("setting_changed", "setting", "retention", reason=reason))
    session.get_one(Organisation, organisation).retention_years = years


def set_hold(session: Session, organisation: str, client: str, on: bool, at: datetime) -> bool:
    """Put a legal hold on a client's record, or lift it; False for an unknown client."""
    lock_counter(session, organisation)
    row = session.get(Client, (organisation, client))
    if row is None:
        return False
    row.held_since = (row.held_since or at) if on else None
    record(session, organisation, at, Event("hold_set" if on else "hold_lifted", "client", client))
    return True


def due_clients(session: Session, organisation: str, now: datetime) -> list[Due]:
    """The clients on nobody's caseload whose record has been kept long enough, the oldest first."""
    years = session.get_one(Organisation, organisation).retention_years
    if years is None:
        return []
    found = [_due(row, years) for row in session.execute(_ended(organisation, now))]
    return sorted((due for due in found if due.since <= now), key=lambda due: due.last)


def _ended(organisation: str, now: datetime):
    current = select(Caseload.client_id).where(
        Caseload.organisation_id == organisation, or_(Caseload.until.is_(None), Caseload.until > now)
    )
    return (
        select(Client.id, Client.created_at, Client.held_since, func.max(Entry.received_at).label("last"))
        .outerjoin(Entry, (Entry.organisation_id == Client.organisation_id) & (Entry.client_id == Client.id))
        .where(Client.organisation_id == organisation, Client.id.not_in(current))
        .group_by(Client.id, Client.created_at, Client.held_since)
    )


def _due(row, years: int) -> Due:
    last = row.last or row.created_at
    return Due(row.id, last, years_after(last, years), row.held_since is not None)


def years_after(moment: datetime, years: int) -> datetime:
    """The same day some years later; the first of March for a 29 February that is not there."""
    try:
        return moment.replace(year=moment.year + years)
    except ValueError:
        return moment.replace(year=moment.year + years, month=3, day=1)
