"""What must hold of every answer, and of a phone before and after it heard one."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sync.canonical import entry_hash
from sync.device import State
from sync.messages import SETTLED


@dataclass(frozen=True)
class Looked:
    """An answer, with what was asked, beside the log it came from."""

    service: Any
    person: str
    asked: Mapping[str, Any]
    facts: Mapping[str, Any]
    revoked: bool

    @property
    def organisation(self) -> str:
        return str(self.service.people[self.person].organisation)

    @property
    def stubs(self) -> list[Any]:
        return [one for one in self.facts["pull"]["entries"] if "kind" not in one]

    def acknowledged(self) -> dict[tuple[str, str], str]:
        """What is called stored, with the hash of what was sent: all of it is in the log."""
        returned = [one for group in self.asked.get("returned", ()) for one in group["entries"]]
        both = ((returned, self.facts.get("returned", ())), (self.asked["push"], self.facts["verdicts"]))
        found = {}
        for sent, told in both:
            stored = {one["id"] for one in told if one["verdict"] in SETTLED}
            hashes = {entry["id"]: entry_hash(entry) for entry in sent if entry["id"] in stored}
            found |= {(self.organisation, own): hashes[own] for own in stored}
        if found:
            hashes = {row.entry["id"]: row.hash for row in self.service.rows(self.organisation)}
            assert all(hashes.get(own) == digest for (_, own), digest in found.items()), "not stored"
        return found

    def look(self) -> None:
        """Of this person's caseload, by people of this organisation, out of its log, and nothing left out."""
        items, allowed = self.facts["pull"]["entries"], set(self.service.clients(self.person))
        people = self.service.people.values()
        colleagues = {other.id for other in people if other.organisation == self.organisation}
        assert {one["client"] for one in items if "client" in one} <= allowed
        assert {one["author"] for one in items if "author" in one} <= colleagues
        assert self.facts["epoch"] == self.service.epoch(self.organisation)
        if not self.revoked:
            self.look_at_page(allowed)

    def look_at_page(self, allowed: set[str]) -> None:
        rows = {row.entry["id"]: row for row in self.service.rows(self.organisation)}
        assert all(one["id"] in rows and rows[one["id"]].hash == one["hash"] for one in self.stubs)
        asked, pull = self.asked["pull"], self.facts["pull"]
        known = self.asked["epoch"] == self.facts["epoch"] and asked["after"] <= self.facts["head"]
        begun = asked["after"] if known else 0
        told = {one["id"] for one in pull["entries"]}
        if begun:  # from the beginning it comes whole, whatever the verdicts say
            told |= {one["id"] for one in self.facts["verdicts"] if one["verdict"] in SETTLED}
        assert all(
            own in told
            for own, row in rows.items()
            if begun < row.seq <= pull["after"] and row.entry["client"] in allowed
        ), "left out of a page"


def follow(world: Any, before: State, after: State) -> None:
    """What a phone let go of it may let go of; what it shows is its person's; where it stands it has all."""
    assert "wrong_author" not in {verdict.code for verdict in after.verdicts.values()}
    assert set(after.clients) <= world.service.ever(after.person)
    follow_outbox(world, before, after)
    if before.epoch == after.epoch and before.after <= world.service.head(world.home(after.person)):
        assert after.after >= before.after, "the cursor went back"
    had = {**before.entries, **before.outbox}
    gone = {own for own, entry in had.items() if entry["client"] not in after.clients}
    gone -= {*after.entries, *after.outbox}
    world.released |= {(name, own) for own in gone for name in (before.device, *before.former)}
    world.seen["renamed"] += before.device != after.device
    world.seen["removed"] += bool(gone)
    world.seen["new epoch"] += before.epoch not in (None, after.epoch)


def follow_outbox(world: Any, before: State, after: State) -> None:
    """Only what the log has leaves the outbox; up to the cursor nothing of the caseload is missing."""
    home = world.home(after.person)
    if after.epoch != world.service.epoch(home):
        return  # it has not heard yet that the log is another
    rows = {row.entry["id"]: row for row in world.service.rows(home)}
    for own in set(before.outbox) - set(after.outbox):
        assert own in rows and rows[own].hash == entry_hash(dict(before.outbox[own])), "left the outbox"
    whole = set(after.clients) - set(after.filling)
    assert all(
        own in after.entries or own in after.outbox or own in after.returning  # its twin, perhaps
        for own, row in rows.items()
        if row.seq <= after.after and row.entry["client"] in whole
    ), "behind the cursor"
