"""Erasing a client's record: what goes, what is left of it, and who is due."""

from webapp.storage.erasing.due import Due, due_clients, set_hold, set_retention
from webapp.storage.erasing.erase import GROUNDS, NotErased, erase_client
from webapp.storage.erasing.tombstones import lines_of, read_lines, reapply

__all__ = [
    "GROUNDS",
    "Due",
    "NotErased",
    "due_clients",
    "erase_client",
    "lines_of",
    "read_lines",
    "reapply",
    "set_hold",
    "set_retention",
]
