"""The audit of a service: `audit verify`, `audit anchor`, `audit show`."""

import argparse
import json
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from webapp.service.refused import Refused
from webapp.storage.audit import ACTIONS
from webapp.storage.audit.check import Anchor, Checked, anchor_of, check_chain
from webapp.storage.audit.reading import MOST_ROWS, Wanted, find_rows
from webapp.storage.database import Database
from webapp.storage.models import AuditRow, Organisation
from webapp.storage.switches import find_organisation

BROKEN = "The audit was changed. Keep the database as it is, with its newest backup, and find out who could."
KEEP = "Keep these lines where whoever can change the database cannot: mail them, print them."


def describe(commands: Any) -> None:
    """Add the command with its three acts to the parser."""
    acts = commands.add_parser("audit", help="check, anchor or read who did what").add_subparsers(
        dest="act", required=True
    )
    checking = acts.add_parser("verify", help="go through every row; name the first that was changed")
    checking.add_argument("--anchor", type=Path, action="append", default=[], metavar="FILE",
                          help="what `audit anchor` printed earlier")  # fmt: skip
    checking.set_defaults(run=verify)
    anchoring = acts.add_parser("anchor", help="print the newest row's number and hash, to be kept elsewhere")
    anchoring.set_defaults(run=anchor)
    showing = acts.add_parser("show", help=f"the newest rows, {MOST_ROWS} at most")
    showing.add_argument("--client", metavar="ID")
    showing.add_argument("--person", metavar="ID", help="who did it, or whom it concerned")
    showing.add_argument("--days", type=int, metavar="N", help="of the last N days")
    showing.set_defaults(run=show)
    for act in acts.choices.values():
        act.add_argument("--organisation", metavar="NAME", help="without it: all, or the only one")


def verify(database: Database, options: argparse.Namespace) -> str:
    """Check every chain; Refused, with what was found, when one was changed."""
    anchors = [one for path in options.anchor for one in read_anchors(path)]
    with database.reading() as session:
        found = [
            (row, check_chain(session, row, database.audit_keys, anchors))
            for row in _organisations(session, options.organisation)
        ]
    lines = [line for row, checked in found for line in _told(row.name, checked)]
    missing = {one.organisation for one in anchors} - {row.id for row, _ in found}
    if options.organisation is None and missing:
        lines.append(f"No organisation here has the id {', '.join(sorted(missing))} of the anchor.")
    text = "\n".join(lines) or "There is no organisation in this database yet."
    if missing and options.organisation is None or any(checked.fault for _, checked in found):
        raise Refused(f"{text}\n{BROKEN}")
    return text


def _told(name: str, checked: Checked) -> list[str]:
    rows = f"{checked.rows} row{'' if checked.rows == 1 else 's'}"
    if checked.fault:
        return [f"{name}: {checked.fault}. The {rows} before are as they were written."]
    lines = [f"{name}: {rows}, none edited, deleted or cut off."]
    for key, (first, last) in (checked.unchecked or {}).items():
        lines.append(
            f"  Rows {first} to {last} were sealed with an earlier secret (key {key}): only that they follow "
            "one another was checked. Name that secret in LINTEL_OLD_SECRET_KEYS to check them whole."
        )
    return lines


def anchor(database: Database, options: argparse.Namespace) -> str:
    """The head of every chain, one line of JSON each."""
    with database.reading() as session:
        heads = [anchor_of(row) for row in _organisations(session, options.organisation)]
    return "\n".join(anchor_lines(heads))


def anchor_lines(heads: Iterable[Anchor]) -> list[str]:
    """Anchors as they are kept: one line of JSON each."""
    at = f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}"
    return [json.dumps({"anchor": 1, "at": at, **vars(head)}) for head in heads]


def read_anchors(path: Path) -> list[Anchor]:
    """The anchors in a file; Refused when there are none."""
    try:
        lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]
        anchors = [Anchor(str(line["organisation"]), int(line["seq"]), str(line["hash"])) for line in lines]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise Refused(f"{path} does not hold what `audit anchor` prints. {KEEP}") from error
    if not anchors:
        raise Refused(f"{path} holds no anchor. {KEEP}")
    return anchors


def show(database: Database, options: argparse.Namespace) -> str:
    """The newest rows, a line each."""
    since = None if options.days is None else datetime.now(UTC) - timedelta(days=options.days)
    with database.reading() as session:
        organisation = find_organisation(session, options.organisation)
        rows = find_rows(session, organisation.id, Wanted(options.client, options.person, since))
    return "\n".join([f"{organisation.name}: {len(rows)} rows, the newest first", *map(_line, rows)])


def _line(row: AuditRow) -> str:
    facts = {
        "by": row.actor_id or "the command line",
        row.record_kind: row.record_id,
        "person": row.person_id,
        "device": row.device_id,
        "entries": row.count,
        "reason": row.reason,
    }
    told = ", ".join(f"{name} {value}" for name, value in facts.items() if value is not None)
    refused = " (refused)" if row.outcome == "refused" else ""
    what = f"{ACTIONS.get(row.action, row.action)}{refused}"
    return f"{row.seq:>7}  {row.at:%Y-%m-%d %H:%M} UTC  {what}: {told}"


def _organisations(session: Session, name: str | None) -> list[Organisation]:
    if name is not None:
        return [find_organisation(session, name)]
    return list(session.scalars(select(Organisation).order_by(Organisation.name)))
