"""Plain values: the texts, safe integers, lists and objects of messages, as a type that msgspec reads."""

from typing import Annotated, Any

import msgspec

SAFE_INTEGER = 2**53 - 1


def _plain(levels: int) -> Any:
    """The type of a value with so many levels of lists and objects at most."""
    leaf = inner = str | Annotated[int, msgspec.Meta(ge=-SAFE_INTEGER, le=SAFE_INTEGER)] | bool | None
    for _ in range(levels):
        inner = leaf | list[inner] | dict[str, inner]
    return inner


# A row of a reading within a message is eight levels deep. The type doubles with each level more.
Plain = _plain(levels=8)
