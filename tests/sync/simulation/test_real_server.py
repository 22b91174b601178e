"""Phones of both kinds and the same checks against the application itself, over SQLite.

LINTEL_SIMULATION_SERVERS says how many runs.
"""

import os
import random
from collections import Counter
from functools import partial
from pathlib import Path

from argon2 import PasswordHasher

from tests.databases import migrated_file
from tests.sync.simulation.acts import run
from tests.sync.simulation.browser_phone import browsers
from tests.sync.simulation.checks import ORGANISATIONS, check
from tests.sync.simulation.host import Host
from tests.sync.simulation.quiet import quieten
from tests.sync.simulation.situations import SITUATIONS
from tests.sync.simulation.sql import SqlService
from tests.sync.simulation.world import World
from webapp.storage import passwords

RUNS, STEPS = int(os.environ.get("LINTEL_SIMULATION_SERVERS", "1")), 120
BROWSERS = ("a", "shared")
SURELY = (
    "the server dies over a push", "the power fails over a save",
    "a log is restored without what was just sent", "a device is withdrawn and allowed again",
    "a phones ids come from another organisation",
)  # fmt: skip
MET = ("server died at a statement", "server died at a commit", "new epoch", "withdrawn",
       "of another organisation", "power cut inside a transaction")  # fmt: skip


def test_nothing_is_lost_doubled_or_shown_to_others(tmp_path: Path, monkeypatch, host: Host):
    # Argon2id at its cheapest: the phones sign in often and guard nothing.
    monkeypatch.setattr(passwords, "HASHER", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    seen: Counter[str] = Counter()
    for seed in range(1, RUNS + 1):
        seen += over_sqlite(tmp_path / str(seed), host, seed)
    assert [event for event in MET if not seen[event]] == []


def over_sqlite(folder: Path, host: Host, seed: int) -> Counter[str]:
    """What a history by chance, and then these situations, have met."""
    folder.mkdir()
    world = World(partial(SqlService, migrated_file(folder)), browsers(host, *BROWSERS))
    try:
        run(world, seed, STEPS, quiet_every=STEPS)
        for name in SURELY:
            SITUATIONS[name](world, random.Random(seed), world.phones[0])
        quieten(world)
        check(world)
        assert all(world.service.rows(own) for own in ORGANISATIONS)
        return world.seen
    finally:
        world.service.database.dispose()
