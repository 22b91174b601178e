"""The devices of a service: what they last said of themselves, withdrawing one, allowing it again."""

import argparse
from datetime import UTC, datetime
from typing import Any

from webapp.service.refused import Refused
from webapp.storage.admitting import allow_again
from webapp.storage.database import Database
from webapp.storage.devices import Known, known_devices, set_revoked
from webapp.storage.missing import Spans
from webapp.storage.switches import find_organisation

WITHDRAWN = (
    "It is withdrawn. At its next contact the device removes what it received from here and hands in what it "
    "has not sent: that is kept aside, in no client's record. A device that never connects cannot be reached."
)
ALLOWED = (
    "It is in service again. It fetches its caseload at its next sync. What it handed back after a restore, "
    "and proved, is in the record now where its person may see the client; `held` lists what waits for a "
    "decision."
)


def describe(commands: Any) -> None:
    """Add the commands to the parser."""
    listing = commands.add_parser("devices", help="list the devices, and what each last said of itself")
    listing.set_defaults(run=devices)
    one = commands.add_parser("device", help="withdraw a device from service, or allow it again")
    one.add_argument("act", choices=("revoke", "allow"))
    one.add_argument("id", help="as `devices` lists it")
    one.set_defaults(run=device)


def devices(database: Database, options: argparse.Namespace) -> str:
    """The devices of an organisation, a few lines each."""
    with database.reading() as session:
        organisation = find_organisation(session, options.organisation)
        known = known_devices(session, organisation.id)
    lines = [line for device in known for line in _lines(device)]
    return "\n".join([f"{organisation.name}: {len(known)} device{'' if len(known) == 1 else 's'}", *lines])


def device(database: Database, options: argparse.Namespace) -> str:
    """Withdraw one device, or allow it again."""
    with database.reading() as session:
        organisation = find_organisation(session, options.organisation)
    done = set_revoked if options.act == "revoke" else allow_again
    if not done(database, organisation.id, options.id, datetime.now(UTC)):
        raise Refused(f"{organisation.name} has no device {options.id}. `devices` lists them.")
    return f"{options.id}\n{WITHDRAWN if done is set_revoked else ALLOWED}"


def _lines(device: Known) -> list[str]:
    state = f"withdrawn {_moment(device.revoked_at)}" if device.revoked_at else "in service"
    lines = [
        "",
        device.id,
        f"  {device.name}, {device.person.name}, {state}",
        f"  last sync {_moment(device.last_sync_at)}, then {_entries(device.unsent)} unsent",
    ]
    if device.missing:
        lines.append(f"  not here: {_entries(device.lacking)} ({_spans(device.missing)})")
        lines.append("  waiting on the device, or lost with it")
    if device.copied_at:
        lines.append(f"  two copies of it have synced, noticed {_moment(device.copied_at)}:")
        lines.append("  a phone's backup on another phone, or a copied browser profile; nothing was lost")
        lines.append("  if its person knows of one only, sign them out everywhere and withdraw the other")
    return lines


def _entries(number: int) -> str:
    return f"{number} {'entry' if number == 1 else 'entries'}"


def _moment(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M} UTC"


def _spans(spans: Spans) -> str:
    """Numbers as they would be read out: `number 3, 7 to 9`."""
    return "number " + ", ".join(str(low) if low == high else f"{low} to {high}" for low, high in spans)
