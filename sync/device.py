"""What a device holds and what an answer does to it: pure, no clock, no network, no disk.

`State` is one value that a store keeps whole; `apply_reply` makes the next one from it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from sync.canonical import canonical, entry_hash
from sync.errors import CanonicalError, SignInNeeded
from sync.messages import MAX_FILLS, MAX_ITEMS, MAX_PUSH_BYTES, SETTLED, Fill, Pull, Request, Verdict
from sync.replies import Reply

Entry = Mapping[str, Any]


@dataclass(frozen=True)
class State:
    """Everything a device knows. `outbox` holds what it recorded and has no `applied` for, in order.

    `person` is the user whose record this is, from their first sign-in on.
    """

    device: str
    person: str | None = None
    device_seq: int = 0
    epoch: str | None = None
    after: int = 0
    caseload: str | None = None
    clients: tuple[str, ...] = ()
    filling: Mapping[str, int] = field(default_factory=dict)
    entries: Mapping[str, Entry] = field(default_factory=dict)
    outbox: Mapping[str, Entry] = field(default_factory=dict)
    verdicts: Mapping[str, Verdict] = field(default_factory=dict)

    @property
    def held(self) -> dict[str, Verdict]:
        """What needs a person's attention, with the reason."""
        return {
            own: verdict for own, verdict in self.verdicts.items() if verdict.verdict in ("held", "clash")
        }


def belonging_to(state: State, person: str) -> State:
    """The state as this person's; SignInNeeded when it is another's, and then nothing has changed."""
    if state.person not in (None, person):
        raise SignInNeeded("someone else is signed in; what is on this device is not theirs")
    return replace(state, person=person)


def save(state: State, draft: Entry) -> State:
    """The state with one more entry recorded; it waits in the outbox until the server has it."""
    entry = {**draft, "device": state.device, "device_seq": state.device_seq + 1}
    canonical(entry)
    return replace(state, device_seq=state.device_seq + 1, outbox={**state.outbox, entry["id"]: entry})


def batch(state: State, most: int = MAX_ITEMS, send_held: bool = False) -> tuple[Entry, ...]:
    """The next items to push: within the limits, what is held only on request."""
    chosen: list[Entry] = []
    size = 0
    for own, entry in state.outbox.items():
        if own in state.held and not send_held:
            continue
        size += len(canonical(dict(entry)).encode())
        if len(chosen) == most or (chosen and size > MAX_PUSH_BYTES):
            break
        chosen.append(entry)
    return tuple(chosen)


def request(state: State, push: tuple[Entry, ...], build: str, name: str) -> Request:
    """The message for a push and for whatever the device lacks."""
    fills = tuple(Fill(client, after) for client, after in list(state.filling.items())[:MAX_FILLS])
    return Request(
        build,
        state.device,
        name,
        state.epoch,
        len(state.outbox),
        state.device_seq,
        push,
        Pull(state.after, state.caseload, fills),
    )


def apply_reply(state: State, push: tuple[Entry, ...], reply: Reply) -> State:
    """The state after an answer: verdicts, page and cursor together, so that a crash loses none of them.

    `state` is what the device holds now: what was saved since the request left is in it, and stays.
    """
    state = belonging_to(state, reply.person)
    if (state.epoch is not None and state.epoch != reply.epoch) or state.after > reply.head:
        state = _start_over(state)
    had_cursor = state.after > 0
    state = _apply_verdicts(state, push, reply)
    state, lacking = _apply_entries(state, reply)
    state = replace(state, epoch=reply.epoch, filling=_filling(state, reply), after=reply.after)
    return _keep_to_caseload(_fill_again(_apply_caseload(state, reply, had_cursor), lacking))


def _start_over(state: State) -> State:
    """The log was restored from a backup: offer what only this device may still have, fetch the rest."""
    own = {name: _bare(entry) for name, entry in state.entries.items() if entry["device"] == state.device}
    return replace(
        state, after=0, entries={}, outbox={**own, **state.outbox}, filling={}, clients=(), caseload=None
    )


