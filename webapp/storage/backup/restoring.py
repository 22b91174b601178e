"""Restoring a backup beside the database it replaces: checked and brought up to date, then swapped in."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import delete, select, update
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from webapp.storage.audit import Event, record
from webapp.storage.audit.check import check_chain
from webapp.storage.backup import archive, postgres, sqlite
from webapp.storage.backup.facts import Facts, check_fits, heads_of, revision_of
from webapp.storage.backup.failed import BackupFailed
from webapp.storage.backup.writing import ERASURES, read_erasures
from webapp.storage.database import Database
from webapp.storage.epochs import renew_epoch
from webapp.storage.erasing import lines_of, read_lines, reapply
from webapp.storage.models import Organisation, PasskeyChallenge, PasswordLink, SignIn
from webapp.storage.upgrade import upgrade

NOT_WHAT_IT_SAYS = "The database in this backup is not the one its facts speak of. Nothing was changed."


@dataclass(frozen=True)
class Restored:
    """What a restore did: the backup's facts, where the database before is kept, what was erased again."""

    facts: Facts
    kept: str
    erased_again: int


def restore(database: Database, path: Path, key: Path | None, erasures: Path | None) -> Restored:
    """Put a backup in the place of the database: all of it or, with BackupFailed, nothing."""
    on_postgres = database.engine.dialect.name == "postgresql"
    spot = path if on_postgres else sqlite.file_of(database.url)
    with archive.beside(spot, "restoring") as copy:
        facts, inside = _take_out(path, copy, key)
        check_fits(facts, database.engine.dialect.name)
        known = {**_erasures_of(database), **read_erasures(erasures or path.with_name(ERASURES))}
        lines = "\n".join([inside, *known.values()])
        with _laid_beside(database.url, copy, on_postgres) as beside:
            again = _make_ready(beside, database, facts, lines)
            database.dispose()
            kept = postgres.swap(database.url) if on_postgres else sqlite.swap(copy, database.url)
    return Restored(facts, kept, again)


def _take_out(path: Path, copy: Path, key: Path | None) -> tuple[Facts, str]:
    if not archive.is_sealed(path):
        return archive.unpack(path, copy)
    with archive.beside(copy, "open") as plain:
        archive.unseal(path, plain, key)
        return archive.unpack(plain, copy)


@contextmanager
def _laid_beside(url: str, copy: Path, on_postgres: bool) -> Iterator[str]:
    """The address of the restored database, not yet in anybody's place."""
    if not on_postgres:
        sqlite.check(copy)
        yield sqlite.url_of(copy)
        return
    with postgres.database_beside(url) as beside:
        postgres.load(copy, beside)
        yield beside


def _erasures_of(database: Database) -> dict[tuple[str, str], str]:
    """The erasures that the database to be replaced still knows, if it can be read at all."""
    try:
        with database.reading() as session:
            return {key: line for line in lines_of(session) for key in read_lines(line)}
    except SQLAlchemyError:
        return {}


def _make_ready(url: str, like: Database, facts: Facts, erasures: str) -> int:
    """Check a restored database, migrate it up, and make it a new life of the log; how many erased again."""
    fresh = Database(url)
    fresh.audit_keys = like.audit_keys
    try:
        _check(fresh, facts)
        fresh.dispose()
        upgrade(url)
        again = _begin_anew(fresh, facts, erasures)
        renew_epoch(fresh)
    except SQLAlchemyError as error:
        raise BackupFailed(
            f"The restored database does not work ({type(error).__name__}). Nothing was changed."
        ) from error
    finally:
        fresh.dispose()
    return again


def _check(fresh: Database, facts: Facts) -> None:
    with fresh.reading() as session:
        if revision_of(session.connection()) != facts.revision:
            raise BackupFailed(NOT_WHAT_IT_SAYS)
        if facts.revision >= "0004":
            if heads_of(session) != list(facts.organisations):
                raise BackupFailed(NOT_WHAT_IT_SAYS)
            _check_audit(session, fresh)


def _check_audit(session: Session, fresh: Database) -> None:
    for organisation in session.scalars(select(Organisation)):
        checked = check_chain(session, organisation, fresh.audit_keys)
        if checked.fault:
            raise BackupFailed(
                f"The audit in this backup was changed: {checked.fault}. Nothing was restored."
            )


def _begin_anew(fresh: Database, facts: Facts, erasures: str) -> int:
    """Erase again whoever was erased since, end every session, write down that this was restored."""
    now = datetime.now(UTC)
    with fresh.writing() as session:
        again = reapply(session, read_lines(erasures).values())
        session.execute(update(SignIn).where(SignIn.revoked_at.is_(None)).values(revoked_at=now))
        # What was used since the backup must not work a second time.
        session.execute(update(PasswordLink).where(PasswordLink.ended_at.is_(None)).values(ended_at=now))
        session.execute(delete(PasskeyChallenge))
        for organisation in session.scalars(select(Organisation.id)).all():
            record(session, organisation, now, Event("restored", "backup", facts.sha256))
    return again
