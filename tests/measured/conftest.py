"""Comparisons are run once: the tests of a file, which look at the same, go to one process, and have time for it."""

from __future__ import annotations

from pathlib import Path

import pytest

HERE = Path(__file__).parent


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.parent == HERE:
            item.add_marker(pytest.mark.xdist_group(f"measured {item.path.stem}"))
            item.add_marker(pytest.mark.timeout(600))
