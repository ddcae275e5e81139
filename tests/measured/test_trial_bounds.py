"""Those who know more than a grower can: they stand in the true place as it is, and what is kept of them is what they do today."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from soakbook.advice.decide import probe_depth_m
from soakbook.season.trial.case import Case
from soakbook.season.trial.live import Copies, Eyes, replay
from soakbook.season.trial.ours import MOIST_FROM, WET_FROM
from soakbook.season.trial.report import ALIKE_PCT
from soakbook.season.truth.day import DayWeather
from tests.measured.trial_bounds import (
    CLOUD,
    Knower,
    kept_bounds,
    lived,
    picked,
    sight,
    sky_of,
    to_csv,
    wanted_by_stage,
)
from tests.measured.trial_cases import KEPT_BOUNDS, PLACE, cases, kept_results, least_water
from tests.measured.trial_sparing import SPARED, spared

FloatArray = NDArray[np.float64]


@cache
def _case() -> Case:
    """The shortest season of a pot."""
    return min((c for c in cases() if c.place.kind == "pot"), key=lambda c: c.days)


def test_places_that_stand_as_another_does_go_on_as_it_does() -> None:
    """Ten days of two different waterings; then each twice, in another order, through five days more. By the last digit but a few."""
    case = _case()
    both = Copies(case.drawn(2, 5))
    for day in range(10):
        both.step(DayWeather(float(case.eto_mm[day]), float(case.rain_mm[day])), np.array([8.0, 3.0]) * (day % 3 == 0))
    which = np.array([1, 0, 1, 0])
    again = Copies(picked(both.hidden, which))
    again.stand_as(both, which)
    for day in range(10, 15):
        weather = DayWeather(float(case.eto_mm[day]), float(case.rain_mm[day]))
        both.step(weather, 5.0)
        again.step(weather, 5.0)
    assert again.day == both.day
    assert again.stored_mm() == pytest.approx(both.stored_mm()[which], abs=1e-9)
    assert again.lacking_mm() == pytest.approx(both.lacking_mm()[which], abs=1e-9)
    assert both.stored_mm()[0] != pytest.approx(both.stored_mm()[1], abs=0.1)


def test_what_leaves_want_by_stage_is_what_the_truth_counts() -> None:
    case = _case()
    season = replay(case, np.full((case.days, 1), 2.0), np.zeros((case.days, 1)))
    assert wanted_by_stage(case, case.hidden).sum() == pytest.approx(float(season.account.wanted_mm[0]), rel=1e-9)


def test_a_place_just_drained_lacks_nothing_and_a_dry_one_more_than_is_easy() -> None:
    """A pot soaked through and left for a night; then weeks in the sun without water."""
    case = _case()
    place = Copies(case.hidden)
    place.step(DayWeather(0.0, 0.0), 60.0)
    place.step(DayWeather(0.0, 0.0), 0.0)
    full = sight(place, 5.0)
    assert full.missing[0] < 0.1 * full.easily[0]
    for _ in range(60):
        place.step(DayWeather(7.0, 0.0), 0.0)
    dry = sight(place, 5.0)
    assert dry.missing[0] > dry.easily[0]


def test_rows_are_kept_as_they_are_written() -> None:
    rows = kept_bounds()
    assert {key for key, _ in rows} == {r.key for r in kept_results()}
    assert to_csv(rows) == KEPT_BOUNDS.read_text(encoding="utf-8")


def test_the_least_water_is_no_more_than_the_rule_s_and_loses_no_more() -> None:
    """In every place; and in a fresh search of the shortest pot, which is as good as the one kept."""
    results = {r.key: r for r in kept_results()}
    for key, found in kept_bounds():
        rule = next((r for r in SPARED if found.policy == least_water(r)), None)
        if rule is not None:
            theirs = results[key].of(rule)
            assert theirs is not None
            assert found.water_mm <= theirs.water_mm + 0.01
            assert found.loss_pct <= theirs.loss_pct + ALIKE_PCT + 0.01
    case = _case()
    theirs = results[case.key].of(SPARED[1])
    assert theirs is not None
    (now,) = spared(case, {SPARED[1]: theirs.loss_pct})
    was = next(o for key, o in kept_bounds() if key == case.key and o.policy == least_water(SPARED[1]))
    assert now.water_mm == pytest.approx(was.water_mm, abs=1.0)


def _read_on(case: Case, days: tuple[int, ...]) -> tuple[Knower, Copies, list[tuple[FloatArray, FloatArray]]]:
    """Some hundred places drawn alike beside the true one, all watered once, and readings on the mornings of ``days``; with the water then."""
    truth, knower = Copies(case.hidden), Knower(case, sky_of(case), Copies(case.drawn(CLOUD, 77)))
    assert knower.cloud is not None
    held = []
    for day in range(days[-1] + 1):
        if day in days:
            held.append((truth.stored_mm(), knower.cloud.stored_mm()))
            knower.read(day, truth)
        if day < days[-1]:
            for one in (truth, knower.cloud):
                weather = DayWeather(float(case.eto_mm[day]), float(case.rain_mm[day]))
                one.step(weather, 20.0 if day == 0 else 0.0)
    return knower, truth, held


def test_weighings_pick_the_pots_that_lose_as_much_as_the_true_one() -> None:
    """Two weighings a week apart: what was lost in between is known better than from all pots of the description."""
    knower, _, held = _read_on(_case(), (1, 8))
    weights = np.exp(knower.log_weights - knower.log_weights.max())
    true, cloud = held[0][0] - held[1][0], held[0][1] - held[1][1]
    off = np.abs(cloud - true[0])
    assert np.average(off, weights=weights) < 0.9 * off.mean()
    assert knower.looks == 2


def test_a_hand_picks_the_beds_that_feel_as_the_true_one_does() -> None:
    case = next(c for c in cases() if c.climate == "hot desert" and c.believed.plant == "bean_bush")
    knower, truth, _ = _read_on(case, (12,))
    assert knower.cloud is not None
    depth_cm = 100.0 * probe_depth_m(case.laid, case.laid.index(case.day(12)))
    cuts = [MOIST_FROM, WET_FROM]
    felt = int(np.digitize(Eyes(truth, 0).feel(depth_cm / 100.0), cuts))
    alike = np.digitize(knower.cloud.feel_mean(depth_cm), [0.25, 0.75]) == felt
    assert 10 < alike.sum() < CLOUD - 10
    assert knower.log_weights[alike].min() > knower.log_weights[~alike].max()


def test_what_is_kept_of_who_knows_is_what_is_found_today() -> None:
    case = _case()
    now = lived(case, PLACE)
    was = next(o for key, o in kept_bounds() if key == case.key and o.policy == PLACE)
    assert now.water_mm == pytest.approx(was.water_mm, abs=1.0)
    assert now.cost == pytest.approx(was.cost, abs=0.05)
