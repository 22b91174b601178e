"""Answers of the server, read by a device: the whole shape, or no answer at all."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import msgspec

from sync import shapes
from sync.caseloads import Caseload
from sync.errors import AnswerError, MessageError
from sync.messages import LONGEST_RECEIPT, PROTOCOL, SETTLED, Fill, Verdict


@dataclass(frozen=True)
class Reply:
    """One answer to one sync request."""

    server_time: str
    person: str
    settings: Mapping[str, Any]
    epoch: str
    head: int
    verdicts: tuple[Verdict, ...]
    entries: tuple[Mapping[str, Any], ...]
    after: int
    more: bool
    caseload: Caseload | None
    fill: tuple[Fill, ...]
    revoked: bool = False
    copied: bool = False
    receipt: str | None = None
    returned: tuple[Verdict, ...] = ()


def parse_reply(value: Any, pushed: int, returned: int = 0) -> Reply:
    """The reply in a parsed body to so many items; AnswerError for anything that is not wholly one."""
    try:
        return _reply(shapes.mapping(value, None), pushed, returned)
    except MessageError as error:
        raise AnswerError(f"not an answer of this protocol: {error.field or 'its shape'}") from error


def _reply(message: Mapping[str, Any], pushed: int, returned: int) -> Reply:
    if message.get("protocol") != PROTOCOL or message["protocol"] is True:
        raise MessageError("protocol", "another protocol", "protocol")
    pull = shapes.mapping(message.get("pull"), "pull")
    return Reply(
        server_time=shapes.text(message, "server_time", 40),
        person=shapes.uuid(message, "person"),
        settings=shapes.mapping(message.get("settings"), "settings"),
        epoch=shapes.uuid(message, "epoch"),
        head=shapes.count(message, "head"),
        verdicts=_verdicts(message, "verdicts", pushed),
        entries=tuple(_entry(item) for item in shapes.array(pull, "entries", "pull.")),
        after=shapes.count(pull, "after", "pull."),
        more=shapes.truth(pull, "more", "pull."),
        caseload=_caseload(pull.get("caseload", False)),
        fill=tuple(_fill(item) for item in shapes.array(pull, "fill", "pull.")),
        revoked=message.get("device_state") == "revoked",
        copied=message.get("device_state") == "copied",
        receipt=shapes.optional_text(pull, "receipt", LONGEST_RECEIPT, "pull."),
        # A server that does not know of handing back says nothing of it.
        returned=_verdicts(message, "returned", returned) if message.get("returned") is not None else (),
    )


def _verdicts(message: Mapping[str, Any], key: str, sent: int) -> tuple[Verdict, ...]:
    verdicts = shapes.array(message, key)
    if len(verdicts) > sent:
        raise MessageError("malformed", "more verdicts than items", key)
    try:
        return tuple(map(_verdict, msgspec.convert(verdicts, list[_Told])))
    except msgspec.ValidationError as error:
        raise MessageError("malformed", "a verdict's words are text", key) from error


class _Told(msgspec.Struct):
    """A verdict as it came: its words are text, however long; whatever else a newer server says."""

    id: str | None = None
    verdict: Any = None
    seq: Any = None
    code: str | None = None
    field: str | None = None
    message: str | None = None


def _verdict(told: _Told) -> Verdict:
    # A word of a newer server settles nothing: the item stays pending, as if it had no verdict.
    word = str(told.verdict)
    seq = shapes.count({"seq": told.seq}, "seq", "verdicts.") if word in SETTLED else None
    return Verdict(told.id, word, seq, told.code, told.field, told.message)


def _entry(value: Any) -> Mapping[str, Any]:
    entry = shapes.mapping(value, "pull.entries")
    shapes.uuid(entry, "id", "pull.entries.")
    shapes.count(entry, "seq", "pull.entries.")
    return entry


def _caseload(value: Any) -> Caseload | None:
    if value is None:
        return None
    caseload = shapes.mapping(value, "pull.caseload")
    version = shapes.text(caseload, "version", 80, "pull.caseload.")
    clients = _clients(caseload, "clients")
    if caseload.get("read_only") is None:
        return Caseload(version, clients)
    return Caseload(version, clients, _clients(caseload, "read_only"))


def _clients(caseload: Mapping[str, Any], key: str) -> tuple[str, ...]:
    clients = shapes.array(caseload, key, "pull.caseload.")
    if not all(map(shapes.is_uuid, clients)):
        raise MessageError("malformed", "a client that is no UUID", f"pull.caseload.{key}")
    return tuple(clients)


def _fill(value: Any) -> Fill:
    fill = shapes.mapping(value, "pull.fill")
    return Fill(
        shapes.uuid(fill, "client", "pull.fill."),
        shapes.count(fill, "after", "pull.fill."),
        shapes.truth(fill, "more", "pull.fill."),
    )
