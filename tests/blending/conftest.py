"""What the tests of reconciliation share."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.hookimpl(tryfirst=True)  # before the sets are parted
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """By default they run no stage that they do not look at; the long set runs every stage in each of them."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.searching)
