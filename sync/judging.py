"""The verdict on one pushed item, given what the log already holds: pure, once `Known` is filled."""

from dataclasses import dataclass, field
from datetime import datetime

import msgspec

from sync.instants import read_instant
from sync.messages import Candidate, Verdict

DEVICE_REVOKED = (
    "Your service has withdrawn this device. The entry stays here and a copy of it is kept aside on the "
    "server: ask whoever manages your devices."
)


NOT_FOUND = (
    "This client is not on your caseload. Ask whoever manages your caseload. Once the client is on it, this "
    "goes by itself; if it does not, send it again."
)
READ_ONLY = (
    "You may read about this client but not record: that needs the client on your own caseload. "
    "Ask whoever manages caseloads. Once the client is on yours, this goes by itself; if it does not, send "
    "it again."
)
ERASED = (
    "Your service has erased this client's record. This is not taken, and no copy of it is kept on the "
    "server: withdraw it here."
)

PUT_ASIDE = (
    "This entry of somebody else was handed back after the service's record was restored. It is kept aside "
    "on the server: its client is not on your caseload there, or whoever recorded it has no account there. "
    "Tell whoever leads your team."
)
UNPROVED = (
    "This entry of somebody else was handed back after the service's record was restored, and the server "
    "cannot tell that it is as it was recorded. It is kept aside there: tell whoever leads your team."
)


class Link(msgspec.Struct, frozen=True, gc=False):
    """What must be known of an entry that another one corrects."""

    seq: int
    hash: str
    client: str
    kind: str


@dataclass
class Known:
    """What the log holds of the ids that a batch names, what its sender may write, and what only read.

    From a `revoked` device nothing new is taken; what it brings is kept aside. `erased` are ids of clients
    and of entries whose record the service has erased: nothing about them is taken, and nothing kept.
    `people` have an account; it is asked for of what is handed back.
    """

    entries: dict[str, Link] = field(default_factory=dict)
    held: set[str] = field(default_factory=set)
    writable: dict[str, datetime] = field(default_factory=dict)
    readable: set[str] = field(default_factory=set)
    revoked: bool = False
    erased: set[str] = field(default_factory=set)
    people: set[str] = field(default_factory=set)

    def add(self, candidate: Candidate, seq: int | None) -> None:
        """Remember an entry that was just appended."""
        if candidate.entry and candidate.id and candidate.hash and seq:
            entry = candidate.entry
            self.entries[candidate.id] = Link(seq, candidate.hash, entry["client"], entry["kind"])


def judge(candidate: Candidate, known: Known) -> Verdict | None:
    """The verdict on an item, or None when it is new and may be appended."""
    stored = known.entries.get(candidate.id) if candidate.id else None
    if stored is not None:
        return _again(candidate, stored)
    if _erased(candidate, known):
        return Verdict(candidate.id, "held", code="erased", field="client", message=ERASED)
    if known.revoked:
        return Verdict(candidate.id, "held", code="device_revoked", message=DEVICE_REVOKED)
    if candidate.refusal is not None or candidate.entry is None:
        return candidate.refusal
    if not _may_write(candidate, known):
        return _not_writable(candidate, candidate.entry["client"] in known.readable)
    return _check_target(candidate, known)


def judge_returned(candidate: Candidate, known: Known, proved: bool) -> Verdict | None:
    """The verdict on an entry that is handed back to a restored log, or None when it may be appended.

    What is proved was judged when it came first: whoever may see its client may hand it back, unchanged and
    under its author. Without proof it is judged like any push, and what others recorded needs a decision.
    """
    if candidate.id in known.entries or _erased(candidate, known):
        return judge(candidate, known)
    if not proved or candidate.entry is None:
        if candidate.refusal is None or candidate.refusal.code != "wrong_author":
            return judge(candidate, known)
        return Verdict(candidate.id, "held", code="unproved", message=UNPROVED)
    entry = candidate.entry
    if known.revoked or entry["client"] not in known.readable or entry["author"] not in known.people:
        return Verdict(candidate.id, "held", code="put_aside", field="client", message=PUT_ASIDE)
    return _check_target(candidate, known)


def _erased(candidate: Candidate, known: Known) -> bool:
    return candidate.id in known.erased or candidate.about in known.erased


def _again(candidate: Candidate, stored: Link) -> Verdict:
    if candidate.hash == stored.hash:
        return Verdict(candidate.id, "duplicate", seq=stored.seq)
    return Verdict(
        candidate.id,
        "clash",
        code="clash",
        field="id",
        message="Another entry with this number is already stored. Both are kept; "
        "record this one again as a new entry.",
    )


def _not_writable(candidate: Candidate, readable: bool) -> Verdict:
    if readable:
        return Verdict(candidate.id, "held", code="read_only", field="client", message=READ_ONLY)
    return Verdict(candidate.id, "held", code="not_found", field="client", message=NOT_FOUND)


def _may_write(candidate: Candidate, known: Known) -> bool:
    assert candidate.entry is not None
    limit = known.writable.get(candidate.entry["client"])
    return limit is not None and read_instant(candidate.entry["recorded_at"]) <= limit


def _check_target(candidate: Candidate, known: Known) -> Verdict | None:
    assert candidate.entry is not None
    entry = candidate.entry
    link = "amends" if entry["amends"] else "voids"
    target = entry[link]
    if target is None:
        return None
    found = known.entries.get(target)
    if found is None:
        return _waiting(candidate, link, target in known.held)
    if (found.client, found.kind) != (entry["client"], entry["kind"]):
        return Verdict(
            candidate.id,
            "held",
            code="wrong_target",
            field=link,
            message="This corrects an entry of another client or of another kind. "
            "Open the entry that is wrong and correct it there.",
        )
    return None


def _waiting(candidate: Candidate, link: str, target_held: bool) -> Verdict:
    if target_held:
        return Verdict(
            candidate.id,
            "waiting",
            code="target_held",
            field=link,
            message="The entry this one corrects needs attention first.",
        )
    return Verdict(
        candidate.id,
        "waiting",
        code="target_missing",
        field=link,
        message="The entry this one corrects has not arrived yet; this one is sent again after it.",
    )
