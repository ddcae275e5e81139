"""The timer plan against uniform programmes: what is kept, a sample of it found anew, and the page that tells of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.measured.kept import kept
from tests.measured.timers import GARDENS, TimerRow, one_garden, share_better

DOCUMENT = Path(__file__).parents[2] / "docs" / "timers.md"
#: Gardens whose plan is proved well within its time, so that a slower machine finds the same.
SAMPLE = (6, 12)


@pytest.fixture(scope="module")
def rows() -> tuple[TimerRow, ...]:
    return kept("timers", TimerRow)["timers"]


def test_the_plan_is_better_in_most_gardens(rows: tuple[TimerRow, ...]) -> None:
    """The design asks for 95 in 100 of 200."""
    assert len(rows) == GARDENS == 200
    assert share_better(rows) >= 0.95


def test_the_page_tells_what_is_kept(rows: tuple[TimerRow, ...]) -> None:
    text = DOCUMENT.read_text(encoding="utf-8")
    assert f"no worse in {sum(row.is_better for row in rows)} of {len(rows)} gardens" in text
    for row in rows:
        assert row.is_better or f"garden {row.garden} " in text, row


@pytest.mark.parametrize("garden", SAMPLE)
def test_a_sample_is_found_anew(rows: tuple[TimerRow, ...], garden: int) -> None:
    fresh = one_garden(garden)
    assert fresh.plan == pytest.approx(rows[garden].plan, rel=0.02)
    assert fresh.uniform == pytest.approx(rows[garden].uniform, rel=1e-4)
