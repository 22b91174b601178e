"""Receipts: a server's proof, to itself, of what it once handed out.

A receipt is an HMAC-SHA-256 over the organisation and the hashes of the whole entries of one answer, in
their order. The hash of an entry covers its id and everything else of it. The key lies outside the database,
so a receipt outlives the log that it was made from: what devices hold of a lost log can be taken back.
"""

import hashlib
import hmac
from base64 import urlsafe_b64encode
from collections.abc import Sequence

from sync.canonical import canonical


class Receipts:
    """Makes receipts under the first of some keys, and knows those of every one again."""

    def __init__(self, keys: Sequence[bytes]) -> None:
        self._keys = tuple(keys)

    def issue(self, organisation: str, hashes: Sequence[str]) -> str:
        """The receipt for some entries of an organisation."""
        return _mac(self._keys[0], organisation, hashes)

    def proves(self, receipt: str | None, organisation: str, hashes: Sequence[str]) -> bool:
        """Whether a receipt was made for exactly these entries, in this order, of this organisation."""
        if receipt is None or not receipt.isascii():
            return False
        made = [_mac(key, organisation, hashes) for key in self._keys]
        return any([hmac.compare_digest(one, receipt) for one in made])


def _mac(key: bytes, organisation: str, hashes: Sequence[str]) -> str:
    covered = canonical({"entries": list(hashes), "organisation": organisation})
    return urlsafe_b64encode(hmac.digest(key, covered.encode(), hashlib.sha256)).rstrip(b"=").decode()
