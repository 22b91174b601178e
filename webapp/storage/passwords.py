"""Passwords: normalised, length-limited, hashed with Argon2id; an unknown name costs the same time."""

import unicodedata
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

SHORTEST, LONGEST = 10, 256

HASHER = PasswordHasher(time_cost=3, memory_cost=64 * 1024, parallelism=1)


def hash_password(password: str) -> str:
    """The hash to keep for a new password; ValueError when it is too short or too long."""
    if not SHORTEST <= len(password) <= LONGEST:
        raise ValueError(f"a password needs {SHORTEST} to {LONGEST} characters")
    return HASHER.hash(_normal(password))


def password_fits(kept: str | None, password: str) -> bool:
    """Whether a password belongs to a kept hash; None (nobody) is checked as slowly as somebody."""
    if len(password) > LONGEST:
        return False
    try:
        return HASHER.verify(kept or _nobody(), _normal(password)) and kept is not None
    except (VerificationError, InvalidHashError):
        return False


def needs_new_hash(kept: str) -> bool:
    """Whether a hash was made with weaker settings than today's."""
    return HASHER.check_needs_rehash(kept)


@cache
def _nobody() -> str:
    return HASHER.hash("the password of nobody at all")


def _normal(password: str) -> str:
    return unicodedata.normalize("NFKC", password)
