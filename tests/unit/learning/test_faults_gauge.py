"""The own gauge beside the rain of the weather's source."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from soakbook.balance.place import place_days
from soakbook.learning.faults_cases import MORE_RAIN, Case
from soakbook.learning.faults_gauge import (
    ADDED_MM,
    ODD_SD,
    ODD_WEEKS,
    SOURCE_SD,
    WEEK_SD,
    Week,
    log_beside,
    weeks_of,
)
from soakbook.weather.gauge import with_own_gauge
from tests.unit.learning.scene import BED, garden, log, weather

EVEN = np.ones(1)


def shadow(first: int | None = None, *, more: bool = True) -> Case:
    return Case("gauge in rain shadow", first, 0, 0.01, EVEN, more=more)


def weeks(part: float, count: int = 14, source_mm: float = 20.0) -> list[Week]:
    return [Week(7 * k, part * source_mm, source_mm) for k in range(count)]


def speaks_for(some: list[Week], case: Case) -> float:
    """By how much weeks speak for a case, in the logarithm of the odds."""
    return log_beside(some, case) - log_beside(some, None)


def test_the_sum_is_that_of_many_draws() -> None:
    """A second derivation: the mean likelihood over drawn seasons and shadows."""
    rng, some = np.random.default_rng(4), [Week(0, 9.0, 16.0), Week(7, 4.0, 18.0), Week(14, 12.0, 11.0)]
    off = SOURCE_SD * rng.standard_normal(400_000)
    share = rng.uniform(*np.log(MORE_RAIN), 400_000)
    for case, since in ((None, 10**6), (shadow(7), 7)):
        likely = np.ones(400_000)
        for week in some:
            ratio = np.log((week.gauge_mm + ADDED_MM) / (week.source_mm + ADDED_MM))
            z = ratio - (off - share * (week.first >= since))
            likely *= sum(
                part * np.exp(-0.5 * (z / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi))
                for part, sd in ((1.0 - ODD_WEEKS, WEEK_SD), (ODD_WEEKS, ODD_SD))
            )
        assert log_beside(some, case) == pytest.approx(np.log(likely.mean()), abs=0.02)


def test_a_gauge_that_catches_a_third_all_season_is_in_a_shadow() -> None:
    assert speaks_for(weeks(1.0 / 3.0), shadow()) > 4.0
    assert speaks_for(weeks(1.0), shadow()) < -1.0


def test_one_odd_week_says_little() -> None:
    assert speaks_for([*weeks(1.0, 9), Week(70, 0.0, 40.0)], shadow()) < 0.0
    assert speaks_for([Week(0, 0.0, 40.0)], shadow()) < 1.5


def test_only_weeks_after_it_began_speak_for_a_shadow() -> None:
    grown_over = [*weeks(1.0, 7), *(replace(w, first=w.first + 49) for w in weeks(0.35, 7))]
    assert speaks_for(grown_over, shadow(49)) > speaks_for(grown_over, shadow()) + 1.0


@pytest.mark.parametrize("case", [None, shadow(more=False), Case("leak", 3, 0, 0.01, EVEN)])
def test_what_leaves_the_gauge_alone_is_as_likely_as_nothing_wrong(case: Case | None) -> None:
    assert log_beside(weeks(0.5), case) == log_beside(weeks(0.5), None)
    assert log_beside([], shadow()) == 0.0


def test_weeks_are_of_days_with_both() -> None:
    """Twenty days of the gauge, half of what the source has; without the source's rain there is nothing to hold it against."""
    series = weather()
    first: date = series.times[0].item()
    source = np.full(len(series), 3.0)
    series = replace(series, columns={**series.columns, "rain_mm": source})
    own = with_own_gauge(series, [(series.times[k].item(), 1.5) for k in range(20)])
    days = place_days(garden(), BED, own, log())
    found = weeks_of(days, own, 28)
    assert (days.days[0], first) == (series.times[0], series.times[0].item())
    assert [(w.first, w.gauge_mm, w.source_mm) for w in found] == [(0, 10.5, 21.0), (7, 10.5, 21.0), (14, 9.0, 18.0)]
    alone = replace(own, columns={k: v for k, v in own.columns.items() if k != "rain_source_mm"})
    assert weeks_of(days, alone, 28) == []
