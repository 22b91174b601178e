"""Sealing a row of the audit onto the one before it: its text, the keys, and its hash."""

import hashlib
import hmac
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from sync.canonical import canonical
from sync.instants import write_instant
from webapp.storage.models import AuditRow

GENESIS = "0" * 64
AUDIT = b"lintel audit 1"
# Everything of a row that its hash covers; the hash of the row before is among it.
COVERED = (
    "organisation_id",
    "seq",
    "at",
    "actor_id",
    "device_id",
    "action",
    "record_kind",
    "record_id",
    "person_id",
    "outcome",
    "reason",
    "count",
    "request_id",
    "key_id",
    "prev_hash",
)


@dataclass(frozen=True)
class Keys:
    """The key rows are sealed with, and earlier ones that only check what they once sealed."""

    id: str
    every: Mapping[str, bytes] = field(repr=False)

    @classmethod
    def derived(cls, secret: str, old: Iterable[str] = ()) -> "Keys":
        """The keys that belong to a service's secret and to its earlier secrets.

        Derived and not a setting of its own: no service can be without it, and nothing more has to be kept.
        """
        keys = [derive(each) for each in (secret, *old)]
        return cls(key_id(keys[0]), {key_id(key): key for key in keys})

    def seal(self, row: Mapping[str, Any]) -> str | None:
        """The hash of a row's columns under the key that the row names; None when that key is not here."""
        key = self.every.get(row["key_id"])
        return hmac.new(key, text_of(row).encode(), hashlib.sha256).hexdigest() if key else None


def derive(secret: str, info: bytes = AUDIT) -> bytes:
    """The 32 bytes a secret stands for in one place and nowhere else (HKDF with SHA-256, RFC 5869)."""
    return HKDF(SHA256(), length=32, salt=None, info=info).derive(secret.encode())


def key_id(key: bytes) -> str:
    """What names a key without telling anything of it."""
    return hmac.new(key, b"name of this key", hashlib.sha256).hexdigest()[:16]


def text_of(row: Mapping[str, Any]) -> str:
    """The canonical text of what the hash covers."""
    facts = {name: row[name] for name in COVERED}
    at: datetime = facts["at"]
    return canonical(facts | {"at": write_instant(at)})


def columns_of(row: AuditRow) -> dict[str, Any]:
    """A stored row's columns by name."""
    return {name: getattr(row, name) for name in (*COVERED, "hash")}
