"""Long seeded runs. LINTEL_SIMULATION_SEEDS and LINTEL_SIMULATION_STEPS say how many and how long."""

import os
from functools import cache

import pytest

from tests.sync.simulation import phone, service
from tests.sync.simulation.acts import run, tour
from tests.sync.simulation.checks import ORGANISATIONS
from tests.sync.simulation.world import World

SEEDS = int(os.environ.get("LINTEL_SIMULATION_SEEDS", "3"))
STEPS = int(os.environ.get("LINTEL_SIMULATION_STEPS", "1000"))
# Events that the runs must have met, or they proved less than they say.
MET = (
    "applied", "duplicate", "held", "waiting", "clash", "answered 200", "answered 400", "answered 401",
    "stubs", "filled", "removed", "new epoch", "restored with loss", "settled", "disagreements",
    "corrected unsent", "too late", "wiped unsent", "loss told", "out of order", "withdrawn",
    "withdrawn, another goes on", "put back", "cloned", "renamed", "two windows ask",
    "of another organisation", "forged",
    *(f"server died {step}" for step in service.STEPS), *(f"power cut {step}" for step in phone.STEPS),
)  # fmt: skip


@cache
def world_of(seed: int) -> World:
    return run(World(), seed, STEPS, quiet_every=200)


@pytest.mark.parametrize("seed", range(SEEDS))
def test_nothing_is_lost_doubled_or_shown_to_others(seed):
    assert len(world_of(seed).saved) > STEPS // 10  # of the log a late restore may leave little


def test_the_runs_met_everything():
    seen = sum((world_of(seed).seen for seed in range(SEEDS)), tour(World(), 0).seen)
    assert [event for event in MET if not seen[event]] == []


def test_a_run_can_be_repeated():
    first, second = (run(World(), 7, 300) for _ in range(2))
    for own in ORGANISATIONS:
        logs = [[row.travelling() for row in world.service.rows(own)] for world in (first, second)]
        assert logs[0] == logs[1] != []
    assert first.seen == second.seen
