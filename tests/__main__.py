"""Run every test: `python3 -m tests`, with pytest's own arguments behind it."""

import sys

from demo_home_visits import private_environment

private_environment.enter("tests", extras=("tests",))

from tests import system_programs  # noqa: E402  (only inside the environment)

system_programs.install_missing()

import pytest  # noqa: E402

sys.exit(pytest.main(sys.argv[1:]))
