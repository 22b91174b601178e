"""Passwords: what fits, one form of each, hashed with Argon2id; an unknown name costs the same time."""

import unicodedata
from collections.abc import Iterable
from functools import cache
from threading import BoundedSemaphore

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

SHORTEST, LONGEST = 10, 256
# What people choose themselves. Our choice: NIST SP 800-63B-4 asks for 15 where nothing else is needed, and
# ASVS 5.0 for 8 at least and 15 for good; four words are as good and easier to type.
SHORTEST_CHOSEN, FEWEST_WORDS, SHORTEST_WORD = 12, 4, 3
# zxcvbn's own scale: below 3 is "protection from throttled online attacks" at best.
GUESSABLE = 3
READ_AT_MOST = 72

TOO_SHORT = "Use at least 12 characters, or four different words."
TOO_LONG = "Use at most 256 characters."
TOO_COMMON = "This is easy to guess: a known password, or parts that are tried first. Choose another."

HASHER = PasswordHasher(time_cost=3, memory_cost=64 * 1024, parallelism=1)
# Each takes 64 MB while it lasts: more at once in a worker would be no quicker, and could fill the memory.
_TURNS = BoundedSemaphore(2)


def hash_password(password: str) -> str:
    """The hash to keep for a new password; ValueError when it is too short or too long."""
    if not SHORTEST <= len(password) <= LONGEST:
        raise ValueError(f"a password needs {SHORTEST} to {LONGEST} characters")
    with _TURNS:
        return HASHER.hash(_normal(password))


def why_unfit(password: str, known: Iterable[str] = ()) -> str | None:
    """Why a password is not to be chosen, in a sentence; `known` are words that whoever guesses tries first.

    Length, and the lists of common passwords, words and names that zxcvbn brings. No rule about kinds of
    characters, and no service is asked whether the password was stolen somewhere: there may be no connection.
    """
    password = _normal(password)
    words = {word.casefold() for word in password.split() if len(word) >= SHORTEST_WORD}
    if len(password) > LONGEST:
        return TOO_LONG
    if len(password) < SHORTEST_CHOSEN and len(words) < FEWEST_WORDS:
        return TOO_SHORT
    # Imported here: its lists take 12 MB, and most workers are never asked for a new password.
    from zxcvbn import zxcvbn

    found = zxcvbn(password[:READ_AT_MOST], user_inputs=[*known, "lintel"])
    return TOO_COMMON if found["score"] < GUESSABLE else None


def password_fits(kept: str | None, password: str) -> bool:
    """Whether a password belongs to a kept hash; None (nobody) is checked as slowly as somebody."""
    if len(password) > LONGEST:
        return False
    kept_or_nobodys = kept or _nobody()
    try:
        with _TURNS:
            return HASHER.verify(kept_or_nobodys, _normal(password)) and kept is not None
    except (VerificationError, InvalidHashError):
        return False


def needs_new_hash(kept: str) -> bool:
    """Whether a hash was made with weaker settings than today's."""
    return HASHER.check_needs_rehash(kept)


@cache
def _nobody() -> str:
    with _TURNS:
        return HASHER.hash("the password of nobody at all")


def _normal(password: str) -> str:
    return unicodedata.normalize("NFKC", password)
