"""What the audit costs a push: `python -m tests.benchmarks.audit_cost`. Ratios of one run, by turns."""

import statistics
import tempfile
import time
from pathlib import Path
from unittest import mock

from tests.databases import copy_of, migrated_file
from tests.webapp.support import House

RUNS = 41


def seconds(phone, size: int, audited: bool) -> float:
    """One push of some entries by HTTP, with the audit or with nothing in its place."""
    entries = [phone.entry(client=f"ann{1 + number % 2}") for number in range(size)]
    names = ("webapp.storage.append.audit_push", "webapp.features.sync.routes.note_read")
    with mock.patch(names[0], wraps=None if not audited else _real(names[0])) as push, \
         mock.patch(names[1], wraps=None if not audited else _real(names[1])) as read:  # fmt: skip
        start = time.perf_counter()
        reply = phone.sync(*entries)
        taken = time.perf_counter() - start
    phone.epoch, phone.after = reply["epoch"], reply["head"]
    assert push.called and read.called
    return taken


def _real(name: str):
    module, _, own = name.rpartition(".")
    return getattr(__import__(module, fromlist=[own]), own)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        house = House(copy_of(migrated_file(Path(folder)), Path(folder)))
        phone = house.phone("ann")
        for size in (1, 10, 200):
            taken = {True: [], False: []}
            for _ in range(RUNS):
                for audited in taken:
                    taken[audited].append(seconds(phone, size, audited))
            with_it, without = (statistics.median(taken[audited]) for audited in (True, False))
            print(f"push of {size}: with the audit / without = {with_it / without:.2f} (median of {RUNS})")
        house.close()


if __name__ == "__main__":
    main()
