"""A store in a folder of its own, and a small garden in it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from soakbook.store import Store, open_store
from tests.unit.store.gardens import small_garden


class Clock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now = datetime(2026, 6, 1, 5, 30, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.now += timedelta(microseconds=1)
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(tmp_path: Path, clock: Clock) -> Iterator[Store]:
    with open_store(tmp_path / "data", clock=clock) as opened:
        yield opened


@pytest.fixture
def key(store: Store) -> str:
    return store.add_garden(small_garden(), by="owner").key
