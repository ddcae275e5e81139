"""The comparisons are run once: all tests that look at them go to one process, and have time for it."""

from __future__ import annotations

from pathlib import Path

import pytest

HERE = Path(__file__).parent


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.parent == HERE:
            item.add_marker(pytest.mark.xdist_group("measured"))
            item.add_marker(pytest.mark.timeout(1200))
