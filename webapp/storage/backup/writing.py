"""Making a backup while the service runs."""

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.orm import Session

from webapp.storage.audit import Event, record
from webapp.storage.backup import archive, postgres, sqlite
from webapp.storage.backup.facts import Facts, heads_of, revision_of
from webapp.storage.backup.failed import BackupFailed
from webapp.storage.database import Database
from webapp.storage.erasing import lines_of, read_lines

ERASURES = "erasures.jsonl"


@dataclass(frozen=True)
class Written:
    """A backup that was made: its facts, the checksum of its file, the erasures beside it."""

    facts: Facts
    sha256: str
    erasures: Path


def write_backup(database: Database, path: Path, recipient: str | None = None) -> Written:
    """Back everything up into a new file, there whole or not at all; BackupFailed says why there is none."""
    if path.exists():
        raise BackupFailed(f"{path} exists already. A backup never replaces another: give it a new name.")
    try:
        with archive.beside(path, "database") as copy, archive.beside(path, "part") as draft:
            facts, erasures = _copy(database, copy)
            archive.pack(draft, facts, copy, erasures)
            _finish(draft, path, recipient)
        kept = keep_erasures(path.with_name(ERASURES), erasures)
    except OSError as error:
        raise BackupFailed(f"{path} could not be written ({error.strerror}). There is no backup.") from error
    _note(database, facts)
    return Written(facts, archive.digest(path), kept)


def _finish(draft: Path, path: Path, recipient: str | None) -> None:
    if recipient is None:
        archive.put_in_place(draft, path)
        return
    with archive.beside(path, "sealed") as sealed:
        archive.seal(draft, sealed, recipient)
        archive.put_in_place(sealed, path)


def _copy(database: Database, copy: Path) -> tuple[Facts, str]:
    """Copy the database; its facts and erasures, both from the moment of the copy."""
    if database.engine.dialect.name == "postgresql":
        with database.reading() as session:
            postgres.dump(database.url, copy, postgres.export_snapshot(session))
            return _facts(session, copy)
    sqlite.dump(database.url, copy)
    copied = Database(sqlite.url_of(copy))
    try:
        with copied.reading() as session:
            found = _facts(session, copy)
    finally:
        copied.dispose()
    sqlite.as_one_file(copy)
    return Facts(**{**vars(found[0]), "sha256": archive.digest(copy)}), found[1]


def _facts(session: Session, copy: Path) -> tuple[Facts, str]:
    facts = Facts(
        at=f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}",
        backend=session.connection().dialect.name,
        revision=revision_of(session.connection()),
        sha256=archive.digest(copy),
        organisations=heads_of(session),
    )
    return facts, "\n".join(lines_of(session))


def keep_erasures(path: Path, lines: str) -> Path:
    """Add erasures to the file that lies beside all backups; what it holds already stays."""
    known = read_erasures(path)
    every = {**{key: line for key, line in known.items()}, **_by_client(lines)}
    with archive.beside(path, "part") as draft:
        draft.write_text("".join(f"{every[key]}\n" for key in sorted(every)), encoding="utf-8")
        archive.put_in_place(draft, path)
    return path


def read_erasures(path: Path) -> dict[tuple[str, str], str]:
    """The lines of such a file by organisation and client; nothing when there is no file."""
    try:
        return _by_client(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, ValueError) as error:
        raise BackupFailed(f"{path} is damaged: mend or move it, it says who was erased.") from error


def _by_client(text: str) -> dict[tuple[str, str], str]:
    found = {}
    for line in filter(None, text.splitlines()):
        found.update(dict.fromkeys(read_lines(line), line))
    return found


def _note(database: Database, facts: Facts) -> None:
    """Write down that a backup was made, in every organisation's audit."""
    now = datetime.now(UTC)
    with database.writing() as session:
        for organisation in facts.organisations:
            record(session, organisation["id"], now, Event("backed_up", "backup", facts.sha256))
