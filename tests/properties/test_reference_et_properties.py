"""What physics and arithmetic demand of reference evapotranspiration, by the day and by the hour."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soakbook.errors import InputError
from soakbook.physics import air, sun
from soakbook.physics import evapotranspiration as et

SHORT = settings(max_examples=60, deadline=None, derandomize=True)

DAY: dict[str, Any] = {
    "vapour_pressure_kpa": 1.4,
    "solar_mj_m2": 20.0,
    "wind_2m_ms": 2.0,
    "elevation_m": 100.0,
    "lat_deg": 45.0,
    "day_of_year": 180,
}


@st.composite
def summer_days(draw: st.DrawFn) -> dict[str, Any]:
    t_min = draw(st.floats(5.0, 25.0))
    t_max = t_min + draw(st.floats(2.0, 18.0))
    humid = draw(st.floats(0.2, 0.95))
    return {
        "t_max_c": t_max,
        "t_min_c": t_min,
        "vapour_pressure_kpa": humid * float(air.saturation_vapour_pressure_kpa(t_min)),
        "solar_mj_m2": draw(st.floats(3.0, 32.0)),
        "wind_2m_ms": draw(st.floats(0.3, 8.0)),
        "elevation_m": draw(st.floats(0.0, 2500.0)),
        "lat_deg": draw(st.floats(-55.0, 55.0)),
        "day_of_year": draw(st.integers(1, 366)),
    }


@SHORT
@given(summer_days(), st.floats(0.5, 5.0))
def test_more_sun_never_lowers_it(day: dict[str, Any], more: float) -> None:
    assert et.reference_et_daily(**{**day, "solar_mj_m2": day["solar_mj_m2"] + more}) > et.reference_et_daily(**day)


@SHORT
@given(summer_days(), st.floats(0.02, 0.2))
def test_drier_air_raises_it(day: dict[str, Any], less: float) -> None:
    """Drier air pulls more; the longwave loss it also brings is smaller except in still air."""
    windy = {**day, "wind_2m_ms": max(day["wind_2m_ms"], 1.0)}
    dry = {**windy, "vapour_pressure_kpa": windy["vapour_pressure_kpa"] * (1.0 - less)}
    assert et.reference_et_daily(**dry) > et.reference_et_daily(**windy) - 1e-12


@SHORT
@given(summer_days())
def test_it_stays_below_the_energy_and_the_drying_power_added(day: dict[str, Any]) -> None:
    """The weights of both terms are between 0 and 1, so their unweighted sum bounds the result."""
    clear = sun.clear_sky_mj_m2(
        sun.extraterrestrial_daily_mj_m2(day["lat_deg"], day["day_of_year"]), day["elevation_m"]
    )
    net = et.net_radiation_daily_mj_m2(
        day["t_max_c"], day["t_min_c"], day["vapour_pressure_kpa"], day["solar_mj_m2"], clear
    )
    deficit = air.mean_saturation_vapour_pressure_kpa(day["t_max_c"], day["t_min_c"]) - day["vapour_pressure_kpa"]
    drying = 900.0 / (0.5 * (day["t_max_c"] + day["t_min_c"]) + 273.0) * day["wind_2m_ms"] * deficit
    assert et.reference_et_daily(**day) <= 0.408 * max(float(net), 0.0) + float(drying)


@SHORT
@given(summer_days())
def test_conventions_differ_by_their_rounding_only(day: dict[str, Any]) -> None:
    ours, theirs = et.reference_et_daily(**day), et.reference_et_daily(**day, convention="ASCE2005")
    assert abs(float(ours - theirs)) < 0.005


def test_broadcast_gives_what_single_days_give() -> None:
    lats, days = np.array([-40.0, 0.0, 50.0]), np.array([[20], [200]])
    both = et.reference_et_daily(25.0, 12.0, **{**DAY, "lat_deg": lats, "day_of_year": days})
    assert both.shape == (2, 3)
    one = et.reference_et_daily(25.0, 12.0, **{**DAY, "lat_deg": 50.0, "day_of_year": 20})
    assert both[0, 2] == one


def test_opposite_latitudes_half_a_year_apart_are_alike() -> None:
    north = et.reference_et_daily(25.0, 12.0, **{**DAY, "lat_deg": 40.0, "day_of_year": 81})
    south = et.reference_et_daily(25.0, 12.0, **{**DAY, "lat_deg": -40.0, "day_of_year": 81})
    assert float(north) == pytest.approx(float(south), abs=0.02)  # near the equinox


def test_missing_values_stay_missing_and_spread_no_further() -> None:
    t_max = np.array([25.0, np.nan, 25.0])
    out = et.reference_et_daily(t_max, 12.0, **DAY)
    assert np.isnan(out).tolist() == [False, True, False]
    for name in ("vapour_pressure_kpa", "solar_mj_m2", "wind_2m_ms", "elevation_m"):
        assert np.isnan(et.reference_et_daily(25.0, 12.0, **{**DAY, name: np.nan}))


@pytest.mark.parametrize("name", ["vapour_pressure_kpa", "solar_mj_m2", "wind_2m_ms"])
def test_negative_weather_is_refused(name: str) -> None:
    with pytest.raises(InputError, match=f"{name} must be 0 or more"):
        et.reference_et_daily(25.0, 12.0, **{**DAY, name: -0.1})


def test_unknown_convention_is_refused() -> None:
    with pytest.raises(InputError, match="FAO56 short"):
        et.reference_et_daily(25.0, 12.0, **DAY, convention="PENMAN")  # type: ignore[arg-type]
    with pytest.raises(InputError, match="FAO56 tall"):
        et.reference_et_daily(25.0, 12.0, **DAY, surface="tall")


def test_cold_clear_winter_day_may_be_negative_and_is_not_cut() -> None:
    cold = et.reference_et_daily(
        -5.0,
        -15.0,
        vapour_pressure_kpa=air.saturation_vapour_pressure_kpa(-7.0),
        solar_mj_m2=2.5,
        wind_2m_ms=1.0,
        elevation_m=100.0,
        lat_deg=58.0,
        day_of_year=355,
    )
    assert -0.5 < float(cold) < 0.0


def test_polar_night_is_finite() -> None:
    dark = et.reference_et_daily(-2.0, -8.0, **{**DAY, "solar_mj_m2": 0.0, "vapour_pressure_kpa": 0.3,
                                                "lat_deg": 75.0, "day_of_year": 355})  # fmt: skip
    assert np.isfinite(dark)


def test_soil_heat_and_mean_temperature_are_used() -> None:
    plain = et.reference_et_daily(25.0, 12.0, **DAY)
    assert et.reference_et_daily(25.0, 12.0, **DAY, soil_heat_mj_m2=1.0) < plain
    assert et.reference_et_daily(25.0, 12.0, **DAY, t_mean_c=18.5) == plain
    assert et.reference_et_daily(25.0, 12.0, **DAY, t_mean_c=20.0) != plain


def test_result_goes_where_asked_and_only_if_it_fits() -> None:
    room = np.zeros(3)
    got = et.reference_et_daily([25.0, 26.0, 27.0], 12.0, **DAY, out=room)
    assert got is room
    np.testing.assert_array_equal(room, et.reference_et_daily([25.0, 26.0, 27.0], 12.0, **DAY))
    with pytest.raises(InputError, match="out must be"):
        et.reference_et_daily([25.0, 26.0], 12.0, **DAY, out=room)


def hours(n: int, first: str = "2026-07-01") -> np.ndarray:
    return np.datetime64(first, "s") + 3600 * np.arange(n)


def clear_hours(times: np.ndarray, lat: float, part: float) -> np.ndarray:
    return part * sun.clear_sky_mj_m2(sun.extraterrestrial_period_mj_m2(lat, 0.0, times), 0.0)


def test_hours_add_up_to_about_the_day() -> None:
    """ASCE-EWRI 2005 chose the hourly constants so that hours sum to the day within a few per cent."""
    times = hours(48)
    solar = clear_hours(times, 45.0, 0.8)
    t = 20.0 + 7.0 * np.cos(2 * np.pi * (np.arange(48) - 15.0) / 24.0)
    hourly = et.reference_et_hourly(t, 1.5, solar, 2.0, 0.0, 45.0, 0.0, times)[24:].sum()
    daily = et.reference_et_daily(
        27.0,
        13.0,
        vapour_pressure_kpa=1.5,
        solar_mj_m2=solar[24:].sum(),
        wind_2m_ms=2.0,
        elevation_m=0.0,
        lat_deg=45.0,
        day_of_year=183,
    )
    assert hourly == pytest.approx(float(daily), rel=0.06)


def ratios(times: np.ndarray, lat: float, solar: np.ndarray, first: float = 0.6) -> np.ndarray:
    clear = clear_hours(times, lat, 1.0)
    middle = sun.middle_of_period(times)
    decl = sun.declination_rad(sun.solar_day_of_year(0.0, middle))
    return et.carried_cloud_ratio(
        solar, clear, sun.sine_of_elevation(lat, decl, sun.hour_angle_rad(0.0, middle)), first
    )


def test_cloudiness_of_the_evening_lasts_through_the_night() -> None:
    times = hours(72)
    solar = clear_hours(times, 45.0, 0.9)
    solar[:24] *= 0.5 / 0.9
    ratio = ratios(times, 45.0, solar)
    assert ratio[0] == 0.6  # nothing known yet
    np.testing.assert_allclose(ratio[12:29], 0.5)  # first day and the night after it
    np.testing.assert_allclose(ratio[36:54], 0.9)


def test_a_gap_at_noon_leaves_the_last_known_cloudiness() -> None:
    times = hours(24)
    solar = clear_hours(times, 45.0, 0.7)
    solar[12:14] = np.nan
    ratio = ratios(times, 45.0, solar)
    np.testing.assert_allclose(ratio[12:14], 0.7)


def test_where_the_sun_stays_low_the_last_day_as_a_whole_tells() -> None:
    """At 52° N in December the noon sun stands at 0.25 rad, never above the 0.3 rad of ASCE-EWRI 2005."""
    times = hours(96, "2026-12-18")
    ratio = ratios(times, 52.0, clear_hours(times, 52.0, 0.8))
    assert np.all(ratio[:16] == 0.6)
    np.testing.assert_allclose(ratio[24:], 0.8)


def test_cloudiness_is_kept_between_its_limits() -> None:
    times = hours(24)
    assert ratios(times, 45.0, clear_hours(times, 45.0, 0.1))[12] == 0.3
    assert ratios(times, 45.0, clear_hours(times, 45.0, 1.3))[12] == 1.0


def test_many_places_by_the_hour_give_what_single_places_give() -> None:
    times = hours(48)
    lat = np.array([30.0, 45.0])
    solar = np.stack([clear_hours(times, float(v), 0.7) for v in lat], axis=1)
    both = et.reference_et_hourly(np.full((48, 2), 18.0), 1.2, solar, 2.0, 50.0, lat, np.zeros(2), times)
    for column in range(2):
        one = et.reference_et_hourly(
            np.full(48, 18.0), 1.2, solar[:, column], 2.0, 50.0, float(lat[column]), 0.0, times
        )
        np.testing.assert_allclose(both[:, column], one, rtol=0, atol=1e-14)


def test_hours_with_a_gap_are_refused() -> None:
    times = hours(4)[[0, 1, 3]]
    with pytest.raises(InputError, match="follow each other"):
        et.reference_et_hourly([20.0] * 3, 1.2, [0.0] * 3, 2.0, 0.0, 45.0, 0.0, times)


def test_measured_pressure_replaces_that_of_the_elevation() -> None:
    times = hours(3, "2026-07-01T10")
    call = ([25.0] * 3, 1.2, [2.5] * 3, 2.0, 0.0, 45.0, 0.0, times)
    same = et.reference_et_hourly(*call, pressure_kpa=float(air.pressure_kpa(0.0)))
    np.testing.assert_allclose(same, et.reference_et_hourly(*call))
    assert np.all(et.reference_et_hourly(*call, pressure_kpa=80.0) != same)
