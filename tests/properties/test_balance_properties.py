"""What any soil-water balance must do, whatever the soil, the plants and the weather."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakbook.balance.columns import DRAINAGE, EVAPORATION, RUNOFF, STRESS, TRANSPIRATION, WANTED
from soakbook.balance.run import run_columns, stored_mm
from tests.reference_balance import run_numpy
from tests.strategies import random_case

seeds = st.integers(0, 2**32 - 1)
some = settings(max_examples=60, deadline=None)


@given(seeds, st.sampled_from([1, 2]), st.sampled_from([1.0, 24.0]), st.integers(1, 9))
@some
def test_water_in_is_water_out_plus_change(seed: int, feet: int, hours: float, layers: int) -> None:
    case = random_case(seed, feet=feet, hours=hours, layers=layers)
    result = run_columns(*case)  # raises when any column is off by more than 1e-9
    assert result.balance_error <= 1e-9
    assert np.all(result.end.water_mm >= 0)
    assert np.all(result.totals[:, [RUNOFF, DRAINAGE, EVAPORATION, TRANSPIRATION]] >= -1e-12)


@given(seeds, st.sampled_from([1, 2]), st.sampled_from([1.0, 24.0]))
@some
def test_kernel_agrees_with_the_second_derivation(seed: int, feet: int, hours: float) -> None:
    columns, forcing, start = random_case(seed, feet=feet, hours=hours)
    result = run_columns(columns, forcing, start)
    end, totals = run_numpy(columns, forcing, start)
    assert result.totals == pytest.approx(totals, rel=1e-7, abs=1e-7)
    assert result.end.water_mm == pytest.approx(end.water_mm, rel=1e-7, abs=1e-7)


@given(seeds)
@some
def test_kept_steps_add_up_to_the_totals(seed: int) -> None:
    case = random_case(seed, feet=2)
    kept, lean = run_columns(*case), run_columns(*case, keep=False)
    assert kept.fluxes.sum(axis=1) == pytest.approx(kept.totals, rel=1e-12, abs=1e-12)
    assert lean.totals == pytest.approx(kept.totals, rel=1e-9, abs=1e-9)
    assert kept.water_mm[:, -1] == pytest.approx(kept.end.water_mm, abs=0)


@given(seeds, st.floats(0.0, 200.0))
@some
def test_more_rain_never_dries_a_bed(seed: int, more_mm: float) -> None:
    """Within a step that draws nothing, more rain leaves every layer at least as wet. (Over many days it need not: a
    soggy bed transpires less and drains more.)"""
    columns, forcing, start = random_case(seed, steps=1, feet=2)
    still = replace(forcing, eto_mm=forcing.eto_mm * 0)
    wetter = replace(still, rain_mm=still.rain_mm + more_mm)
    more, less = run_columns(columns, wetter, start), run_columns(columns, still, start)
    assert np.all(more.end.water_mm >= less.end.water_mm - 1e-9)


@given(seeds)
@some
def test_plants_never_draw_more_than_they_want_and_stress_is_a_fraction(seed: int) -> None:
    result = run_columns(*random_case(seed, feet=2))
    flux = result.fluxes
    assert np.all(flux[:, :, TRANSPIRATION] <= flux[:, :, WANTED] + 1e-9)
    assert np.all((flux[:, :, STRESS] >= 0) & (flux[:, :, STRESS] <= 1))


@given(seeds)
@some
def test_members_do_not_touch_each_other(seed: int) -> None:
    """The same member gives the same numbers alone as among seventy."""
    columns, forcing, start = random_case(seed, members=70, places=1, steps=15)
    whole = run_columns(columns, forcing, start)
    i = 66  # in the second block of lanes
    alone = run_columns(*_only(columns, forcing, start, i))
    assert alone.totals[0, :, 0] == pytest.approx(whole.totals[0, :, i], rel=1e-9, abs=1e-9)


def _only(columns, forcing, start, i):  # type: ignore[no-untyped-def]
    def cut(a: np.ndarray) -> np.ndarray:
        return np.ascontiguousarray(a[..., i : i + 1])

    lanes = (
        "wp_mm",
        "fc_mm",
        "sat_mm",
        "ks_mm_h",
        "rew_mm",
        "tew_mm",
        "suction_mm",
        "intake_mm_h",
        "demand",
        "catch",
        "delivery",
    )
    state = type(start)(
        *(cut(getattr(start, f)) for f in ("water_mm", "surface_mm", "held_mm", "saucer_mm", "airless")),
        start.area_wet,
    )
    return (
        replace(columns, **{f: cut(getattr(columns, f)) for f in lanes}),
        replace(forcing, eto_mm=cut(forcing.eto_mm), rain_mm=cut(forcing.rain_mm)),
        state,
    )


@given(seeds)
@settings(max_examples=25, deadline=None)
def test_hours_and_days_drain_alike(seed: int) -> None:
    """After a flood, three days of hours and three daily steps leave about the same water in the profile."""
    columns, forcing, start = random_case(seed, members=3, steps=3, rough=False)
    still = replace(
        forcing,
        eto_mm=forcing.eto_mm * 0,
        rain_mm=forcing.rain_mm * 0,
        irrigation_mm=forcing.irrigation_mm * 0,
    )
    hourly = replace(
        still,
        eto_mm=np.repeat(still.eto_mm, 24, axis=1),
        rain_mm=np.repeat(still.rain_mm, 24, axis=1),
        irrigation_mm=np.repeat(still.irrigation_mm, 24, axis=1),
        crop=np.repeat(still.crop, 24, axis=1),
        roots=np.repeat(still.roots, 24, axis=1),
        step_hours=1.0,
    )
    day, hour = run_columns(columns, still, start), run_columns(columns, hourly, start)
    room = np.sum(columns.sat_mm - columns.wp_mm, axis=1)
    off = np.abs(stored_mm(columns, day.end) - stored_mm(columns, hour.end))
    assert np.all(off <= 0.06 * room)


def test_a_result_that_does_not_close_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    from soakbook.balance import run
    from soakbook.errors import SoakbookError

    monkeypatch.setattr(run, "balance_error", lambda *a: 1e-6)
    with pytest.raises(SoakbookError, match="does not close"):
        run_columns(*random_case(1))
