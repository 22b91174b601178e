"""The server's side of an exchange, as rules over an abstract log: what is taken in, and what is answered.

A `Log` is one organisation's log inside one writing transaction, its counter locked until the commit. The
service keeps it in SQL (webapp/storage); any store that can do these four things may serve devices.
"""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from sync.judging import Known, judge, judge_returned
from sync.messages import SETTLED, Candidate, Pull, Request, Verdict
from sync.pages import Budget, View, caseload_version, fill_page, main_page, short_forms

NOT_STORED = "The server could not store this entry. It is kept aside there; tell your support."
Judged = tuple[Candidate, Verdict]


class Log(Protocol):
    """The log of one organisation for one sender, locked against every other writer."""

    head: int

    def known(self, candidates: Sequence[Candidate]) -> Known:
        """What the verdicts of a batch depend on."""

    def insert(self, seq: int, candidate: Candidate) -> bool:
        """Store an examined entry under a number; False when it cannot be, and then nothing of it is."""

    def hold(self, judged: Sequence[Judged]) -> None:
        """Keep aside what could not be taken, once; settle what was kept aside and is now taken."""


class Batch:
    """Examined items being appended to a log.

    `proved`: they are handed back; hashes of those of which a receipt says that they once were in the log.
    """

    def __init__(
        self, log: Log, candidates: Sequence[Candidate], proved: Collection[str] | None = None
    ) -> None:
        self.log, self.candidates, self.proved = log, candidates, proved
        self.known, self.head = log.known(candidates), log.head
        self.verdicts: dict[int, Verdict] = {}

    def append(self) -> list[Verdict]:
        """Append what is new, keep aside what cannot be taken; a verdict for each item, in order."""
        waiting = list(range(len(self.candidates)))
        # A correction may stand before its original in the batch: go round until nothing moves any more.
        while waiting:
            still = [index for index in waiting if not self._settle(index)]
            if len(still) == len(waiting):
                break
            waiting = still
        self.log.head = self.head
        verdicts = [self.verdicts[index] for index in range(len(self.candidates))]
        self.log.hold(list(zip(self.candidates, verdicts, strict=True)))
        return verdicts

    def _settle(self, index: int) -> bool:
        """Reach a verdict for one item; False when it still waits for another of the batch."""
        candidate = self.candidates[index]
        verdict = self._judge(candidate) or self._insert(candidate)
        self.verdicts[index] = verdict
        return verdict.verdict != "waiting"

    def _judge(self, candidate: Candidate) -> Verdict | None:
        if self.proved is None:
            return judge(candidate, self.known)
        return judge_returned(candidate, self.known, candidate.hash in self.proved)

    def _insert(self, candidate: Candidate) -> Verdict:
        seq = self.head + 1
        if not self.log.insert(seq, candidate):
            return Verdict(candidate.id, "held", code="not_stored", message=NOT_STORED)
        self.head = seq
        self.known.add(candidate, seq)
        return Verdict(candidate.id, "applied", seq=seq)


def pull_answer(
    view: View,
    request: Request,
    verdicts: Iterable[Verdict] = (),
    revoked: bool = False,
    issue: Callable[[list[str]], str] | None = None,
) -> tuple[str, int, dict[str, Any]]:
    """Epoch, head and page for a request; a device of another epoch is answered from the beginning.

    What the `verdicts` on its push settle a device holds: short forms of it may be left out. A `revoked`
    device is told that its caseload is empty, and nothing else. `issue` makes the receipt for
    the hashes of what is handed out whole.
    """
    head, epoch = view.head_and_epoch()
    pull = request.pull
    if request.epoch != epoch or pull.after > head:
        pull = Pull()
    if revoked:
        return epoch, head, _nothing(pull)
    clients = view.clients()
    read_only = view.read_only()
    version = caseload_version(clients, read_only)
    caseload = {"version": version, "clients": clients, "read_only": read_only}
    budget = Budget()
    # From the beginning everything comes whole: the device lacks it, or starts over.
    device, told = (request.device, _numbers(verdicts)) if pull.after > 0 else (None, frozenset())
    main = main_page(view, pull.after, head, budget, device, told)
    entries, hashes, filled = main.entries, main.hashes, []
    if pull.after > 0:
        entries = entries + short_forms(view, request.device, pull.after, main, told)
    for fill in pull.fill:
        if fill.client in clients:
            page = fill_page(view, fill, head, budget)
            entries, hashes = entries + page.entries, hashes + page.hashes
            filled.append({"client": fill.client, "after": page.after, "more": page.more})
    answer = {"entries": entries, "after": main.after, "more": main.more, "fill": filled}
    if issue and hashes:
        answer["receipt"] = issue(hashes)
    return epoch, head, answer | {"caseload": None if pull.caseload == version else caseload}


def _numbers(verdicts: Iterable[Verdict]) -> frozenset[int]:
    """The numbers of what is stored, by the words of some verdicts."""
    return frozenset(each.seq for each in verdicts if each.verdict in SETTLED and each.seq is not None)


def _nothing(pull: Pull) -> dict[str, Any]:
    caseload = {"version": caseload_version([]), "clients": [], "read_only": []}
    return {"entries": [], "after": pull.after, "more": False, "caseload": caseload, "fill": []}


@dataclass(frozen=True)
class Report:
    """What a device last said about itself: how much it holds unsent, and the number it gave last."""

    unsent: int
    last_device_seq: int


def latest_report(before: Report | None, request: Request) -> Report:
    """What is known of a device after a message; an older message that comes late takes nothing back."""
    if before is not None and before.last_device_seq > request.last_device_seq:
        return before
    return Report(request.unsent, request.last_device_seq)


def of_another(verdicts: Collection[Verdict]) -> bool:
    """Whether a message was sent under another person's session than that of whose record it comes.

    What it says of its device belongs to that other record, and is not noted under this person's name.
    """
    return bool(verdicts) and all(verdict.code == "wrong_author" for verdict in verdicts)
