"""Moments as they travel: UTC with milliseconds and a Z, always 24 characters."""

import re
from datetime import UTC, datetime, timedelta
from functools import lru_cache

# A clock up to a day ahead is accepted (time zones, a phone set wrong); beyond, the record is held.
LONGEST_AHEAD = timedelta(hours=24)

_FORM = re.compile(r"\d{4}-\d{2}-\d{2}T(?!24)\d{2}:\d{2}:\d{2}\.\d{3}Z", re.ASCII)


# Of each entry of a push it is asked three times.
@lru_cache(maxsize=1024)
def read_instant(text: str) -> datetime:
    """The moment in a text such as 2026-11-25T09:40:12.123Z; ValueError for any other form."""
    if not _FORM.fullmatch(text):
        raise ValueError("not a moment in UTC with milliseconds")
    return datetime.fromisoformat(text)


# What came in together has one moment.
@lru_cache(maxsize=256)
def write_instant(moment: datetime) -> str:
    """The text of a moment, cut (not rounded) to milliseconds."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").removesuffix("+00:00") + "Z"
