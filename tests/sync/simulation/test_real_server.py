"""The same phones and the same checks against the application itself, over SQLite."""

from functools import partial
from pathlib import Path

from argon2 import PasswordHasher

from tests.databases import migrated_file
from tests.sync.simulation.acts import run
from tests.sync.simulation.checks import ORGANISATIONS
from tests.sync.simulation.sql import SqlService
from tests.sync.simulation.world import World
from webapp.storage import passwords

SEED, STEPS = 13, 300
MET = ("server died at a statement", "server died at a commit", "new epoch", "withdrawn",
       "of another organisation")  # fmt: skip


def test_nothing_is_lost_doubled_or_shown_to_others(tmp_path: Path, monkeypatch):
    # Argon2id at its cheapest: the phones sign in often and guard nothing.
    monkeypatch.setattr(passwords, "HASHER", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    world = World(partial(SqlService, migrated_file(tmp_path)))
    try:
        run(world, SEED, STEPS, quiet_every=100)
        assert all(world.service.rows(own) for own in ORGANISATIONS)
        assert [event for event in MET if not world.seen[event]] == []
    finally:
        world.service.database.dispose()
