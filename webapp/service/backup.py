"""Backing a service up and restoring it: `backup FILE`, `restore FILE`, `backup-key FILE`."""

import argparse
from pathlib import Path
from typing import Any

from webapp.service.audit import KEEP, anchor_lines
from webapp.service.refused import Refused
from webapp.storage.audit.check import Anchor
from webapp.storage.backup import BackupFailed, Written, archive, restore, write_backup
from webapp.storage.database import Database

SEALED = "It is sealed: only the secret key that belongs to {key} opens it. This server cannot."
PLAIN = "It is not sealed: whoever has the file can read every record. `--for KEY` seals the next one."
AFTERWARDS = (
    "What to do now:\n"
    "1. Start the service. Everybody signs in again; each device then offers what the backup lacks.\n"
    "2. What was decided since the backup is undone: withdraw lost devices, close accounts, end\n"
    "   caseloads again.\n"
    "3. `audit verify --anchor FILE` with your anchors from before the backup. Later ones speak of rows\n"
    "   that were in the database before.\n"
)


def describe(commands: Any) -> None:
    """Add the commands to the parser."""
    making = commands.add_parser("backup", help="copy everything into one new file, while the service runs")
    making.add_argument("file", type=Path)
    making.add_argument("--for", dest="recipient", metavar="KEY", help="seal it to a public key (age1...)")
    making.set_defaults(run=backup)
    taking = commands.add_parser("restore", help="put a backup in the place of the database")
    taking.add_argument("file", type=Path)
    taking.add_argument("--key", type=Path, metavar="FILE", help="the secret key of a sealed backup")
    taking.add_argument("--erasures", type=Path, metavar="FILE", help="another erasures.jsonl than beside it")
    taking.set_defaults(run=restore_it)
    key = commands.add_parser("backup-key", help="make a key to seal backups to; not on the server")
    key.add_argument("file", type=Path)
    key.set_defaults(run=backup_key)


def backup(database: Database, options: argparse.Namespace) -> str:
    """Make a backup; what to keep with it."""
    written = _refusing(write_backup, database, options.file, options.recipient)
    sealed = SEALED.format(key=options.recipient) if options.recipient else PLAIN
    told = [_made(options.file, written), sealed, _erasures(written), "", *_anchors(written), KEEP]
    return "\n".join(told)


def _made(path: Path, written: Written) -> str:
    facts = written.facts
    return f"{path}: backup of {facts.at}, revision {facts.revision}, SHA-256 {written.sha256}"


def _erasures(written: Written) -> str:
    return f"{written.erasures} lists who was erased, so that no restore brings them back: keep it with it."


def _anchors(written: Written) -> list[str]:
    heads = [
        Anchor(row["id"], row["audit_seq"], row["audit_hash"]) for row in written.facts.organisations
    ]
    return anchor_lines(heads)


def restore_it(database: Database, options: argparse.Namespace) -> str:
    """Restore a backup; what to do next."""
    done = _refusing(restore, database, options.file, options.key, options.erasures)
    told = [f"Restored: the backup of {done.facts.at}."]
    if done.erased_again:
        told.append(f"{done.erased_again} clients whom it still held were erased again.")
    if done.kept:
        told.append(f"The database before is kept as {done.kept}. Delete it once you are sure.")
    return "\n".join([*told, "", AFTERWARDS.rstrip()])


def backup_key(_database: Database, options: argparse.Namespace) -> str:
    """Make a pair of keys; the public one, and where the secret one must not be."""
    public = _refusing(archive.make_key, options.file)
    return (
        f"{options.file} holds the secret key. Keep it away from the server, in two places: without it a "
        f"sealed backup is lost.\nSeal backups with: python3 -m webapp.service backup FILE --for {public}"
    )


def _refusing(act: Any, *arguments: Any) -> Any:
    try:
        return act(*arguments)
    except BackupFailed as failed:
        raise Refused(str(failed)) from failed
