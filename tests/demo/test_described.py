"""What the demo's clients do, want and live in is what the app could have recorded."""

import pytest

from tests.demo.test_scenario import DAYS, entries_of, scenario
from webapp import clinical


@pytest.mark.parametrize("today", DAYS, ids=str)
def test_everything_described_passes_the_check(today):
    told = [entry for entry in scenario(today).entries if entry["kind"] in clinical.described_kinds()]
    assert len(told) > 60
    for entry in told:
        assert clinical.check_described(entry["kind"], entry["body"], entry["recorded_at"][:10]) == [], entry


def test_one_client_has_a_score_that_rises_and_a_goal_that_cannot_be_scored():
    found = clinical.goals_overview(entries_of("thordis"), None)
    assert float(found["baseline"]) < 40 < 50 < float(found["now"])
    assert found["scored"] == 2 and len(found["goals"]) == 3
    changes = {row["change"] for row in clinical.daily_life(entries_of("thordis"), None)["activities"]}
    assert {"better", "worse", "same"} <= changes
