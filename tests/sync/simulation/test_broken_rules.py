"""A simulation that passes broken rules proves nothing: each of these must be noticed."""

import pytest

from tests.sync.simulation import broken_server
from tests.sync.simulation.acts import run
from tests.sync.simulation.broken import BROKEN
from tests.sync.simulation.world import World

RUNS, STEPS = 8, 400
assert broken_server.broken  # importing it names its rules too


def first_failure() -> str | None:
    """What the first run that fails says, if any fails."""
    for seed in range(RUNS):
        try:
            run(World(), seed, STEPS, quiet_every=50)
        except AssertionError as error:
            return f"seed {seed}: {error}"
    return None


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_rule_is_noticed(name, monkeypatch):
    BROKEN[name](monkeypatch)
    assert first_failure() is not None


def test_the_same_runs_pass_with_the_rules_whole():
    # Otherwise the runs above might fail for a reason of their own.
    assert first_failure() is None
