"""The server's rules as cases (tests/vectors/sync/server.json), in memory and in the application."""

import json
from datetime import timedelta
from functools import partial
from typing import Any

import pytest
from argon2 import PasswordHasher

from sync.canonical import entry_hash
from sync.instants import write_instant
from sync.items import bare
from tests.databases import migrated_file
from tests.sync.simulation.service import SYNC, Service
from tests.sync.simulation.sql import SqlService
from tests.sync.simulation.world import ORGANISATION, World
from tests.sync.test_vectors import vectors
from webapp.storage import passwords

DEVICES = {name: f"00000000-0000-4000-8000-0000000000d{number}" for number, name in
           enumerate(("phone", "tablet", "other"))}  # fmt: skip


@pytest.fixture(params=["memory", "application"])
def world(request, tmp_path, monkeypatch):
    """Ann with clients one and two, Ben with two and three; pages of four entries."""
    monkeypatch.setattr(passwords, "HASHER", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    if request.param == "memory":
        yield World(Service)
        return
    made = World(partial(SqlService, migrated_file(tmp_path)))
    yield made
    made.service.database.dispose()


class Case:
    """A server that goes through the steps of a case."""

    def __init__(self, world: World) -> None:
        self.world, self.service = world, world.service
        people = {"ann": world.ann, "ben": world.ben}
        names = dict(zip(("$one", "$two", "$three"), world.clients, strict=False))
        self.words = names | {f"${name}": own for name, own in people.items()} | people | DEVICES
        self.first_epoch, self.version = self.service.epoch(ORGANISATION), None
        self.kept: dict[str, dict[str, Any]] = {}
        world.pass_time(3600 * 24)

    def step(self, step: dict[str, Any]) -> None:
        if "expect" in step:
            self.ask(step)
        for act in ("assign", "end"):
            if act in step:
                getattr(self.service, act)(*(self.words[word] for word in step[act]))
        if "back_up" in step:
            self.service.back_up()
        if "restore" in step:
            self.service.restore(-1)
        for act in ("revoke", "allow"):
            if act in step:
                self.service.set_revoked(self.world.ann, self.words[step[act]], act == "revoke")

    def ask(self, step: dict[str, Any]) -> None:
        person = self.words[step["person"]]
        data = json.dumps(self.message(step, person)).encode()
        answer = self.service.handle(data, self.service.sign_in(person), SYNC, {})
        assert answer.status == 200
        reply = answer.json()
        found = told(reply) | {"new_epoch": reply["epoch"] != self.first_epoch}
        wanted = self.meant(step["expect"])
        if wanted.get("clients"):
            wanted["clients"] = sorted(wanted["clients"])
        assert {name: found[name] for name in wanted} == wanted
        if "keep" in step:
            self.kept[step["keep"]] = reply["pull"]
        self.version = (reply["pull"]["caseload"] or {}).get("version", self.version)

    def message(self, step: dict[str, Any], person: str) -> dict[str, Any]:
        device = self.words[step["device"]]
        returned = [self.group(group) for group in step.get("returned", ())]
        return ({"returned": returned} if returned else {}) | {
            "protocol": 1, "build": "case", "device": device, "device_name": step["device"],
            "epoch": self.epoch(step["epoch"]),
            "unsent": len(step["push"]), "last_device_seq": 9,
            "push": [self.item(item, person, device) for item in step["push"]],
            "pull": {"after": step["after"], "fill": self.meant(step["fill"]),
                     "caseload": self.version if step["caseload"] else None},
        }  # fmt: skip

    def group(self, group: dict[str, Any]) -> dict[str, Any]:
        page = self.kept.get(group["receipt"] or "", {"receipt": group["receipt"]})
        entries = [self.told(item) for item in group["entries"]]
        covers = [entry_hash(one) for one in page.get("entries", ()) if "kind" in one]
        covers = [own for place, own in enumerate(covers) if place != group.get("without")]
        if group.get("turned"):
            covers.reverse()
        if group.get("as_sent"):
            covers = [entry_hash(entry) for entry in entries]
        return {"receipt": page["receipt"], "covers": covers, "entries": entries}

    def told(self, item: Any) -> dict[str, Any]:
        """An entry as some answer told it whole, with what the case changes in it."""
        changed = item if isinstance(item, dict) else {"id": item}
        pages = [one for page in self.kept.values() for one in page["entries"] if "kind" in one]
        entry = bare(next(one for one in pages if one["id"] == changed["id"]))
        changed = changed | {"id": changed.get("as", changed["id"])}
        return {**entry, **{key: value for key, value in changed.items() if key != "as"}}

    def epoch(self, word: str) -> str:
        return {"$epoch": self.service.epoch(ORGANISATION), "$first_epoch": self.first_epoch}.get(word, word)

    def item(self, item: Any, person: str, device: str) -> Any:
        if not isinstance(item, dict):
            return item
        given = self.meant(item)
        minutes, words = given.pop("recorded", -1), given.pop("text", "Rang twice.")
        made = {"kind": "note", "schema": 1, "visit": None, "utc_offset": 0, "author": person,
                "device": device, "amends": None, "voids": None, "reason": None, "body": {"text": words},
                "recorded_at": write_instant(self.world.now + timedelta(minutes=minutes))}  # fmt: skip
        return made | given

    def meant(self, value: Any) -> Any:
        if isinstance(value, dict):
            return {key: self.meant(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [self.meant(inner) for inner in value]
        return self.words.get(value, value) if isinstance(value, str) and value.startswith("$") else value


def told(reply: dict[str, Any]) -> dict[str, Any]:
    """An answer in the words of the cases."""
    pull, verdicts = reply["pull"], reply["verdicts"]
    return {
        "verdicts": [[one["verdict"], one.get("seq"), one.get("code")] for one in verdicts],
        "ids": [one["id"] for one in verdicts],
        "entries": [
            [one["id"], one["seq"], "whole" if "kind" in one else "short"] for one in pull["entries"]
        ],
        "after": pull["after"],
        "more": pull["more"],
        "clients": pull["caseload"] and sorted(pull["caseload"]["clients"]),
        "fill": [[one["client"], one["after"], one["more"]] for one in pull["fill"]],
        "state": reply["device_state"],
        "receipt": "receipt" in pull,
        "returned": [
            [one["verdict"], one.get("seq"), one.get("code")] for one in reply.get("returned", ())
        ],
    }


@pytest.mark.parametrize("case", vectors("server"))
def test_a_server_answers_what_the_case_says(world, case):
    run = Case(world)
    for step in case["steps"]:
        run.step(step)
