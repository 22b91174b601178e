"""What a device keeps to hand back: the server's receipts, and of a restored log what others recorded."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import msgspec

from sync.items import hash_of, is_stub
from sync.messages import MAX_COVERED, MAX_ITEMS, MAX_PUSH_BYTES, SETTLED, VERDICTS, Returned, Verdict
from sync.replies import Reply
from sync.state import Entry, Receipt, State
from sync.strict_json import size_of


def handing_back(state: State, most: int = MAX_ITEMS) -> tuple[Returned, ...]:
    """What others recorded and a restored log, read to its end, has not brought: the next of it to offer."""
    aside = state.aside
    lost = [entry for own, entry in state.returning.items() if own not in aside]
    return _groups(lost, state.receipts, most) if lost and not state.sweep else ()


def _groups(entries: Sequence[Entry], receipts: Sequence[Receipt], most: int) -> tuple[Returned, ...]:
    """The first entries, within the limits of a request, each with the newest receipt that covers it."""
    proofs = {own: receipt for receipt in receipts for own in receipt.ids}
    chosen: dict[Receipt | None, list[Entry]] = {}
    count = size = covered = 0
    for entry in entries:
        proof = proofs.get(entry["id"])
        size += size_of(entry)
        covered += len(proof.hashes) if proof and proof not in chosen else 0
        if count == most or (count and (size > MAX_PUSH_BYTES or covered > MAX_COVERED)):
            break
        chosen.setdefault(proof, []).append(entry)
        count += 1
    return tuple(
        Returned(proof and proof.text, proof.hashes if proof else (), tuple(group))
        for proof, group in chosen.items()
    )


def settle_returned(state: State, verdicts: Mapping[str, Verdict]) -> State:
    """The state after the verdicts on what was handed back; what has none is handed back again."""
    if not verdicts:
        return state
    entries, returning, returned = dict(state.entries), dict(state.returning), dict(state.returned)
    for own, verdict in verdicts.items():
        if own not in returning or verdict.verdict not in VERDICTS:
            continue
        # Taken out either way: what waits for another goes behind what was not tried yet.
        entry = returning.pop(own)
        if verdict.verdict in SETTLED and verdict.seq is not None:
            entries[own] = {**entry, "seq": verdict.seq}
        elif verdict.code != "erased":
            returning[own] = entry
            returned[own] = msgspec.structs.replace(verdict, id=own)
    return _without(replace(state, entries=entries, returned=returned), returning)


def note_page(state: State, reply: Reply) -> State:
    """The state with the receipt of a page; what the page brings need not be handed back."""
    if not reply.receipt and not state.returning:
        return state
    whole = [(item["id"], hash_of(item)) for item in reply.entries if not is_stub(item)]
    brought = dict(whole)
    if reply.receipt and whole and None not in brought.values():
        # The same entry may stand in the stream and in a fill: the receipt covers it twice. Of the twin of
        # what is to be handed back it proves nothing that is held here.
        ids = tuple("" if _is_twin(state, *each) else each[0] for each in whole)
        hashes = tuple(str(digest) for _, digest in whole)
        state = replace(state, receipts=(*state.receipts, Receipt(reply.receipt, ids, hashes)))
    lost = {
        own: entry
        for own, entry in state.returning.items()
        if own not in brought or hash_of(entry) != brought[own]
    }
    return _without(state, lost) if len(lost) < len(state.returning) else state


def _is_twin(state: State, own: str, digest: str | None) -> bool:
    return own in state.returning and hash_of(state.returning[own]) != digest


def let_go(state: State, kept: Collection[str]) -> State:
    """Without what the server keeps aside of clients who are not among those kept."""
    aside = state.aside
    left = {
        own: entry for own, entry in state.returning.items() if own not in aside or entry["client"] in kept
    }
    return _without(state, left)


def forget_receipts(before: State, after: State) -> State:
    """Without the receipts that prove nothing any more; looked at only when something ended or went."""
    ended = (before.sweep and not after.sweep) or (before.filling and not after.filling)
    if not ended and before.entries.keys() <= after.entries.keys():
        return after
    needed, left = [], {*after.entries, *after.returning}
    for receipt in reversed(after.receipts):
        # Of two for the same entry the newer one.
        if not left.isdisjoint(receipt.ids):
            left -= set(receipt.ids)
            needed.append(receipt)
    return replace(after, receipts=tuple(reversed(needed)))


def _without(state: State, returning: Mapping[str, Entry]) -> State:
    returned = {own: verdict for own, verdict in state.returned.items() if own in returning}
    return replace(state, returning=returning, returned=returned)
