"""Fixed seeds: the same examples on every machine. And what is measured stands where bin/test looks for it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("fixed", derandomize=True, deadline=None)
settings.load_profile("fixed")

#: The folders that bin/test reads for what is to run alone on the machine.
MEASURED = tuple(Path(__file__).parent / name for name in ("benchmarks", "api"))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.get_closest_marker("bench") and item.path.parent not in MEASURED:
            raise pytest.UsageError(
                f"{item.nodeid} is marked bench, but bin/test looks for such tests in {MEASURED} only"
            )
