"""What a client is found by in an emergency: a name with a date of birth, exactly, as one-way keys.

No name is kept here and none can be listed: whoever asks must bring both. Several spellings of one key
(accents, capitals, hyphens, odd spaces) are the same; anything else is another person.
"""

import hashlib
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

# Letters that no decomposition takes apart, as people type them on another keyboard.
PLAIN = str.maketrans(
    {"ł": "l", "ø": "o", "đ": "d", "ð": "d", "þ": "th", "ß": "ss", "æ": "ae", "œ": "oe", "ı": "i"}
)
FIELDS = ("name", "birth_date")
Entry = Mapping[str, Any]


def client_key(name: str, birth_date: str) -> str:
    """The key of a name and a date of birth (ISO), 64 hex digits."""
    return hashlib.sha256(f"{normal(name)}\n{birth_date}".encode()).hexdigest()


def normal(name: str) -> str:
    """A name as it is compared: no accents, no capitals, no apostrophes, single spaces."""
    letters = unicodedata.normalize("NFKD", name.translate(PLAIN)).casefold().translate(PLAIN)
    kept = "".join(each for each in letters if not unicodedata.combining(each) and each not in "'’ʼ`.")
    return " ".join("".join(each if each.isalnum() else " " for each in kept).split())


def names_of(name: str) -> list[str]:
    """The names that stand for a recorded one: the whole, and every family name it may end in."""
    words = name.split()
    return [" ".join(words[start:]) for start in range(len(words))]


def keys_of(entries: Iterable[Entry]) -> set[str]:
    """The keys of one client, from the entries of kind `details` in the log's order.

    Of a detail that two people changed apart, both values count: nobody is missed for a disagreement.
    """
    every = list(entries)
    recorded, dates = (values_of(every, field) for field in FIELDS)
    names = {each for name in recorded for each in names_of(name) if normal(each)}
    return {client_key(name, born) for name in names for born in dates}


def values_of(entries: list[Entry], field: str) -> set[str]:
    """What stands of a field: what was neither withdrawn, corrected, nor replaced by one who had seen it."""
    links = {entry["id"]: entry["amends"] or entry["voids"] for entry in entries}
    gone = {target for target in links.values() if target}
    live = [entry for entry in entries if entry["id"] not in gone and not entry["voids"]]
    setting = [entry for entry in live if (entry["body"].get("set") or {}).get(field)]
    seen = {
        (_root(known, links), _root(entry["id"], links))
        for entry in setting
        for known in (entry["body"].get("seen") or {}).get(field) or []
    }
    replaced = {target for target, by in seen if target != by}
    return {entry["body"]["set"][field] for entry in setting if _root(entry["id"], links) not in replaced}


def _root(own: str, links: Mapping[str, str | None]) -> str:
    passed: set[str] = set()
    while links.get(own) and own not in passed:
        passed.add(own)
        own = str(links[own])
    return own
