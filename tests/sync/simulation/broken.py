"""A device's rules broken on purpose, as a person in a hurry might: the simulation must notice each."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from sync import device
from sync.canonical import entry_hash
from sync.caseloads import is_solved
from sync.instants import write_instant
from sync.messages import SETTLED, Verdict
from tests.sync.simulation.phone import Flash, Phone, PowerCut, Saved

Patch = pytest.MonkeyPatch
BROKEN: dict[str, Callable[[Patch], None]] = {}


def broken(rule: Callable[[Patch], None]) -> Callable[[Patch], None]:
    """Name a broken rule after its function."""
    BROKEN[rule.__name__.replace("_", " ")] = rule
    return rule


def around(patch: Patch, owner: Any, name: str, change: Callable[..., Any]) -> None:
    """Replace a function by one that is given the original and its arguments."""
    original = getattr(owner, name)
    patch.setattr(owner, name, lambda *given, **named: change(original, *given, **named))


@broken
def the_cursor_moves_before_the_entries_are_kept(patch):
    def file(original, self, store, flight, reply):
        if reply.epoch == store.get().epoch:
            store.put(replace(store.get(), after=reply.after))
        original(self, store, flight, reply)

    around(patch, Phone, "file", file)


@broken
def the_verdicts_are_kept_before_the_page(patch):
    def file(original, self, store, flight, reply):
        settled = {one.id for one in reply.verdicts if one.verdict in SETTLED}
        state = store.get()
        store.put(replace(state, outbox={k: v for k, v in state.outbox.items() if k not in settled}))
        original(self, store, flight, reply)

    around(patch, Phone, "file", file)


@broken
def an_item_without_a_verdict_counts_as_sent(patch):
    def verdicts_on(original, push, reply):
        silent = {entry["id"]: Verdict(entry["id"], "applied", seq=reply.head) for entry in push}
        return silent | original(push, reply)

    around(patch, device, "_verdicts_on", verdicts_on)


@broken
def a_verdict_is_taken_by_its_place(patch):
    def verdicts_on(_original, push, reply):
        return {entry["id"]: one for entry, one in zip(push, reply.verdicts, strict=False)}

    around(patch, device, "_verdicts_on", verdicts_on)


@broken
def every_verdict_counts_as_sent(patch):
    def apply_verdicts(original, state, push, reply, now):
        done = {one.id for one in reply.verdicts}
        state = original(state, push, reply, now)
        return replace(state, outbox={own: one for own, one in state.outbox.items() if own not in done})

    around(patch, device, "_apply_verdicts", apply_verdicts)


@broken
def a_401_drops_the_queue(patch):
    def signed_out(self, flight):
        store = self.store(flight.person)
        store.put(replace(store.get(), outbox={}))

    patch.setattr(Phone, "signed_out", signed_out)


@broken
def a_portal_counts_as_an_answer(patch):
    def hear(original, self, number, answer):
        flight = self.flight(number)
        if answer and answer.status == 200 and answer.headers["content-type"] == "text/html":
            sent = {entry["id"] for entry in flight.asked.push}
            store = self.store(flight.person)
            kept = {own: one for own, one in store.get().outbox.items() if own not in sent}
            store.put(replace(store.get(), outbox=kept))
        return original(self, number, answer)

    around(patch, Phone, "hear", hear)


@broken
def an_answer_is_applied_to_what_was_there_when_it_was_asked(patch):
    def ask(original, self, *given):
        vars(self).setdefault("asked", {})[self.sent + 1] = self.state
        return original(self, *given)

    def file(self, store, flight, reply):
        store.put(device.apply_reply(self.asked[flight.number], flight.asked, reply, self.now() + self.skew))

    around(patch, Phone, "ask", ask)
    patch.setattr(Phone, "file", file)


@broken
def the_counter_is_taken_outside_the_transaction(patch):
    def record(original, self, draft, own):
        state = self.state
        self.store().put(replace(state, device_seq=state.device_seq + 1))
        self.store().step("between the two")
        self.store().state = replace(self.state, device_seq=state.device_seq)
        return original(self, draft, own)

    around(patch, Phone, "record", record)


@broken
def the_counter_is_not_kept(patch):
    around(patch, device, "save", lambda original, state, draft: replace(
        original(state, draft), device_seq=state.device_seq + (len(state.outbox) % 3 > 0)))  # fmt: skip


@broken
def the_fill_is_forgotten(patch):
    around(patch, device, "_apply_caseload", lambda original, state, reply, _: original(state, reply, False))


@broken
def a_fill_ends_with_its_first_page(patch):
    def filling(original, state, asked, reply):
        return original(
            state, asked, replace(reply, fill=tuple(replace(one, more=False) for one in reply.fill))
        )

    around(patch, device, "_filling", filling)


@broken
def a_client_who_left_stays_on_the_phone(patch):
    patch.setattr(device, "_keep_to_caseload", lambda state: state)


@broken
def unsent_entries_go_with_the_client(patch):
    def keep(original, state):
        own = {name: one for name, one in state.outbox.items() if one["client"] in state.clients}
        return original(replace(state, outbox=own))

    around(patch, device, "_keep_to_caseload", keep)


@broken
def a_new_epoch_is_ignored(patch):
    patch.setattr(device, "_start_over", lambda state: state)


@broken
def a_new_epoch_offers_nothing_again(patch):
    around(patch, device, "_start_over", lambda original, state: replace(
        original(state), outbox=state.outbox))  # fmt: skip


@broken
def a_page_replaces_an_unsent_twin(patch):
    patch.setattr(device, "hash_of", lambda entry: entry["id"])


@broken
def what_the_server_confirms_and_the_phone_lacks_is_not_fetched(patch):
    patch.setattr(device, "_fill_again", lambda state, _lacking: state)


@broken
def what_waits_stands_in_the_way(patch):
    def apply_verdicts(original, state, push, reply, now):
        order = list(state.outbox)
        state = original(state, push, reply, now)
        return replace(state, outbox={own: state.outbox[own] for own in order if own in state.outbox})

    around(patch, device, "_apply_verdicts", apply_verdicts)


@broken
def an_answer_for_somebody_else_is_believed(patch):
    patch.setattr(device, "belonging_to", lambda state, _person: state)


@broken
def a_wiped_phone_keeps_its_old_name(patch):
    def wipe(original, self):
        gone = self.state.device
        original(self)
        self.store().put(replace(self.state, device=gone))
        return set()

    around(patch, Phone, "wipe", wipe)


@broken
def what_a_withdrawn_device_had_to_hold_stays_held(patch):
    patch.setattr(device, "_still_true", lambda state, _reply, _now: dict(state.verdicts))


@broken
def what_a_caseload_has_solved_stays_held(patch):
    patch.setattr(device, "_freed_by_caseload", lambda state, _asked: state)


@broken
def a_caseload_told_by_an_earlier_answer_solves_nothing(patch):
    def apply_reply(original, state, asked, reply, now):
        told = reply.caseload.version if reply.caseload else asked.pull.caseload
        patch.setattr(device, "is_solved", lambda *given: given[-1].version == told and is_solved(*given))
        return original(state, asked, reply, now)

    around(patch, device, "apply_reply", apply_reply)


@broken
def what_is_sent_leaves_the_outbox(patch):
    def ask(original, self, most, send_held, window=0):
        original(self, most, send_held, window)
        sent = {entry["id"] for entry in self.flights[window].asked.push}
        kept = {own: one for own, one in self.state.outbox.items() if own not in sent}
        self.store().put(replace(self.state, outbox=kept))

    around(patch, Phone, "ask", ask)


@broken
def it_is_called_saved_before_it_is_kept(patch):
    def record(original, self, draft, own):
        try:
            return original(self, draft, own)
        except PowerCut:
            entry = {"amends": None, "voids": None, **draft, "id": own, "device": self.state.device}
            entry |= {"device_seq": self.state.device_seq + 1, "recorded_at": write_instant(self.now())}
            return Saved(entry, entry_hash(entry), self.person, self.skew)

    around(patch, Phone, "record", record)


@broken
def a_store_is_written_over_in_place(patch):
    def put(_original, self, state):
        self.state = replace(self.state, device_seq=state.device_seq, after=state.after)
        self.step("while the store writes")
        self.state = state

    around(patch, Flash, "put", put)


@broken
def a_late_answer_moves_the_cursor(patch):
    def apply_reply(original, state, asked, reply, now):
        after = original(state, asked, reply, now)
        return replace(after, after=reply.after) if after.epoch == reply.epoch else after

    around(patch, device, "apply_reply", apply_reply)


@broken
def an_answer_out_of_a_former_life_is_believed(patch):
    def apply_reply(original, state, asked, reply, now):
        former = state.epoch not in (asked.epoch, reply.epoch)
        return original(replace(state, epoch=reply.epoch) if former else state, asked, reply, now)

    around(patch, device, "apply_reply", apply_reply)


@broken
def a_late_page_ends_a_fill_that_began_anew(patch):
    def filling(original, state, asked, reply):
        begun = tuple(replace(one, after=0) for one in asked.pull.fill)
        return original(state, replace(asked, pull=replace(asked.pull, fill=begun)), reply)

    around(patch, device, "_filling", filling)
