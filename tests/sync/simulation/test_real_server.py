"""The same phones and the same checks against the application itself, over SQLite."""

from functools import partial
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from tests.databases import migrated_file
from tests.sync.simulation.acts import run
from tests.sync.simulation.sql import SqlService
from tests.sync.simulation.world import World
from webapp.storage import passwords

STEPS = 250


@pytest.mark.parametrize("seed", [13, 39])
def test_nothing_is_lost_doubled_or_shown_to_others(seed: int, tmp_path: Path, monkeypatch):
    # Argon2id at its cheapest: the phones sign in often and guard nothing.
    monkeypatch.setattr(passwords, "HASHER", PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
    world = World(partial(SqlService, migrated_file(tmp_path)))
    try:
        run(world, seed, STEPS, quiet_every=125)
        assert len(world.service.rows()) > 20
        assert all(world.seen[event] for event in ("server died", "new epoch", "withdrawn"))
    finally:
        world.service.database.dispose()
