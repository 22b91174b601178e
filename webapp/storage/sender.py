"""Who pushes."""

from dataclasses import dataclass
from datetime import datetime

from webapp.storage.people import Person


@dataclass(frozen=True)
class Sender:
    """Who sends, from which device, at what moment by the server's clock.

    `admitted`: somebody has what the device handed in taken, although it is withdrawn.
    """

    person: Person
    device: str
    now: datetime
    admitted: bool = False
