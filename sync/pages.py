"""Pages of the log after a cursor: how much travels at once, and where a page may end."""

import hashlib
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field
from typing import Any, Protocol

import msgspec

from sync.canonical import canonical
from sync.messages import PAGE_BYTES, PAGE_ENTRIES, Fill

# How many entries a page may run over so as not to cut a visit in two; our choice.
VISIT_REST = 50


class Stored(msgspec.Struct, frozen=True, gc=False):
    """An entry in the log, as far as a page must know it; `whole` makes it as it travels."""

    id: str
    seq: int
    hash: str
    device: str
    visit: str | None
    size: int
    whole: Callable[[], dict[str, Any]]


class View(Protocol):
    """What one person may read at one moment: the clients on the caseload then, and nothing else."""

    def head_and_epoch(self) -> tuple[int, str]:
        """The newest number of the log, and the log's epoch.

        Read it before a page: whatever commits in between then lies behind the cursor's end, never before it.
        """

    def clients(self) -> list[str]:
        """The ids of the clients on the caseload, sorted."""

    def read_only(self) -> list[str]:
        """Those of the clients about whom the person may not write, sorted."""

    def entries(self, after: int, head: int, limit: int, client: str | None = None) -> Iterable[Stored]:
        """The first entries numbered above `after` and up to `head`, of all clients or of one.

        A page is often full before the limit: entries made while they are asked for cost less.
        """

    def taken_elsewhere(self, device: str, after: int, upto: int) -> Iterable[Stored]:
        """The person's own entries with such numbers, from this device, that were held when it sent them.

        They came from somewhere else since. They may be about clients who are not on the caseload.
        """


@dataclass
class Budget:
    """How much of a page is left, in bytes and in entries."""

    bytes: int = PAGE_BYTES
    entries: int = PAGE_ENTRIES

    def spend(self, size: int) -> None:
        """Take one entry of some size out of the page."""
        self.bytes -= size
        self.entries -= 1

    @property
    def left(self) -> bool:
        """Whether anything more fits."""
        return self.bytes > 0 and self.entries > 0


@dataclass
class Page:
    """Some entries in order of seq, the cursor after them, and whether more wait.

    `hashes` are those of the entries that are whole, in their order.
    """

    entries: list[dict[str, Any]] = field(default_factory=list)
    hashes: list[str] = field(default_factory=list)
    after: int = 0
    more: bool = False


def caseload_version(clients: Iterable[str], read_only: Iterable[str] = ()) -> str:
    """A short name for one state of a caseload: equal for equal sets of clients, and of those withheld."""
    named: list[Any] = sorted(clients)
    if withheld := sorted(read_only):
        named.append(withheld)
    return hashlib.sha256(canonical(named).encode()).hexdigest()[:16]


def main_page(
    view: View, after: int, head: int, budget: Budget, own_device: str | None, told: Collection[int] = ()
) -> Page:
    """The next entries of all visible clients; the cursor also passes entries that are not visible.

    `told`: numbers that the verdicts of the same answer give. The page need not say them again.
    """
    first, last = _untold(after, head, told)
    page = _page(view, first, last, budget, own_device)
    page.after = page.after if page.more else max(after, head)
    return page


def _untold(after: int, head: int, told: Collection[int]) -> tuple[int, int]:
    """What is left of the log after a cursor when the numbers told are taken off at both its ends."""
    while after + 1 in told:
        after += 1
    while head > after and head in told:
        head -= 1
    return after, head


def fill_page(view: View, fill: Fill, head: int, budget: Budget) -> Page:
    """The next entries of one client, whole, from wherever the device stands with it."""
    return _page(view, fill.after, head, budget, None, fill.client)


def _page(
    view: View, after: int, head: int, budget: Budget, own_device: str | None, client: str | None = None
) -> Page:
    page, visit = Page(after=after), None
    limit = max(budget.entries, 0) + VISIT_REST + 1
    for row in view.entries(after, head, limit, client) if after < head else ():
        # A visit that was begun is finished on the same page, within reason.
        if not budget.left and (visit is None or row.visit != visit):
            page.more = True
            return page
        item, size = _item(row, own_device)
        page.entries.append(item)
        if "hash" not in item:
            page.hashes.append(row.hash)
        page.after, visit = row.seq, row.visit
        budget.spend(size)
    page.more = len(page.entries) == limit
    page.after = page.after if page.more else max(after, head)
    return page


def short_forms(
    view: View, device: str, after: int, page: Page, told: Collection[int] = ()
) -> list[dict[str, Any]]:
    """What a device holds as refused and the log has all the same, though its client may not be seen here."""
    rows = view.taken_elsewhere(device, after, page.after) if after < page.after else []
    known = {*told, *(item["seq"] for item in page.entries)}
    return [_short(row) for row in rows if row.seq not in known]


def _item(row: Stored, own_device: str | None) -> tuple[dict[str, Any], int]:
    if own_device is not None and row.device == own_device:
        return _short(row), 150
    return row.whole(), row.size


def _short(row: Stored) -> dict[str, Any]:
    return {"id": row.id, "seq": row.seq, "hash": row.hash}
