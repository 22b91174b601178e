"""What a service switches on or off for everybody: kept with the organisation, told to every phone."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from webapp.storage.audit import Event, record
from webapp.storage.database import Database
from webapp.storage.due_changes import note_due_changes
from webapp.storage.locking import lock_counter
from webapp.storage.models import Client, Organisation

SWITCHES: dict[str, Any] = {"early_warning": False}
# Further settings: which rules of reassessment are in force besides or instead of the built-in ones, and the
# days on which the service works.
SETTINGS: dict[str, Any] = {
    "reassessment": {},
    "calendar": {"zone": "UTC", "weekend": [6, 7], "holidays": []},
}

_SETTINGS = select(Organisation.settings).where(Organisation.id == bindparam("organisation"))


class NoSuchOrganisation(LookupError):
    """The database holds no such organisation, or several and none was named."""


def settings_of(session: Session, organisation: str) -> dict[str, Any]:
    """An organisation's settings, with the default of each that it never set."""
    return SWITCHES | SETTINGS | session.connection().scalars(_SETTINGS, {"organisation": organisation}).one()


def find_organisation(session: Session, name: str | None = None) -> Organisation:
    """The organisation of a name or, without one, the only one there is."""
    every = session.scalars(select(Organisation).order_by(Organisation.name)).all()
    found = [row for row in every if name is None or row.name.casefold() == name.strip().casefold()]
    if len(found) == 1:
        return found[0]
    if not every:
        raise NoSuchOrganisation("There is no organisation in this database yet.")
    names = ", ".join(f'"{row.name}"' for row in every)
    asked = "Several could be meant" if found else "There is no organisation of that name"
    raise NoSuchOrganisation(f"{asked}. This database holds: {names}.")


def change_setting(
    session: Session, organisation: str, name: str, change: Callable[[Any], Any], now: datetime
) -> None:
    """Change one of the further settings, nobody else's change lost; every client's due dates may follow.

    `change` makes the new value of the one in force, and refuses what cannot be.
    """
    row = lock_counter(session, organisation)
    value = change((SETTINGS | row.settings)[name])
    record(session, organisation, now, Event("setting_changed", "setting", name))
    row.settings = {**row.settings, name: value}
    clients = select(Client.id).where(Client.organisation_id == organisation)
    note_due_changes(session, organisation, session.scalars(clients), now)


def switch(database: Database, organisation: str, name: str, on: bool) -> None:
    """Switch something on or off; phones hear of it with their next sync."""
    if name not in SWITCHES:
        raise ValueError(f"a switch is one of {', '.join(SWITCHES)}")
    with database.writing() as session:
        event = Event("setting_changed", "setting", name, reason="on" if on else "off")
        record(session, organisation, datetime.now(UTC), event)
        row = session.get_one(Organisation, organisation)
        # A new value, not a change within: the column would not notice that.
        row.settings = {**row.settings, name: on}
