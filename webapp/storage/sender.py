"""Who pushes."""

from dataclasses import dataclass
from datetime import datetime

from webapp.storage.people import Person


@dataclass(frozen=True)
class Sender:
    """Who sends, from which device, at what moment by the server's clock."""

    person: Person
    device: str
    now: datetime
