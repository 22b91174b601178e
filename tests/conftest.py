"""The order of the whole run."""

import pytest


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Run what needs a browser last: the quick tests tell first, and no Chromium runs beside them."""
    items.sort(key=lambda item: "browser" in item.path.parts)
