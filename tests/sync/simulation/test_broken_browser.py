"""Rules of the browser's code broken on purpose: the simulation must notice each of them."""

import re
from pathlib import Path

import pytest

from tests.sync.simulation.acts import tour
from tests.sync.simulation.browser_phone import browsers
from tests.sync.simulation.host import ROOT, Host
from tests.sync.simulation.world import World

RUNS, BROWSER = 3, "a"
TEXT = (Path(ROOT) / "tests/javascript/phones/broken.mjs").read_text("utf-8")
RULES = re.findall(r"^  '([^']+)': \[", TEXT, flags=re.MULTILINE)
assert len(RULES) >= 20


def noticed(host: Host, seed: int, rule: str = "") -> bool:
    """Whether a history with a phone that runs the browser's code fails."""
    try:
        tour(World(makes=browsers(host, BROWSER, broken=rule)), seed, BROWSER)
    except AssertionError:
        return True
    return False


@pytest.mark.parametrize("rule", RULES)
def test_a_broken_rule_is_noticed(host, rule):
    assert any(noticed(host, seed, rule) for seed in range(RUNS))


def test_the_same_histories_pass_with_the_rules_whole(host):
    # Otherwise the histories above might fail for a reason of their own.
    for seed in range(RUNS):
        tour(World(makes=browsers(host, BROWSER)), seed, BROWSER)
