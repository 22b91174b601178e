"""A simulation that passes broken rules proves nothing: each of these must be noticed."""

from collections.abc import Callable, Iterator
from functools import partial

import pytest

from tests.sync.simulation import broken_server
from tests.sync.simulation.acts import run, tour
from tests.sync.simulation.broken import BROKEN
from tests.sync.simulation.world import World

TOURS, RUNS, STEPS = 4, 2, 400
assert broken_server.broken  # importing it names its rules too


def histories() -> Iterator[Callable[[], World]]:
    """Every situation in turn, then whatever comes by chance."""
    for seed in range(TOURS):
        yield partial(tour, World(), seed)
    for seed in range(RUNS):
        yield partial(run, World(), seed, STEPS, quiet_every=50)


def first_failure() -> str | None:
    """What the first history that fails says, if any fails."""
    for number, history in enumerate(histories()):
        try:
            history()
        except AssertionError as error:
            return f"history {number}: {error}"
    return None


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_rule_is_noticed(name, monkeypatch):
    BROKEN[name](monkeypatch)
    assert first_failure() is not None


def test_the_same_histories_pass_with_the_rules_whole():
    # Otherwise those above might fail for a reason of their own.
    assert first_failure() is None
