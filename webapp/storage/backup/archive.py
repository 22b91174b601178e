"""The file of a backup: a zip of facts, database and erasures; sealed as an age file for who has the key.

`age` (age-encryption.org) is an open format with programs of its own: a backup can be opened without
Lintel. It is sealed to a public key, so that the server that makes backups cannot read them.
"""

import hashlib
import os
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from webapp.storage.backup.facts import NO_BACKUP, Facts, read_facts
from webapp.storage.backup.failed import BackupFailed

FACTS, DATABASE, ERASURES = "facts.json", "database", "erasures.jsonl"
SEALED = b"age-encryption.org/"
CHUNK = 1024 * 1024
NEEDS_AGE = "Sealed backups need the package pyrage: pip install 'lintel[backup]'."


@contextmanager
def beside(path: Path, ending: str) -> Iterator[Path]:
    """A file next to another that only its owner reads, gone afterwards unless it was renamed."""
    draft = path.with_name(f"{path.name}.{ending}")
    _remove(draft)
    os.close(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    try:
        yield draft
    finally:
        _remove(draft)


def _remove(draft: Path) -> None:
    # What a killed restore left beside an SQLite file would be taken for the next one's.
    for ending in ("", "-wal", "-shm", "-journal"):
        Path(f"{draft}{ending}").unlink(missing_ok=True)


def digest(path: Path) -> str:
    """SHA-256 of a file, in hex."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def pack(target: Path, facts: Facts, database: Path, erasures: str) -> None:
    """Write the three parts into one file."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(FACTS, facts.as_json())
        archive.writestr(ERASURES, erasures)
        archive.write(database, DATABASE)


def unpack(source: Path, database: Path) -> tuple[Facts, str]:
    """Take the database out of a file and check that it is what was put in; facts and erasures."""
    try:
        with zipfile.ZipFile(source) as archive:
            facts = read_facts(archive.read(FACTS))
            erasures = archive.read(ERASURES).decode("utf-8")
            with archive.open(DATABASE) as packed, database.open("wb") as file:
                while chunk := packed.read(CHUNK):
                    file.write(chunk)
    # A damaged stream may end in any of these; all mean the same to whoever restores.
    except (zipfile.BadZipFile, KeyError, EOFError, ValueError, NotImplementedError, OSError) as error:
        raise BackupFailed(NO_BACKUP) from error
    except Exception as error:
        if type(error).__module__ == "zlib":
            raise BackupFailed(NO_BACKUP) from error
        raise
    if digest(database) != facts.sha256:
        raise BackupFailed(NO_BACKUP)
    return facts, erasures


def seal(source: Path, target: Path, recipient: str) -> None:
    """Encrypt a file to a public key (`age1...`)."""
    age = _age()
    try:
        key = age.x25519.Recipient.from_str(recipient.strip())
    except age.RecipientError as error:
        raise BackupFailed(
            "The key to seal for must be a public one: age1 and what follows. No backup was made."
        ) from error
    with source.open("rb") as plain, target.open("wb") as sealed:
        age.encrypt_io(plain, sealed, [key])


def is_sealed(path: Path) -> bool:
    """Whether a file is encrypted."""
    try:
        with path.open("rb") as file:
            return file.read(len(SEALED)) == SEALED
    except OSError as error:
        raise BackupFailed(f"{path} cannot be read. Nothing was changed.") from error


def unseal(source: Path, target: Path, key_file: Path | None) -> None:
    """Decrypt a file with the secret key in a file."""
    if key_file is None:
        raise BackupFailed("This backup is sealed. Name the file with its secret key: --key FILE.")
    age = _age()
    try:
        lines = key_file.read_text("ascii").splitlines()
        key = age.x25519.Identity.from_str(next(line for line in lines if line.startswith("AGE-SECRET-KEY-")))
    except (OSError, ValueError, StopIteration, age.IdentityError) as error:
        raise BackupFailed(f"{key_file} holds no secret key. Nothing was changed.") from error
    try:
        with source.open("rb") as sealed, target.open("wb") as plain:
            age.decrypt_io(sealed, plain, [key])
    except (age.DecryptError, OSError) as error:
        raise BackupFailed(
            "This backup is damaged, or was sealed for another key. Nothing was changed."
        ) from error


def make_key(path: Path) -> str:
    """Write a new secret key into a file that must not exist yet; the public key that goes with it."""
    key = _age().x25519.Identity.generate()
    try:
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            file.write(f"# public key: {key.to_public()}\n{key}\n")
    except FileExistsError as error:
        raise BackupFailed(f"{path} exists already, and may be the key of other backups.") from error
    return str(key.to_public())


def put_in_place(draft: Path, path: Path) -> None:
    """Give a finished file its name, so that it is there whole or not at all, also after a power cut."""
    for place in (draft, path.parent):
        handle = os.open(place, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
        if place == draft:
            os.replace(draft, path)


def _age() -> Any:
    try:
        import pyrage
    except ImportError as error:
        raise BackupFailed(NEEDS_AGE) from error
    return pyrage
