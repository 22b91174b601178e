"""The messages of protocol 1, read strictly. PROTOCOL.md says what they mean."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import msgspec

from sync import shapes
from sync.errors import MessageError
from sync.strict_json import as_received

PROTOCOL = 1
MAX_ITEMS = 500
MAX_PUSH_BYTES = 512 * 1024
MAX_BODY_BYTES = 4 * 1024 * 1024
PAGE_BYTES = 512 * 1024
PAGE_ENTRIES = 1000
MAX_FILLS = 200
MAX_COVERED = 10_000
LONGEST_RECEIPT = 80

ENTRY_KEYS = (
    "id",
    "kind",
    "schema",
    "client",
    "visit",
    "recorded_at",
    "utc_offset",
    "author",
    "device",
    "device_seq",
    "amends",
    "voids",
    "reason",
    "body",
)
SETTLED = frozenset({"applied", "duplicate"})
DEVICE_STATES = ("active", "revoked", "copied")
VERDICTS = ("applied", "duplicate", "clash", "waiting", "held", "later")


@dataclass(frozen=True)
class Fill:
    """A client whose entries a device still lacks, and how far it has come with them."""

    client: str
    after: int
    more: bool = False


@dataclass(frozen=True)
class Pull:
    """What a device asks for: everything after its cursor, plus the clients it is filling."""

    after: int = 0
    caseload: str | None = None
    fill: tuple[Fill, ...] = ()


@dataclass(frozen=True)
class Returned:
    """Entries of others that a device hands back, with the receipt and all the hashes that it covers."""

    receipt: str | None
    covers: tuple[str, ...]
    entries: tuple[Any, ...]


@dataclass(frozen=True)
class Request:
    """One sync request: the entries a device sends and the cursor it stands at."""

    build: str
    device: str
    device_name: str
    epoch: str | None
    unsent: int
    last_device_seq: int
    push: tuple[Any, ...] = ()
    pull: Pull = field(default_factory=Pull)
    returned: tuple[Returned, ...] = ()

    @property
    def handed_back(self) -> list[Any]:
        """The items of `returned`, in the order of their verdicts."""
        return [item for group in self.returned for item in group.entries]


# Of these two there are hundreds in a request: structs are made in a tenth of a dataclass's time.
class Verdict(msgspec.Struct, frozen=True, omit_defaults=True, gc=False):
    """The answer for one pushed item: where it stands, and if not stored, why and what to do.

    As it travels `id` and `verdict` are always there, the rest only when there is something.
    """

    id: str | None
    verdict: str
    seq: int | None = None
    code: str | None = None
    field: str | None = None
    message: str | None = None


class Candidate(msgspec.Struct, frozen=True, gc=False):
    """A pushed item after it was looked at alone: the entry, or why it cannot be one as it stands.

    `about` is the client it names, also when it cannot be an entry.
    """

    item: Any
    id: str | None = None
    hash: str | None = None
    entry: dict[str, Any] | None = None
    refusal: Verdict | None = None
    about: str | None = None

    @property
    def raw(self) -> str:
        """The item as it came: made only where it is asked for, which is where an item stands aside."""
        return as_received(self.item)


def request_json(request: Request) -> dict[str, Any]:
    """A request as it travels; what is handed back is named only when there is something."""
    returned = [
        {"receipt": group.receipt, "covers": list(group.covers), "entries": list(group.entries)}
        for group in request.returned
    ]
    return ({"returned": returned} if returned else {}) | {
        "protocol": PROTOCOL,
        "build": request.build,
        "device": request.device,
        "device_name": request.device_name,
        "epoch": request.epoch,
        "unsent": request.unsent,
        "last_device_seq": request.last_device_seq,
        "push": list(request.push),
        "pull": {
            "after": request.pull.after,
            "caseload": request.pull.caseload,
            "fill": [{"client": fill.client, "after": fill.after} for fill in request.pull.fill],
        },
    }


def parse_request(value: Any) -> Request:
    """The request in a parsed message; MessageError (code `protocol` or `malformed`) when there is none."""
    message = shapes.mapping(value, None)
    check_protocol(message)
    return Request(
        build=shapes.text(message, "build", 80),
        device=shapes.uuid(message, "device"),
        device_name=shapes.text(message, "device_name", 80),
        epoch=shapes.optional_text(message, "epoch", 80),
        unsent=shapes.count(message, "unsent"),
        last_device_seq=shapes.count(message, "last_device_seq"),
        push=tuple(shapes.array(message, "push")),
        pull=_parse_pull(message.get("pull")),
        returned=_parse_returned(message),
    )


def check_protocol(message: Mapping[str, Any]) -> None:
    """Refuse a message of another protocol before looking at anything else in it."""
    spoken = message.get("protocol")
    if type(spoken) is not int:
        raise MessageError("malformed", "The message does not say which protocol it speaks.", "protocol")
    if spoken != PROTOCOL:
        raise MessageError(
            "protocol",
            f"This server speaks sync protocol {PROTOCOL}, the app speaks {spoken}. "
            "Update the older of the two; nothing recorded on this device is lost meanwhile.",
            "protocol",
        )


def _parse_pull(value: Any) -> Pull:
    pull = shapes.mapping(value, "pull")
    fills = shapes.array(pull, "fill", "pull.")
    if len(fills) > MAX_FILLS:
        raise MessageError("malformed", f"At most {MAX_FILLS} clients can be filled at once.", "pull.fill")
    return Pull(
        after=shapes.count(pull, "after", "pull."),
        caseload=shapes.optional_text(pull, "caseload", 80, "pull."),
        fill=tuple(_parse_fill(fill, f"pull.fill.{index}") for index, fill in enumerate(fills)),
    )


def _parse_fill(value: Any, path: str) -> Fill:
    fill = shapes.mapping(value, path)
    return Fill(shapes.uuid(fill, "client", f"{path}."), shapes.count(fill, "after", f"{path}."))


def _parse_returned(message: Mapping[str, Any]) -> tuple[Returned, ...]:
    if message.get("returned") is None:
        return ()
    groups = shapes.array(message, "returned")
    found = tuple(_parse_group(group, f"returned.{index}") for index, group in enumerate(groups))
    if sum(len(group.covers) for group in found) > MAX_COVERED:
        raise MessageError("malformed", f"At most {MAX_COVERED} hashes can be sent at once.", "returned")
    return found


def _parse_group(value: Any, path: str) -> Returned:
    group = shapes.mapping(value, path)
    covers = shapes.array(group, "covers", f"{path}.")
    if not all(map(shapes.is_hash, covers)):
        raise MessageError("malformed", "Hashes in lower-case hex were expected here.", f"{path}.covers")
    receipt = shapes.optional_text(group, "receipt", LONGEST_RECEIPT, f"{path}.")
    return Returned(receipt, tuple(covers), tuple(shapes.array(group, "entries", f"{path}.")))
