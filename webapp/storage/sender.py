"""Who pushes."""

from dataclasses import dataclass
from datetime import datetime

from webapp.storage.people import Person


@dataclass(frozen=True)
class Sender:
    """Who sends, from which device, at what moment by the server's clock.

    `admitted`: somebody has what stands aside of the device taken, although it is withdrawn or the client is
    not on this person's caseload. `proved`: it is handed back after a restore; hashes of what is proved.
    """

    person: Person
    device: str
    now: datetime
    admitted: bool = False
    proved: frozenset[str] | None = None
