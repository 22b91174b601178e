"""Items of a page and entries, as a device tells them apart."""

from collections.abc import Mapping
from typing import Any

from sync.canonical import SERVER_KEYS, entry_hash
from sync.errors import CanonicalError

Entry = Mapping[str, Any]


def is_stub(item: Entry) -> bool:
    """Whether an item of a page is an own entry in its short form."""
    return "kind" not in item and _is_text(item.get("hash"))


def is_whole(item: Entry) -> bool:
    """Whether an item of a page can be filed, whatever its kind."""
    return _is_text(item.get("kind")) and _is_text(item.get("client"))


def _is_text(value: Any) -> bool:
    return isinstance(value, str) and value != ""


def hash_of(entry: Entry) -> str | None:
    """The hash of an entry, None when it has none."""
    try:
        return entry_hash(dict(entry))
    except CanonicalError:
        return None  # without a canonical text it equals none of ours


def bare(entry: Entry) -> Entry:
    """An entry without what the server adds."""
    return {key: value for key, value in entry.items() if key not in SERVER_KEYS}
