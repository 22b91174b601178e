"""What a device holds: one value that a store keeps whole."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sync.messages import Verdict

Entry = Mapping[str, Any]


@dataclass(frozen=True)
class Receipt:
    """What proves that the server once handed out these entries together; `ids` and `hashes` in its order."""

    text: str
    ids: tuple[str, ...]
    hashes: tuple[str, ...]


@dataclass(frozen=True)
class State:
    """Everything a device knows. `outbox` holds what it recorded and has no `applied` for, in order.

    `person` is the user whose record this is, from their first sign-in on. `former` are the ids that the
    device had before it was told that there are two of it. `returning` is what others recorded and a
    restored log has not brought, `returned` what became of handing it back; `sweep` until that log is read.
    """

    device: str
    person: str | None = None
    device_seq: int = 0
    former: tuple[str, ...] = ()
    epoch: str | None = None
    after: int = 0
    caseload: str | None = None
    clients: tuple[str, ...] = ()
    read_only: tuple[str, ...] = ()
    filling: Mapping[str, int] = field(default_factory=dict)
    entries: Mapping[str, Entry] = field(default_factory=dict)
    outbox: Mapping[str, Entry] = field(default_factory=dict)
    verdicts: Mapping[str, Verdict] = field(default_factory=dict)
    sweep: bool = False
    receipts: tuple[Receipt, ...] = ()
    returning: Mapping[str, Entry] = field(default_factory=dict)
    returned: Mapping[str, Verdict] = field(default_factory=dict)

    @property
    def aside(self) -> set[str]:
        """Of what was handed back, what the server keeps aside."""
        return {own for own, verdict in self.returned.items() if verdict.verdict in ("held", "clash")}

    @property
    def held(self) -> dict[str, Verdict]:
        """What needs a person's attention, with the reason."""
        return {
            own: verdict for own, verdict in self.verdicts.items() if verdict.verdict in ("held", "clash")
        }

    @property
    def later(self) -> set[str]:
        """What is offered again later: a newer server will know it, or messages with it were refused."""
        return {own for own, verdict in self.verdicts.items() if verdict.verdict == "later"}
