"""The device's rules as cases (tests/vectors/sync/device.json); the browser's code runs the same file."""

import json
from datetime import datetime
from typing import Any

import pytest

from sync import device, returning
from sync.canonical import entry_hash
from sync.errors import AnswerError, SignInNeeded
from sync.instants import read_instant
from sync.messages import Request, parse_request, request_json
from sync.replies import parse_reply
from tests.sync.test_vectors import FOLDER, vectors

ME = "0c9d7f36-43a5-4a0e-8a3f-2a4f1d9f7e01"
DEVICE = "3b0b8c52-4b6f-4a77-8c0a-0d6a2f0e9b02"
NOW = "2026-11-25T09:40:12.123Z"
DRAFT = {"kind": "note", "schema": 1, "visit": None, "recorded_at": NOW,
         "utc_offset": 0, "author": ME,
         "amends": None, "voids": None, "reason": None, "body": {"text": "Own."}}  # fmt: skip


class Run:
    """A device that goes through the steps of a case."""

    def __init__(self) -> None:
        self.state = device.State(device=DEVICE, person=ME)
        self.asked: dict[str, Request] = {}

    def step(self, step: dict[str, Any]) -> None:
        for entry in step.get("save", []):
            self.state = device.save(self.state, DRAFT | entry)
        if "ask" in step:
            self.asked[step["ask"]] = self.request()
        if "reply" in step:
            asked = self.asked.get(step.get("to", "")) or self.request()
            self.hear(asked, self.meant(step["reply"]), read_instant(step.get("now", NOW)))

    def request(self) -> Request:
        returned = returning.handing_back(self.state)
        return device.request(self.state, device.batch(self.state), "b", "n", returned)

    def hear(self, asked: Request, answer: Any, now: datetime) -> None:
        try:
            reply = parse_reply(answer, len(asked.push), len(asked.handed_back))
            state = device.apply_reply(self.state, asked, reply, now)
            self.state = device.renamed(state, asked, reply, self.fresh)
        except (AnswerError, SignInNeeded):
            pass

    def fresh(self) -> str:
        return f"{DEVICE[:-2]}{len(self.state.former) + 10}"

    def meant(self, value: Any) -> Any:
        """A value with the words that stand for something put into plain text."""
        if isinstance(value, dict):
            if "$own" in value:
                return {**self.own(value["$own"]), "seq": value["seq"], "received_at": ""}
            return {key: self.meant(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [self.meant(inner) for inner in value]
        if isinstance(value, str) and value.startswith("$hash "):
            return entry_hash(self.own(value.removeprefix("$hash ")))
        return {"$me": ME, "$device": DEVICE}.get(value, value) if isinstance(value, str) else value

    def own(self, own: str) -> dict[str, Any]:
        return dict((self.state.entries | self.state.outbox)[own])

    def holds(self) -> dict[str, Any]:
        state = self.state
        return {
            "outbox": {own: "held" if own in state.held else "waiting" for own in state.outbox},
            "stored": sorted(own for own, entry in state.entries.items() if "seq" in entry),
            "cursor": state.after,
            "epoch": state.epoch,
            "clients": list(state.clients),
            "fill": dict(state.filling),
        } | ({"returning": self.returning()} if state.returning and not state.sweep else {})

    def returning(self) -> dict[str, str]:
        return {own: "aside" if own in self.state.aside else "returning" for own in self.state.returning}

    def handed(self) -> list[dict[str, Any]]:
        """What would be handed back next."""
        return [
            {
                "receipt": group.receipt,
                "covers": len(group.covers),
                "entries": [entry["id"] for entry in group.entries],
            }
            for group in returning.handing_back(self.state)
        ]


@pytest.mark.parametrize("case", vectors("device"))
def test_a_device_holds_what_the_case_says(case):
    run = Run()
    for step in case["steps"]:
        run.step(step)
    assert run.holds() == case["after"]
    push = device.batch(run.state)
    if "numbering" in case:
        found = {"last": run.state.device_seq, "former": len(run.state.former)}
        assert found == case["numbering"] and run.state.device not in run.state.former
    if "handed" in case:
        assert run.handed() == case["handed"]
    if "codes" in case:
        assert {own: verdict.code for own, verdict in run.state.verdicts.items()} == case["codes"]
    if "push" in case:
        assert [entry["id"] for entry in push] == case["push"]
    sent = parse_request(request_json(device.request(run.state, push, "b", "n")))
    assert (sent.pull.after, sent.unsent) == (case["after"]["cursor"], len(case["after"]["outbox"]))
    assert {fill.client: fill.after for fill in sent.pull.fill} == case["after"]["fill"]


def test_the_cases_end_in_different_states():
    cases = json.loads((FOLDER / "device.json").read_text("utf-8"))["cases"]
    assert len({json.dumps(case["after"]) for case in cases}) > 25
