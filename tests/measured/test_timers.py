"""The timer plan against uniform programmes: what is kept, a sample of it found anew, and the page that tells of it."""

from __future__ import annotations

from pathlib import Path
from statistics import median

import pytest

from tests.measured.kept import kept
from tests.measured.timer_seasons import GARDENS as SEASONS
from tests.measured.timer_seasons import SeasonRow, one_season
from tests.measured.timers import GARDENS, TimerRow, one_garden, share_better

DOCUMENT = Path(__file__).parents[2] / "docs" / "timers.md"
#: Gardens whose plan is proved well within its time, so that a slower machine finds the same, and soon.
SAMPLE = (6,)


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


@pytest.fixture(scope="module")
def seasons() -> tuple[SeasonRow, ...]:
    return kept("timer_seasons", SeasonRow)["seasons"]


def test_a_season_of_settings_is_better_in_most_gardens(seasons: tuple[SeasonRow, ...]) -> None:
    """Than the best uniform programme in hindsight, as for two weeks; and in the median clearly better than one setting all season."""
    assert len(seasons) == SEASONS
    assert sum(row.is_better for row in seasons) >= 0.95 * len(seasons)
    assert median(row.plan for row in seasons) < 0.9 * median(row.single for row in seasons)


def test_the_page_tells_of_the_seasons(seasons: tuple[SeasonRow, ...]) -> None:
    text = " ".join(DOCUMENT.read_text(encoding="utf-8").split())
    assert f"in {sum(row.is_better for row in seasons)} of {len(seasons)}. Medians:" in text
    for what in ("plan", "single", "uniform", "dry"):
        assert f"{median(getattr(row, what) for row in seasons):.1f}" in text.split("A season of settings (at most")[1]


def test_a_season_is_found_anew(seasons: tuple[SeasonRow, ...]) -> None:
    """The garden with the fewest places and days, whose programs are all solved well within their time."""
    row = min(seasons, key=lambda one: (one.places, one.days))
    fresh = one_season(row.garden)
    assert fresh.plan == pytest.approx(row.plan, rel=0.05)
    assert fresh.uniform == pytest.approx(row.uniform, rel=1e-4)
