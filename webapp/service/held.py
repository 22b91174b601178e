"""What devices handed in for a decision: `held` lists how much of whom and why, `held admit` has it taken."""

import argparse
from typing import Any

from webapp import examiner
from webapp.config import utc_now
from webapp.service.refused import Refused
from webapp.storage import refused as storage_refused
from webapp.storage.admitting import CODE, CODES, PROVED, UNPROVED, Admitted, Aside, admit, set_aside
from webapp.storage.database import Database
from webapp.storage.people import Person
from webapp.storage.switches import find_organisation

EMPTY = "nothing is kept aside for a decision"
WHY = {
    CODE: "handed in by a withdrawn device: ask its person whether it is theirs",
    PROVED: "lost in a restore, handed back and proved: as it was recorded",
    UNPROVED: "lost in a restore, handed back without proof: ask whoever recorded it before you take it",
}
LEFT = "Not taken, kept aside as they came:"


def describe(commands: Any) -> None:
    """Add the command to the parser."""
    named = commands.add_parser("held", help="what devices handed in for a decision, or have it taken")
    named.add_argument("act", nargs="?", choices=("list", "admit"), default="list")
    named.add_argument("device", nargs="?", help="as the list names it")
    named.add_argument("--why", choices=CODES, default=CODE, help="which of it; as the list says")
    named.set_defaults(run=held)


def held(database: Database, options: argparse.Namespace) -> str:
    """List what is kept aside, without its content; or have that of one device taken into the record."""
    with database.reading() as session:
        organisation = find_organisation(session, options.organisation)
        found = [each for code in CODES for each in set_aside(session, organisation.id, code)]
    if options.act == "list":
        return "\n".join([f"{organisation.name}: {_total(found)}", *(_line(each) for each in found)])
    if not options.device:
        raise Refused("Name the device. `held` lists them.")
    service = Person("", organisation.id, "the service", "administrator")
    try:
        done = admit(database, service, options.device, examiner(), utc_now(), options.why)
    except storage_refused.Refused as error:
        raise Refused(error.sentence) from error
    return "\n".join(line for each in done for line in _told(each))


def _total(found: list[Aside]) -> str:
    return _items(sum(each.count for each in found)) if found else EMPTY


def _line(aside: Aside) -> str:
    return (
        f"\n{aside.device}\n  {aside.name}, {aside.person.name}: {_items(aside.count)}, received "
        f"{aside.first_at:%Y-%m-%d %H:%M} to {aside.last_at:%Y-%m-%d %H:%M} UTC\n"
        f"  {WHY[aside.code]}\n"
        f"  held admit {aside.device}" + (f" --why {aside.code}" if aside.code != CODE else "")
    )


def _told(done: Admitted) -> list[str]:
    lines = [f"{_items(done.taken)} taken into the record, under the author and with the times they had."]
    if done.refused:
        lines += [LEFT, *(f"  {code}: {_items(count)}" for code, count in sorted(done.refused.items()))]
    return lines


def _items(number: int) -> str:
    return f"{number} {'item' if number == 1 else 'items'}"
