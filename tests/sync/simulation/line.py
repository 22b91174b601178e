"""The line between phones and server, and what it does to what travels."""

import json
from dataclasses import dataclass, replace
from typing import Any

from sync.transport import Answer
from tests.sync.simulation.phone import Phone
from tests.sync.simulation.service import JSON, STEPS

REQUEST_FAULTS = ("arrives", "lost", "cut", "twice", "one overlooked", *STEPS)
REPLY_FAULTS = (
    "arrives", "lost", "cut", "portal", "busy", "a verdict short", "before the store", "after the store",
)  # fmt: skip


@dataclass(frozen=True)
class Message:
    """Something on the line between a phone and the server."""

    phone: Phone
    flight: int
    data: bytes
    cookie: str | None


@dataclass(frozen=True)
class Returned:
    """Something on its way back."""

    phone: Phone
    flight: int
    answer: Answer


def damaged(data: bytes, fault: str, at: int) -> bytes:
    """A request as it comes out of a bad line, or as a faulty server reads it."""
    if fault == "cut":
        return data[: at % len(data)]
    if fault == "one overlooked":
        message = json.loads(data)
        return json.dumps(message | {"push": message["push"][1:]}).encode()
    return data


def meant_for(answer: Answer) -> str | None:
    return answer.json()["person"] if answer.status == 200 else None


def spoilt(answer: Answer, fault: str, at: int) -> Answer | None:
    """An answer as it comes out of a bad line."""
    if fault == "lost":
        return None
    if fault == "cut":
        return replace(answer, body=answer.body[: at % len(answer.body)])
    if fault == "portal":
        return Answer(200, {"content-type": "text/html"}, b"<h1>Welcome</h1>")
    if fault == "busy":
        return Answer(503, {"content-type": "text/html"}, b"busy")
    if fault == "a verdict short" and answer.status == 200:
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
        assert (pull["entries"], pull["caseload"]["clients"], pull["fill"]) == ([], [], [])
        assert "applied" not in {verdict["verdict"] for verdict in facts["verdicts"]}
    return "device_revoked" in codes
