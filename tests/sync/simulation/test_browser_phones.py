"""Phones that run the browser's own code beside the Python clients, in the same histories and on one server.

LINTEL_SIMULATION_BROWSERS says how many runs.
"""

import os
from collections import Counter

from tests.sync.simulation.acts import run
from tests.sync.simulation.browser_phone import browsers
from tests.sync.simulation.checks import ORGANISATIONS
from tests.sync.simulation.world import World

SEEDS, STEPS = int(os.environ.get("LINTEL_SIMULATION_BROWSERS", "2")), 250
BROWSERS = ("a", "shared", "second", "c")
MET = (
    "applied", "duplicate", "held", "stubs", "filled", "removed", "new epoch", "restored with loss",
    "two windows ask", "too late", "power cut while it reads",
)  # fmt: skip


def test_nothing_is_lost_doubled_or_shown_to_others(host):
    seen: Counter[str] = Counter()
    for seed in range(SEEDS):
        world = run(World(makes=browsers(host, *BROWSERS)), seed, STEPS, quiet_every=100)
        assert len(world.saved) > STEPS // 10
        seen += world.seen
    assert [event for event in MET if not seen[event]] == []


def test_a_run_can_be_repeated(host):
    logs = []
    for _ in range(2):
        world = run(World(makes=browsers(host, *BROWSERS)), 3, 60)
        logs.append([row.travelling() for own in ORGANISATIONS for row in world.service.rows(own)])
    assert logs[0] == logs[1] != []
