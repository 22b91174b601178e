"""Readings that were found in order, remembered by a digest: the same few come again and again.

A saturation of 97 in room air, or somebody alert without a warning sign, is looked at once and not at every
visit of everybody. Of what was looked at nothing is kept but that it was in order; all else is looked at
each time.
"""

from hashlib import blake2b
from typing import Any

from sync.canonical import canonical_again

MOST = 4096
_in_order: set[bytes] = set()


def digest_of(kind: str, body: dict[str, Any]) -> bytes | None:
    """What a reading is remembered by; None for what cannot be in order, having no canonical text."""
    try:
        text = f"{kind} {canonical_again(body)}".encode()
    except (TypeError, UnicodeEncodeError):
        return None
    return blake2b(text, digest_size=16).digest()


def was_in_order(digest: bytes | None) -> bool:
    """Whether this very reading was found in order before."""
    return digest in _in_order


def remember(digest: bytes | None) -> None:
    """Remember that a reading was found in order; of very many all are forgotten, and begun anew."""
    if digest is None:
        return
    if len(_in_order) >= MOST:
        _in_order.clear()
    _in_order.add(digest)
