"""The rules of handing back broken on purpose: each must be noticed."""

from dataclasses import replace

import msgspec
import pytest

from sync import device, returning
from tests.sync.simulation.broken import around
from tests.sync.simulation.memory import MemoryLog

Patch = pytest.MonkeyPatch


def what_others_recorded_is_not_handed_back(patch: Patch) -> None:
    around(patch, device, "_start_over", lambda original, state: replace(original(state), returning={}))


def what_is_handed_back_is_let_go_before_its_verdict(patch: Patch) -> None:
    def settled(original, state, verdicts):
        asked = {own for receipt in state.receipts for own in receipt.ids}
        state = original(state, verdicts)
        left = {own: one for own, one in state.returning.items() if own not in asked or own in verdicts}
        return state if state.sweep else replace(state, returning=left)

    around(patch, device, "settle_returned", settled)


def an_entry_is_handed_back_with_another_receipt(patch: Patch) -> None:
    def groups(original, entries, receipts, most):
        first = [replace(receipt, text=receipts[0].text) for receipt in receipts]
        return original(entries, first, most)

    around(patch, returning, "_groups", groups)


def the_receipt_of_what_is_handed_back_is_forgotten_with_the_old_log(patch: Patch) -> None:
    around(patch, device, "_start_over", lambda original, state: replace(original(state), receipts=()))


def only_hashes_of_what_is_handed_back_are_sent(patch: Patch) -> None:
    def handing_back(original, state, most):
        groups = original(state, most)
        lacking = {returning.hash_of(entry) for group in groups for entry in group.entries}
        return tuple(
            replace(group, covers=tuple(one for one in group.covers if one in lacking)) for group in groups
        )

    around(patch, returning, "handing_back", handing_back)


def what_is_handed_back_goes_under_who_hands_it_back(patch: Patch) -> None:
    def insert(original, self, seq, candidate):
        entry = {**candidate.entry, "author": self.person}
        return original(self, seq, msgspec.structs.replace(candidate, entry=entry))

    around(patch, MemoryLog, "insert", insert)


def what_is_handed_back_of_a_client_who_left_is_dropped(patch: Patch) -> None:
    around(patch, MemoryLog, "hold", lambda original, self, judged: original(
        self, [one for one in judged if one[1].code != "put_aside"]))  # fmt: skip


BROKEN_RETURNS = {
    rule.__name__.replace("_", " "): rule
    for rule in (
        what_others_recorded_is_not_handed_back,
        what_is_handed_back_is_let_go_before_its_verdict,
        an_entry_is_handed_back_with_another_receipt,
        the_receipt_of_what_is_handed_back_is_forgotten_with_the_old_log,
        only_hashes_of_what_is_handed_back_are_sent,
        what_is_handed_back_goes_under_who_hands_it_back,
        what_is_handed_back_of_a_client_who_left_is_dropped,
    )
}
