"""An authenticator and its browser in software, written from the W3C's text and not from the library.

ES256 keys, attestation "none", resident keys. `ask` is what the server wants asked for, as JSON.
"""

import base64
import hashlib
import json
import secrets
from dataclasses import dataclass, field
from typing import Any

import cbor2
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec

PRESENT, VERIFIED, ATTESTED = 0x01, 0x04, 0x40


def unpadded(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def padded(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


@dataclass
class Authenticator:
    """One passkey; what a test sets wrongly is wrong in everything it answers from then on."""

    origin: str = "http://localhost"
    rp_id: str = "localhost"
    verifies: bool = True
    count: int = 0
    own: bytes = field(default_factory=lambda: secrets.token_bytes(32))
    key: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))
    user: str = ""

    def make(self, ask: dict[str, Any]) -> str:
        """The answer to navigator.credentials.create()."""
        self.user = ask["user"]["id"]
        point = self.key.public_key().public_numbers()
        cose = {1: 2, 3: -7, -1: 1, -2: point.x.to_bytes(32, "big"), -3: point.y.to_bytes(32, "big")}
        attested = bytes(16) + len(self.own).to_bytes(2, "big") + self.own + cbor2.dumps(cose)
        told = {"fmt": "none", "attStmt": {}, "authData": self._data(ATTESTED) + attested}
        client = self._client("webauthn.create", ask)
        return self._written({"clientDataJSON": client, "attestationObject": cbor2.dumps(told)})

    def get(self, ask: dict[str, Any]) -> str:
        """The answer to navigator.credentials.get()."""
        client, data = self._client("webauthn.get", ask), self._data(0)
        signature = self.key.sign(data + hashlib.sha256(client).digest(), ec.ECDSA(hashes.SHA256()))
        parts = {"clientDataJSON": client, "authenticatorData": data, "signature": signature,
                 "userHandle": padded(self.user)}  # fmt: skip
        return self._written(parts)

    def _client(self, kind: str, ask: dict[str, Any]) -> bytes:
        told = {"type": kind, "challenge": ask["challenge"], "origin": self.origin, "crossOrigin": False}
        return json.dumps(told).encode()

    def _data(self, flags: int) -> bytes:
        flags |= PRESENT | (VERIFIED if self.verifies else 0)
        host = hashlib.sha256(self.rp_id.encode()).digest()
        return host + bytes([flags]) + self.count.to_bytes(4, "big")

    def _written(self, parts: dict[str, bytes]) -> str:
        response = {name: unpadded(value) for name, value in parts.items()}
        own = unpadded(self.own)
        return json.dumps({"id": own, "rawId": own, "type": "public-key", "response": response})
