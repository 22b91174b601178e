"""Reading values of a stated shape out of a message; a MessageError names the field that has another."""

import re
from collections.abc import Mapping
from typing import Any

from sync.canonical import SAFE_INTEGER
from sync.errors import MessageError

UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
HASH = re.compile(r"[0-9a-f]{64}")


def is_uuid(value: Any) -> bool:
    """Whether a value is a UUID in the one form we write: lower case, with hyphens."""
    return isinstance(value, str) and UUID.fullmatch(value) is not None


def is_hash(value: Any) -> bool:
    """Whether a value is a SHA-256 as we write it: lower-case hex."""
    return isinstance(value, str) and HASH.fullmatch(value) is not None


def mapping(value: Any, path: str | None) -> Mapping[str, Any]:
    """The value, if it is an object."""
    if not isinstance(value, Mapping):
        raise MessageError("malformed", "An object was expected here.", path)
    return value


def array(source: Mapping[str, Any], key: str, path: str = "") -> list[Any]:
    """The array under a key."""
    value = source.get(key)
    if not isinstance(value, list):
        raise MessageError("malformed", "A list was expected here.", path + key)
    return value


def count(source: Mapping[str, Any], key: str, path: str = "") -> int:
    """The whole number from 0 under a key."""
    value = source.get(key)
    if type(value) is not int or not 0 <= value <= SAFE_INTEGER:
        raise MessageError("malformed", "A whole number from 0 was expected here.", path + key)
    return value


def text(source: Mapping[str, Any], key: str, longest: int, path: str = "") -> str:
    """The text under a key, not longer than allowed; what cannot be printed is left out of it."""
    value = source.get(key)
    if not isinstance(value, str) or len(value) > longest:
        raise MessageError(
            "malformed", f"A line of text of at most {longest} characters was expected here.", path + key
        )
    return "".join(character for character in value if character.isprintable())


def optional_text(source: Mapping[str, Any], key: str, longest: int, path: str = "") -> str | None:
    """The text under a key, or None when it is null or absent."""
    return None if source.get(key) is None else text(source, key, longest, path)


def uuid(source: Mapping[str, Any], key: str, path: str = "") -> str:
    """The UUID under a key."""
    value = source.get(key)
    if not is_uuid(value):
        raise MessageError("malformed", "A UUID in lower case was expected here.", path + key)
    return str(value)


def truth(source: Mapping[str, Any], key: str, path: str = "") -> bool:
    """The true or false under a key."""
    value = source.get(key)
    if not isinstance(value, bool):
        raise MessageError("malformed", "True or false was expected here.", path + key)
    return value
