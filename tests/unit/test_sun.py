"""Sun: its place against pvlib (Reda & Andreas algorithm), diffuse fractions, shade of a horizon."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest

from soakbook.errors import InputError
from soakbook.physics import sun

YEAR = np.arange("2026-01-01", "2027-01-01", dtype="datetime64[D]")
WALL_SOUTH = ((90.0, 0.0), (90.0, 40.0), (270.0, 40.0), (270.0, 0.0))


@pytest.mark.parametrize("lat", [-77.8, -54.0, -33.9, -12.0, 0.0, 8.5, 23.4, 40.0, 51.5, 60.2, 69.6, 89.0])
@pytest.mark.parametrize("year", [1955, 2026, 2049])
def test_position_agrees_with_pvlib(lat: float, year: int) -> None:
    lon = 17.0 - 2.0 * lat
    times = np.datetime64(f"{year}-01-03T00:17", "s") + np.arange(0, 362 * 86400, 40_000)
    azimuth, elevation = sun.solar_position_deg(lat, lon, times)
    theirs = pvlib.solarposition.get_solarposition(
        pd.DatetimeIndex(times, tz="UTC"), lat, lon, method="nrel_numpy", delta_t=67.0
    )
    assert np.max(np.abs(elevation - theirs["elevation"].to_numpy())) < 0.05
    turn = np.mod(azimuth - theirs["azimuth"].to_numpy() + 180.0, 360.0) - 180.0
    on_the_sky = turn * np.cos(np.radians(elevation))  # an azimuth means little near the zenith
    assert np.max(np.abs(on_the_sky)) < 0.05


def test_sun_stands_south_at_noon_in_the_north_and_north_in_the_south() -> None:
    noon = np.array(["2026-09-10T12:00"], dtype="datetime64[s]")
    assert abs(sun.solar_position_deg(45.0, 0.0, noon)[0][0] - 180.0) < 5.0
    azimuth = sun.solar_position_deg(-45.0, 0.0, noon)[0][0]
    assert min(azimuth, 360.0 - azimuth) < 5.0


@pytest.mark.parametrize("lat", [-75.0, -40.0, 0.0, 52.0, 66.0, 75.0])
@pytest.mark.parametrize("day", ["2026-01-10", "2026-03-21", "2026-06-21", "2026-10-05"])
def test_hours_of_extraterrestrial_radiation_add_up_to_the_day(lat: float, day: str) -> None:
    starts = np.datetime64(day, "s") + 3600 * np.arange(24)
    total = sun.extraterrestrial_period_mj_m2(lat, 0.0, starts).sum()
    whole = float(sun.extraterrestrial_daily_mj_m2(lat, sun.solar_day_of_year(0.0, starts)[12]))
    assert total == pytest.approx(whole, abs=0.02 + 0.002 * whole)


def test_extraterrestrial_radiation_agrees_with_pvlib_over_a_day() -> None:
    starts = np.datetime64("2026-05-12", "s") + 600 * np.arange(144)
    times = pd.DatetimeIndex(starts + np.timedelta64(300, "s"), tz="UTC")
    zenith = pvlib.solarposition.get_solarposition(times, 48.0, 11.0, method="nrel_numpy")["zenith"].to_numpy()
    normal = pvlib.irradiance.get_extra_radiation(times, solar_constant=0.0820e6 / 60.0).to_numpy()
    theirs = float(np.sum(normal * np.clip(np.cos(np.radians(zenith)), 0.0, None)) * 600.0 / 1e6)
    ours = float(sun.extraterrestrial_daily_mj_m2(48.0, 132))
    assert ours == pytest.approx(theirs, rel=0.01)  # Eqs. 23 and 24 are one-term series


def test_polar_night_and_day() -> None:
    assert sun.extraterrestrial_daily_mj_m2(80.0, 355) == 0.0
    assert sun.daylight_hours(80.0, 172) == pytest.approx(24.0)
    midnight = np.array(["2026-06-21T23:30"], dtype="datetime64[s]")
    assert sun.extraterrestrial_period_mj_m2(80.0, 0.0, midnight)[0] > 0.5
    assert np.isnan(sun.solar_from_sunshine(0.0, 0.0, 0.0))


def test_day_of_year_turns_at_local_midnight() -> None:
    late = np.array(["2026-03-01T13:00"], dtype="datetime64[s]")
    assert sun.solar_day_of_year(0.0, late)[0] == 60
    assert sun.solar_day_of_year(179.0, late)[0] == 61


def test_latitude_out_of_range_is_refused() -> None:
    with pytest.raises(InputError, match=r"lat_deg must be between -90 and 90 \(got 91\)"):
        sun.extraterrestrial_daily_mj_m2([10.0, 91.0], 1)


def test_temperature_range_gives_no_more_than_a_clear_sky_and_nothing_where_swapped() -> None:
    assert sun.solar_from_temperature_range(40.0, -5.0, 40.0) == pytest.approx(30.0)
    assert np.isnan(sun.solar_from_temperature_range(10.0, 12.0, 40.0))


def test_hourly_diffuse_fraction_agrees_with_pvlib() -> None:
    times = pd.DatetimeIndex(["2026-06-21 12:00"] * 60, tz="UTC")
    zenith = np.full(60, 30.0)
    extra = pvlib.irradiance.get_extra_radiation(times).to_numpy() * np.cos(np.radians(30.0))
    clearness = np.linspace(0.01, 0.99, 60)
    theirs = pvlib.irradiance.erbs(pd.Series(clearness * extra, times), pd.Series(zenith, times), times)
    np.testing.assert_allclose(
        sun.diffuse_fraction_hourly(clearness), theirs["dhi"].to_numpy() / (clearness * extra), atol=2e-3
    )


@pytest.mark.parametrize(
    ("sunset_deg", "edge", "after", "step"), [(75.0, 0.715, 0.143, 0.003), (95.0, 0.722, 0.175, 0.016)]
)
def test_daily_diffuse_fraction_meets_its_constant_at_the_published_edge(
    sunset_deg: float, edge: float, after: float, step: float
) -> None:
    # Erbs et al. (1982): constant 0.143 from clearness 0.715 in winter, 0.175 from 0.722 in the rest of the
    # year. The published cubic of the rest of the year ends 0.015 above its constant.
    sunset = np.radians(sunset_deg)
    assert sun.diffuse_fraction_daily(edge - 1e-9, sunset) == pytest.approx(after, abs=step)
    assert sun.diffuse_fraction_daily(0.8, sunset) == after
    assert sun.diffuse_fraction_daily(0.0, sunset) == 1.0
    falling = sun.diffuse_fraction_daily(np.linspace(0.1, 0.7, 50), sunset)
    assert np.all(np.diff(falling) <= 1e-3)
    assert np.isnan(sun.diffuse_fraction_daily(np.nan, sunset))


def test_no_horizon_changes_nothing() -> None:
    shade = sun.shaded_fraction_of_sun((), 48.0, 11.0, day_of_year=np.arange(1, 366))
    assert shade.sky_view == pytest.approx(1.0)
    assert np.all(shade.beam_kept == 1.0)
    level = sun.shaded_fraction_of_sun(
        ((0.0, 0.0),), 48.0, 11.0, times_utc=np.arange("2026-05-01", "2026-05-03", dtype="datetime64[h]")
    )
    assert np.all(level.beam_kept == 1.0)
    rs, ra = np.array([20.0, 5.0]), np.array([40.0, 40.0])
    open_sky = sun.Shade(np.ones(2), 1.0)
    np.testing.assert_allclose(sun.shaded_radiation(rs, ra, open_sky, sunset_hour_angle_rad=1.9), rs)


@pytest.mark.parametrize("elevation", [5.0, 20.0, 45.0, 80.0])
def test_sky_view_of_a_level_horizon_is_the_squared_cosine(elevation: float) -> None:
    assert sun.sky_view_factor(((123.0, elevation),)) == pytest.approx(np.cos(np.radians(elevation)) ** 2)


def test_sky_view_of_a_broken_horizon_agrees_with_plain_summing() -> None:
    horizon = ((10.0, 5.0), (80.0, 60.0), (200.0, 0.0), (310.0, 35.0))
    azimuth = (np.arange(36_000) + 0.5) / 100.0
    summed = np.mean(np.cos(np.radians(sun.horizon_elevation_deg(horizon, azimuth))) ** 2)
    assert sun.sky_view_factor(horizon) == pytest.approx(float(summed), abs=1e-6)


def test_horizon_runs_on_through_north_and_takes_any_order() -> None:
    horizon = ((350.0, 10.0), (10.0, 30.0))
    np.testing.assert_allclose(
        sun.horizon_elevation_deg(horizon, [350.0, 0.0, 10.0, 365.0, 180.0]), [10, 20, 30, 25, 20]
    )
    assert sun.sky_view_factor(horizon[::-1]) == pytest.approx(sun.sky_view_factor(horizon))
    assert sun.horizon_elevation_deg(((-90.0, 12.0), (90.0, 0.0)), 270.0) == 12.0


def test_ends_given_at_0_and_360_close_the_circle() -> None:
    horizon = ((0.0, 10.0), (180.0, 0.0), (360.0, 10.0))
    np.testing.assert_allclose(
        sun.horizon_elevation_deg(horizon, [0.0, 90.0, 270.0, 359.999]), [10, 5, 5, 10], atol=1e-3
    )


def test_level_horizon_takes_the_day_up_to_its_height() -> None:
    # On the equator at equinox the sun passes overhead, so elevation and hour angle are one: all is kept
    # above 30°.
    shade = sun.beam_kept_daily(((0.0, 30.0),), 0.0, 81)
    height = np.radians(np.arange(0.005, 90.0, 0.01))
    beam = np.sin(height) * 0.7 ** (np.sin(height) ** -0.678)
    assert shade == pytest.approx(beam[height > np.pi / 6].sum() / beam.sum(), abs=0.01)


def test_south_wall_in_the_north_takes_more_in_winter_than_in_summer() -> None:
    winter, summer = sun.beam_kept_daily(WALL_SOUTH, 50.0, np.array([355, 172]))
    assert winter == 0.0  # noon sun stands at 16.6°
    assert 0.8 < summer <= 1.0


def test_wall_on_the_other_side_of_the_equator_mirrors() -> None:
    north = [((az + 180.0) % 360.0, el) for az, el in WALL_SOUTH]
    ours = sun.beam_kept_daily(WALL_SOUTH, 50.0, np.arange(1, 366))
    mirrored = sun.beam_kept_daily(north, -50.0, (np.arange(1, 366) + 182.5) % 365)
    np.testing.assert_allclose(ours, mirrored, atol=0.03)


def test_east_wall_takes_the_morning_only() -> None:
    east = ((0.0, 0.0), (0.0, 85.0), (180.0, 85.0), (180.0, 0.0))
    starts = np.datetime64("2026-06-21", "s") + 3600 * np.arange(24)
    kept = sun.beam_kept_hourly(east, 50.0, 0.0, starts)
    assert np.all(kept[5:11] == 0.0)
    assert np.all(kept[13:20] == 1.0)
    assert np.all(kept[[0, 23]] == 1.0)  # night: nothing to take
    assert sun.beam_kept_daily(east, 50.0, 172) == pytest.approx(0.5, abs=0.02)


def test_days_and_their_hours_agree() -> None:
    horizon = ((60.0, 10.0), (150.0, 35.0), (220.0, 5.0), (300.0, 25.0))
    starts = np.datetime64("2026-04-15", "s") + 3600 * np.arange(24)
    kept = sun.beam_kept_hourly(horizon, 48.0, 0.0, starts)
    clear = sun.extraterrestrial_period_mj_m2(48.0, 0.0, starts)
    sine = np.clip(clear / clear.max(), 0.05, None)
    weight = clear * 0.7 ** (sine**-0.678)
    day = float(sun.beam_kept_daily(horizon, 48.0, 105))
    assert float((kept * weight).sum() / weight.sum()) == pytest.approx(day, abs=0.03)


def test_shade_takes_beam_and_sky_light_apart() -> None:
    # Full shade of the beam under half a sky leaves half of the diffuse part.
    shade = sun.Shade(np.array([0.0]), 0.5)
    diffuse = sun.diffuse_fraction_daily(0.5, 1.9)
    got = sun.shaded_radiation([20.0], [40.0], shade, sunset_hour_angle_rad=1.9)
    np.testing.assert_allclose(got, 20.0 * diffuse * 0.5)
    dark = sun.shaded_radiation([0.1], [0.0], shade)
    np.testing.assert_allclose(dark, 0.05)


@pytest.mark.parametrize("pair", [(0.0, -1.0), (0.0, 91.0), (400.0, 10.0), (float("nan"), 10.0)])
def test_impossible_horizon_is_refused(pair: tuple[float, float]) -> None:
    with pytest.raises(InputError, match="horizon must hold"):
        sun.sky_view_factor((pair,))


def test_shade_asks_for_days_or_hours() -> None:
    with pytest.raises(InputError, match="exactly one"):
        sun.shaded_fraction_of_sun((), 0.0)
