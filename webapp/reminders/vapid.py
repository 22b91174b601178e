"""The service's VAPID keys (RFC 8292): one pair for all phones, the private one from the environment."""

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url


def make_private_key() -> str:
    """A new private key: 32 bytes in base64url."""
    number = ec.generate_private_key(ec.SECP256R1()).private_numbers().private_value
    return bytes_to_base64url(number.to_bytes(32, "big"))


def public_key(private: str) -> str:
    """The public key of a private one, as a browser takes it: an uncompressed point in base64url."""
    number = int.from_bytes(base64url_to_bytes(private), "big")
    point = ec.derive_private_key(number, ec.SECP256R1()).public_key()
    return bytes_to_base64url(point.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint))
