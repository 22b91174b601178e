"""The service's VAPID keys (RFC 8292): one pair for all phones, the private one from the environment."""

import base64

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat


def make_private_key() -> str:
    """A new private key: 32 bytes in base64url."""
    number = ec.generate_private_key(ec.SECP256R1()).private_numbers().private_value
    return _text(number.to_bytes(32, "big"))


def public_key(private: str) -> str:
    """The public key of a private one, as a browser takes it: an uncompressed point in base64url."""
    number = int.from_bytes(base64.urlsafe_b64decode(private.rstrip("=") + "="), "big")
    point = ec.derive_private_key(number, ec.SECP256R1()).public_key()
    return _text(point.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint))


def _text(octets: bytes) -> str:
    return base64.urlsafe_b64encode(octets).rstrip(b"=").decode()
