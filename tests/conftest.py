"""The order of the whole run, and what no load of the machine may decide."""

import os

import pytest
from hypothesis import HealthCheck, settings

# How long an example takes says how busy the machine is. The same ones each time, unless more are asked for.
settings.register_profile(
    "lintel",
    deadline=None,
    database=None,
    derandomize="LINTEL_TEST_EXAMPLES" not in os.environ,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("lintel")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Run what needs a browser last: the quick tests tell first, and no Chromium runs beside them."""
    items.sort(key=lambda item: "browser" in item.path.parts)
