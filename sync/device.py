"""What a device holds and what an answer does to it: pure, no clock, no network, no disk.

`State` is one value that a store keeps whole; `apply_reply` makes the next one from it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from sync.canonical import canonical, entry_hash
from sync.errors import SignInNeeded
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
    """The state after an answer: verdicts, page and cursor together, so that a crash loses none of them."""
    state = _apply_verdicts(belonging_to(state, reply.person), push, reply)
    if (state.epoch is not None and state.epoch != reply.epoch) or state.after > reply.head:
        state = _start_over(state)
    had_cursor = state.after > 0
    state = _apply_entries(state, reply)
    state = replace(state, epoch=reply.epoch, filling=_filling(state, reply), after=reply.after)
    return _apply_caseload(state, reply, had_cursor)


def _start_over(state: State) -> State:
    """The log was restored from a backup: offer what only this device may still have, fetch the rest."""
    own = {name: _bare(entry) for name, entry in state.entries.items() if entry["device"] == state.device}
    return replace(
        state, after=0, entries={}, outbox={**own, **state.outbox}, filling={}, clients=(), caseload=None
    )


def _apply_verdicts(state: State, push: tuple[Entry, ...], reply: Reply) -> State:
    sent = {entry["id"]: entry for entry in push}
    outbox, entries, verdicts = dict(state.outbox), dict(state.entries), dict(state.verdicts)
    for verdict in reply.verdicts:
        # Only an explicit verdict on something that was sent changes anything.
        entry = sent.get(verdict.id) if verdict.id else None
        if entry is None or verdict.id is None:
            continue
        if verdict.verdict in SETTLED and verdict.seq is not None:
            outbox.pop(verdict.id, None)
            verdicts.pop(verdict.id, None)
            entries[verdict.id] = {**entry, "seq": verdict.seq}
        else:
            verdicts[verdict.id] = verdict
    return replace(state, outbox=outbox, entries=entries, verdicts=verdicts)


def _apply_entries(state: State, reply: Reply) -> State:
    entries, outbox = dict(state.entries), dict(state.outbox)
    for item in reply.entries:
        own = item["id"]
        if "kind" in item:
            entries[own] = item
        elif own in entries and entry_hash(dict(entries[own])) == item["hash"]:
            entries[own] = {**entries[own], "seq": item["seq"]}
        if own in entries:
            outbox.pop(own, None)
    return replace(state, entries=entries, outbox=outbox)


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
    entries = {own: entry for own, entry in state.entries.items() if entry["client"] in now}
    return replace(
        state,
        caseload=reply.caseload.version,
        clients=reply.caseload.clients,
        filling=filling,
        entries=entries,
    )


def _bare(entry: Entry) -> Entry:
    return {key: value for key, value in entry.items() if key not in ("seq", "received_at")}
