"""The line between phones and server, and what it does to what travels."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from sync.packing import unpack
from sync.transport import Answer
from tests.sync.simulation.phone import Phone
from tests.sync.simulation.service import JSON, MOST_BYTES, SYNC

REQUEST_FAULTS = ("arrives", "lost", "cut", "twice", "one overlooked", "the server dies", "portal")
REPLY_FAULTS = ("arrives", "lost", "cut", "portal", "busy", "a verdict short", "the power fails")

PORTAL = Answer(200, {"content-type": "text/html"}, b"<h1>Welcome</h1>")


@dataclass(frozen=True)
class Message:
    """Something on the line between a phone and the server."""

    phone: Phone
    flight: int
    data: bytes
    cookie: str | None
    path: str = SYNC
    headers: Mapping[str, str] | None = None

    def request(self) -> Any:
        """What it says, unpacked."""
        packed = (self.headers or {}).get("content-encoding") == "gzip"
        return json.loads(unpack(self.data, MOST_BYTES) if packed else self.data)

    def saying(self, request: Any) -> "Message":
        """The same message with other words."""
        headers = {key: value for key, value in (self.headers or {}).items() if key != "content-encoding"}
        return replace(self, data=json.dumps(request).encode(), headers=headers)


@dataclass(frozen=True)
class Returned:
    """Something on its way back."""

    phone: Phone
    flight: int
    answer: Answer


def damaged(message: Message, fault: str, at: int) -> Message:
    """A request as it comes out of a bad line, or as a faulty server reads it."""
    if fault == "cut":
        return replace(message, data=cut(message.data, at))
    if fault == "one overlooked" and message.path == SYNC:
        request = message.request()
        return message.saying(request | {"push": request["push"][1:]})
    return message


def cut(data: bytes, at: int) -> bytes:
    """The first bytes, how many of them `at` says: any number of all but the last comes about."""
    return data[: at % max(1, len(data))]


def spoilt(answer: Answer, fault: str, at: int) -> Answer | None:
    """An answer as it comes out of a bad line."""
    if fault == "lost":
        return None
    if answer is PORTAL:
        return answer
    if fault == "cut":
        return replace(answer, body=cut(answer.body, at))
    if fault == "portal":
        return PORTAL
    if fault == "busy":
        return Answer(503, {"content-type": "text/html"}, b"busy")
    if fault == "a verdict short" and answer.status == 200 and "verdicts" in answer.json():
        facts = answer.json()
        return Answer(200, JSON, json.dumps(facts | {"verdicts": facts["verdicts"][1:]}).encode())
    return answer


def handed_in(facts: Any, revoked: bool) -> bool:
    """Whether a withdrawn device handed something in; it is shown nothing, nothing new is taken of it."""
    assert (facts["device_state"] == "revoked") == revoked
    codes = [verdict.get("code") for verdict in facts["verdicts"]]
    assert revoked or "device_revoked" not in codes
    if revoked:
        pull = facts["pull"]
        clients = pull["caseload"] and pull["caseload"]["clients"]
        assert (pull["entries"], clients, pull["fill"]) == ([], [], [])
        assert "applied" not in {verdict["verdict"] for verdict in facts["verdicts"]}
    return "device_revoked" in codes
