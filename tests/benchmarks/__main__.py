"""Measure what a therapist waits for: `python3 -m tests.benchmarks`. Prints tables, writes them down."""

import sys

from demo_home_visits import private_environment

private_environment.enter("tests.benchmarks", extras=("tests",))

from tests.benchmarks import report  # noqa: E402  (only inside the environment)

report.main(sys.argv[1:])