def _apply_verdicts(state: State, push: tuple[Entry, ...], reply: Reply) -> State:
    outbox, entries, verdicts = dict(state.outbox), dict(state.entries), dict(state.verdicts)
    for own, verdict in _verdicts_on(push, reply).items():
        if own not in outbox:
            continue
        # Taken out either way: what could not be stored goes behind what was not tried yet.
        entry = outbox.pop(own)
        if verdict.verdict in SETTLED and verdict.seq is not None:
            verdicts.pop(own, None)
            entries[own] = {**entry, "seq": verdict.seq}
        else:
            outbox[own] = entry
            verdicts[own] = replace(verdict, id=own)
    return replace(state, outbox=outbox, entries=entries, verdicts=verdicts)


def _verdicts_on(push: tuple[Entry, ...], reply: Reply) -> dict[str, Verdict]:
    """The first verdict on each item that was sent, by id, or by place where it has none."""
    sent = [entry["id"] for entry in push]
    whole = len(sent) == len(reply.verdicts)
    found: dict[str, Verdict] = {}
    for place, verdict in enumerate(reply.verdicts):
        own = verdict.id or (sent[place] if whole else None)
        if own in sent:
            found.setdefault(str(own), verdict)
    return found


def _apply_entries(state: State, reply: Reply) -> tuple[State, set[str] | None]:
    """The state with a page in it, and the clients it turns out to lack something of (None: any)."""
    entries, outbox, verdicts = dict(state.entries), dict(state.outbox), dict(state.verdicts)
    lacking: set[str] | None = set()
    for item in reply.entries:
        own = item["id"]
        mine, found = outbox.get(own), item
        if "kind" not in item:
            known = mine or entries.get(own)
            if known is None or _hash(known) != item["hash"]:
                lacking = _with(lacking, known)
                continue
            found = {**known, "seq": item["seq"]}
        # The twin of an unsent entry never takes its place: the push is answered "clash".
        if mine is None or _hash(mine) == _hash(found):
            entries[own] = found
            outbox.pop(own, None)
            verdicts.pop(own, None)
    return replace(state, entries=entries, outbox=outbox, verdicts=verdicts), lacking


def _with(lacking: set[str] | None, known: Entry | None) -> set[str] | None:
    return None if lacking is None or known is None else lacking | {known["client"]}


def _hash(entry: Entry) -> str | None:
    try:
        return entry_hash(dict(entry))
    except CanonicalError:
        return None  # without a canonical text it equals none of ours


def _filling(state: State, reply: Reply) -> dict[str, int]:
    filling = dict(state.filling)
    for fill in reply.fill:
        if fill.more:
            filling[fill.client] = fill.after
        else:
            filling.pop(fill.client, None)
    return filling


def _apply_caseload(state: State, reply: Reply, had_cursor: bool) -> State:
    if reply.caseload is None:
        return state
    now = set(reply.caseload.clients)
    fresh = now - set(state.clients) if had_cursor else set()
    filling = {client: after for client, after in state.filling.items() if client in now}
    filling |= {client: 0 for client in sorted(fresh) if client not in filling}
    return replace(state, caseload=reply.caseload.version, clients=reply.caseload.clients, filling=filling)


def _fill_again(state: State, lacking: set[str] | None) -> State:
    """The server confirmed something that is not here: a fill brings it whole, the main stream would not."""
    again = set(state.clients) if lacking is None else lacking & set(state.clients)
    return replace(state, filling={**state.filling, **{client: 0 for client in sorted(again)}})


def _keep_to_caseload(state: State) -> State:
    """What came of clients who left goes, once nothing about them waits here to be sent."""
    waiting = {entry["client"] for own, entry in state.outbox.items() if own not in state.held}
    kept = waiting | set(state.clients)
    return replace(
        state, entries={own: entry for own, entry in state.entries.items() if entry["client"] in kept}
    )


def _bare(entry: Entry) -> Entry:
    return {key: value for key, value in entry.items() if key not in ("seq", "received_at")}
