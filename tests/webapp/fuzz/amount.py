"""How many random requests of each kind: few and the same, unless LINTEL_FUZZ_EXAMPLES asks for more."""

import os

from hypothesis import HealthCheck, Phase, settings

ASKED = os.environ.get("LINTEL_FUZZ_EXAMPLES")
fuzzed = settings(
    max_examples=int(ASKED or "15"), deadline=None, database=None, derandomize=ASKED is None,
    suppress_health_check=list(HealthCheck), phases=[Phase.generate],  # a seed has nothing to shrink
)  # fmt: skip
