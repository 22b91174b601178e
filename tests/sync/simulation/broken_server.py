"""A server's rules broken on purpose: the simulation must notice every one of them."""

from contextlib import contextmanager
from dataclasses import replace

from sync import judging, pages, server
from sync.messages import Verdict
from tests.sync.simulation.broken import around, broken
from tests.sync.simulation.memory import MemoryLog, MemoryView, Row
from tests.sync.simulation.service import Crash, Service


def insert_whatever_comes(_original, self, seq, candidate):
    """An insert that refuses nothing, for rules whose absence the log itself would else catch."""
    self.data.rows.append(Row(seq, str(candidate.hash), candidate.entry, self.now))
    return True


@broken
def a_duplicate_is_appended_again(patch):
    patch.setattr(judging, "_again", lambda _candidate, _stored: None)
    around(patch, MemoryLog, "insert", insert_whatever_comes)


@broken
def a_clash_is_overwritten(patch):
    def again(_original, candidate, stored):
        return Verdict(candidate.id, "duplicate", seq=stored.seq)

    around(patch, judging, "_again", again)


@broken
def a_correction_is_stored_before_what_it_corrects(patch):
    patch.setattr(judging, "_check_target", lambda _candidate, _known: None)
    around(patch, MemoryLog, "insert", insert_whatever_comes)


@broken
def numbers_come_from_outside_the_transaction(patch):
    def insert(original, self, seq, candidate):
        taken = original(self, seq, candidate)
        if taken:
            Service.drawn += 1
            self.data.rows[-1] = replace(self.data.rows[-1], seq=Service.drawn)
        return taken

    patch.setattr(Service, "drawn", 0, raising=False)
    around(patch, MemoryLog, "insert", insert)


@broken
def the_cursor_passes_what_did_not_fit_the_page(patch):
    def page(original, view, after, head, *rest):
        found = original(view, after, head, *rest)
        found.after, found.more = head, False
        return found

    around(patch, pages, "_page", page)


@broken
def everybody_sees_everything(patch):
    def entries(original, self, after, head, limit, client=None):
        everything = [replace(span, person=self.person, until=None) for span in self.data.spans]
        view = MemoryView(replace(self.data, spans=everything), self.person, self.at)
        return original(view, after, head, limit, client)

    around(patch, MemoryView, "entries", entries)


@broken
def work_of_a_caseload_that_ended_is_refused(patch):
    def known(original, self, candidates):
        found, here = original(self, candidates), self.data.clients(self.person, self.now)
        found.writable = {client: found.writable[client] for client in here}
        return found

    around(patch, MemoryLog, "known", known)


@broken
def an_old_epoch_is_answered_from_its_cursor(patch):
    def pull_answer(original, view, request, *rest):
        return original(view, replace(request, epoch=view.head_and_epoch()[1]), *rest)

    around(patch, server, "pull_answer", pull_answer)


@broken
def a_restored_log_keeps_its_epoch(patch):
    patch.setattr(Service, "renew_epoch", lambda _self, _log: None)


@broken
def a_late_message_takes_back_what_a_device_said(patch):
    patch.setattr(server, "latest_report", lambda _before, request: server.Report(
        request.unsent, request.last_device_seq))  # fmt: skip


@broken
def a_withdrawn_device_goes_on_writing(patch):
    around(patch, MemoryLog, "known", lambda original, self, candidates: replace(
        original(self, candidates), revoked=False))  # fmt: skip


@broken
def a_withdrawn_device_is_still_shown_the_record(patch):
    around(patch, server, "pull_answer", lambda original, view, request, told, _, issue: original(
        view, request, told, False, issue))  # fmt: skip


@broken
def what_was_told_is_left_out_from_the_beginning_too(patch):
    def main_page(original, view, after, head, budget, device, told):
        return original(view, after, head, budget, device, numbers.pop() if numbers else told)

    def pull_answer(original, view, request, verdicts, *rest):
        numbers.append(server._numbers(verdicts))
        return original(view, request, verdicts, *rest)

    numbers = []
    around(patch, server, "main_page", main_page)
    around(patch, server, "pull_answer", pull_answer)


@broken
def half_a_transaction_stays(patch):
    @contextmanager
    def transaction(self, organisation):
        yield self.logs[organisation]
        self.step("before the commit")

    patch.setattr(Service, "transaction", transaction)


@broken
def it_answers_before_it_commits(patch):
    @contextmanager
    def transaction(self, organisation):
        data = self.logs[organisation].copy()
        yield data
        try:
            self.step("before the commit")
        except Crash:
            return
        self.logs[organisation] = data

    patch.setattr(Service, "transaction", transaction)


@broken
def an_id_is_taken_when_another_organisation_has_it(patch):
    def take(original, self, person, request):
        others = [log.rows for own, log in self.logs.items() if own != person.organisation]
        patch.setattr(MemoryLog, "others", [row for rows in others for row in rows], raising=False)
        return original(self, person, request)

    def known(original, self, candidates):
        found = original(self, candidates)
        links = {row.entry["id"]: judging.Link(row.seq, row.hash, row.entry["client"], row.entry["kind"])
                 for row in self.others}  # fmt: skip
        found.entries = links | found.entries
        return found

    around(patch, Service, "take", take)
    around(patch, MemoryLog, "known", known)


@broken
def the_epoch_of_any_organisation_counts(patch):
    def pull_answer(original, view, request, *rest):
        known = Service.epochs_of_all
        ours = replace(request, epoch=view.head_and_epoch()[1])
        return original(view, ours if request.epoch in known else request, *rest)

    def answer(original, self, person, request):
        patch.setattr(Service, "epochs_of_all", {log.epoch for log in self.logs.values()}, raising=False)
        return original(self, person, request)

    around(patch, Service, "answer", answer)
    around(patch, server, "pull_answer", pull_answer)


@broken
def a_device_withdrawn_in_one_organisation_is_withdrawn_in_all(patch):
    patch.setattr(Service, "withdrawn", lambda self, _person, device: any(
        device in log.revoked for log in self.logs.values()))  # fmt: skip


@broken
def withdrawing_a_device_withdraws_its_person(patch):
    def withdrawn(self, person, _device):
        log = self.log(person)
        return bool(log.revoked & {name for owner, name in log.reports if owner == person})

    patch.setattr(Service, "withdrawn", withdrawn)


@broken
def another_organisations_entries_are_shown(patch):
    def entries(original, self, *asked):
        found = [*original(self, *asked)]
        for log in MemoryView.others:
            found += original(MemoryView(log, self.person, self.at), *asked)
        return sorted(found, key=lambda row: row.seq)

    def answer(original, self, person, request):
        others = [log for own, log in self.logs.items() if own != person.organisation]
        here = [replace(log, spans=self.log(person.id).spans) for log in others]
        patch.setattr(MemoryView, "others", here, raising=False)
        return original(self, person, request)

    around(patch, Service, "answer", answer)
    around(patch, MemoryView, "entries", entries)
