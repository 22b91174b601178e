"""What an answer does to what a device holds: pure, no clock, no network, no disk.

`State` is one value that a store keeps whole; `apply_reply` makes the next one from it.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import datetime
from operator import itemgetter

import msgspec

from sync.canonical import SAFE_INTEGER, canonical
from sync.caseloads import Caseload, is_solved
from sync.clocks import looked_at_again
from sync.errors import SignInNeeded
from sync.items import bare, hash_of, is_stub, is_whole
from sync.messages import (
    MAX_FILLS,
    MAX_ITEMS,
    MAX_PUSH_BYTES,
    SETTLED,
    VERDICTS,
    Fill,
    Pull,
    Request,
    Returned,
    Verdict,
)
from sync.replies import Reply
from sync.returning import forget_receipts, let_go, note_page, settle_returned
from sync.state import Entry, State
from sync.strict_json import size_of

_CLIENT = itemgetter("client")


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


def kept_back(state: State, told: Verdict) -> State:
    """The state with an unsent entry kept back, for a reason that no verdict gave."""
    return replace(state, verdicts={**state.verdicts, str(told.id): told})


def behind_others(state: State, own: str) -> State:
    """The state with an unsent entry behind those that were not tried yet."""
    others = {each: entry for each, entry in state.outbox.items() if each != own}
    return replace(state, outbox={**others, own: state.outbox[own]})


def batch(
    state: State,
    most: int = MAX_ITEMS,
    send_held: bool = False,
    send_later: bool = False,
    without: Collection[str] = (),
) -> tuple[Entry, ...]:
    """The next items to push: within the limits, what is held or for later only on request."""
    chosen: list[Entry] = []
    size, left_out = 0, set(without) if send_held else {*without, *state.held}
    if not send_later:
        left_out |= state.later
    for own, entry in state.outbox.items():
        if own in left_out:
            continue
        size += size_of(entry)
        if len(chosen) == most or (chosen and size > MAX_PUSH_BYTES):
            break
        chosen.append(entry)
    return tuple(chosen)


def request(
    state: State, push: tuple[Entry, ...], build: str, name: str, returned: tuple[Returned, ...] = ()
) -> Request:
    """The message for a push, for what is handed back, and for whatever the device lacks."""
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
        returned,
    )


def apply_reply(state: State, asked: Request, reply: Reply, now: datetime) -> State:
    """The state after the answer to what was asked: all of it together, so that a crash loses none of it.

    `state` is what the device holds now: what was saved since the request left is in it, and stays. `now` is
    what its clock says.
    """
    state = belonging_to(state, reply.person)
    if state.epoch not in (asked.epoch, reply.epoch):
        return state  # of a log that is no more: its verdicts are worth nothing
    anew = asked.epoch != reply.epoch or asked.pull.after > reply.head
    if anew and state.epoch == asked.epoch:
        state = _start_over(state)
    begun = 0 if anew else asked.pull.after
    before = state = _apply_verdicts(state, asked.push, reply, now)
    state = settle_returned(state, _verdicts_on(asked.handed_back, replace(reply, verdicts=reply.returned)))
    state, lacking = _apply_entries(note_page(state, reply), reply)
    joins = begun <= state.after
    after = max(state.after, reply.after) if joins else state.after
    state = replace(state, epoch=reply.epoch, filling=_filling(state, asked, reply), after=after)
    state = _fill_again(_apply_caseload(state, reply, begun > 0), lacking)
    state = _freed_by_caseload(state, asked)
    read = joins and not reply.more and not state.filling
    state = _keep_to_caseload(replace(state, sweep=state.sweep and not read))
    return forget_receipts(before, state)


def renamed(state: State, asked: Request, reply: Reply, fresh: Callable[[], str]) -> State:
    """The state after an answer, under a `fresh` id if the answer says that there are two of this device.

    What was recorded before stays as it is, under the former id. A late answer to that one changes nothing,
    and while something was never offered the id stays: numbers that begin anew would stand before it.
    """
    if not reply.copied or asked.device != state.device or set(state.outbox) - set(state.verdicts):
        return state
    return replace(state, device=fresh(), device_seq=0, former=(*state.former, state.device))


def _start_over(state: State) -> State:
    """The log was restored from a backup: offer what only devices may still have, fetch the rest.

    What others recorded is offered once the log was read to its end without bringing it.
    """
    own = {state.device, *state.former}
    held = {name: bare(entry) for name, entry in state.entries.items()}
    mine = {name: entry for name, entry in held.items() if entry.get("device") in own}
    others = {name: entry for name, entry in held.items() if name not in mine}
    outbox, returning = {**mine, **state.outbox}, dict(sorted({**others, **state.returning}.items()))
    state = replace(state, outbox=outbox, returning=returning, returned={}, sweep=True)
    return replace(state, after=0, entries={}, filling={}, clients=(), read_only=(), caseload=None)


def _apply_verdicts(state: State, push: tuple[Entry, ...], reply: Reply, now: datetime) -> State:
    outbox, entries, verdicts = dict(state.outbox), dict(state.entries), _still_true(state, reply, now)
    for own, verdict in _verdicts_on(push, reply).items():
        if own not in outbox or verdict.verdict not in VERDICTS:
            continue
        # Taken out either way: what could not be stored goes behind what was not tried yet.
        entry = outbox.pop(own)
        if verdict.verdict in SETTLED and verdict.seq is not None:
            verdicts.pop(own, None)
            entries[own] = {**entry, "seq": verdict.seq}
        else:
            outbox[own] = entry
            verdict = msgspec.structs.replace(verdict, id=own)
            verdicts[own] = _now_meant(verdict, entry, reply, now) or verdict
    return replace(state, outbox=outbox, entries=entries, verdicts=verdicts)


def _still_true(state: State, reply: Reply, now: datetime) -> dict[str, Verdict]:
    """The verdicts so far, but for those whose reason has ended: what they held is sent again."""
    looked_at = {
        own: _now_meant(verdict, state.outbox.get(own), reply, now) for own, verdict in state.verdicts.items()
    }
    return {own: verdict for own, verdict in looked_at.items() if verdict is not None}


def _now_meant(verdict: Verdict, entry: Entry | None, reply: Reply, now: datetime) -> Verdict | None:
    if verdict.code == "device_revoked":
        return verdict if reply.revoked else None
    recorded_at = str(entry.get("recorded_at")) if entry else ""
    return looked_at_again(verdict, recorded_at, reply.server_time, now)


def _verdicts_on(push: Sequence[Entry], reply: Reply) -> dict[str, Verdict]:
    """The first verdict on each item that was sent, by id, or by place where it has none."""
    sent = [entry["id"] for entry in push]
    whole, known = len(sent) == len(reply.verdicts), set(sent)
    found: dict[str, Verdict] = {}
    for place, verdict in enumerate(reply.verdicts):
        own = (sent[place] if whole else None) if verdict.id is None else verdict.id
        if own in known:
            found.setdefault(str(own), verdict)
    return found


def _apply_entries(state: State, reply: Reply) -> tuple[State, set[str] | None]:
    """The state with a page in it, and the clients it turns out to lack something of (None: any)."""
    if not reply.entries:
        return state, set()
    entries, outbox, verdicts = dict(state.entries), dict(state.outbox), dict(state.verdicts)
    lacking: set[str] | None = set()
    for item in reply.entries:
        own = item["id"]
        mine, found = outbox.get(own) or state.returning.get(own), item
        if not (is_stub(item) or is_whole(item)):
            continue  # one faulty item must not stop a page
        if is_stub(item):
            known = mine or entries.get(own)
            if known is None or hash_of(known) != item["hash"]:
                lacking = _with(lacking, known)
                continue
            found = {**known, "seq": item["seq"]}
        # The twin of what is to be sent or handed back never takes its place: that is answered "clash".
        if mine is None or hash_of(mine) == hash_of(found):
            entries[own] = found
            outbox.pop(own, None)
            verdicts.pop(own, None)
    return replace(state, entries=entries, outbox=outbox, verdicts=verdicts), lacking


def _with(lacking: set[str] | None, known: Entry | None) -> set[str] | None:
    return None if lacking is None or known is None else lacking | {known["client"]}


def _filling(state: State, asked: Request, reply: Reply) -> dict[str, int]:
    filling, begun = dict(state.filling), {fill.client: fill.after for fill in asked.pull.fill}
    for client, after, more in ((fill.client, fill.after, fill.more) for fill in reply.fill):
        # A fill that began anew meanwhile lacks what lies before the place that was asked for.
        if client not in filling or begun.get(client, SAFE_INTEGER) > filling[client]:
            continue
        if more:
            filling[client] = max(filling[client], after)
        else:
            filling.pop(client)
    return filling


def _apply_caseload(state: State, reply: Reply, had_cursor: bool) -> State:
    if reply.caseload is None:
        return state
    now = set(reply.caseload.clients)
    fresh = now - set(state.clients) if had_cursor else set()
    filling = {client: after for client, after in state.filling.items() if client in now}
    filling |= {client: 0 for client in sorted(fresh) if client not in filling}
    told = reply.caseload
    state = replace(state, caseload=told.version, clients=told.clients, read_only=told.read_only)
    return replace(state, filling=filling)


def _freed_by_caseload(state: State, asked: Request) -> State:
    """What was held about a client about whom this person may record now is sent again."""
    now = Caseload(state.caseload, state.clients, state.read_only)
    solved = {
        own
        for own, verdict in state.held.items()
        if own in state.outbox and is_solved(verdict, state.outbox[own]["client"], asked.pull.caseload, now)
    }
    return replace(state, verdicts={own: one for own, one in state.verdicts.items() if own not in solved})


def _fill_again(state: State, lacking: set[str] | None) -> State:
    """The server confirmed something that is not here: a fill brings it whole, the main stream would not."""
    again = set(state.clients) if lacking is None else lacking & set(state.clients)
    return replace(state, filling={**state.filling, **{client: 0 for client in sorted(again)}})


def _keep_to_caseload(state: State) -> State:
    """What came of clients who left goes, once nothing about them waits here to be sent."""
    held = state.held
    waiting = {entry["client"] for own, entry in state.outbox.items() if own not in held}
    kept = waiting | set(state.clients)
    state = let_go(state, kept)
    if kept.issuperset(map(_CLIENT, state.entries.values())):
        return state
    return replace(
        state, entries={own: entry for own, entry in state.entries.items() if entry["client"] in kept}
    )
