"""Hours to local standard days, and clock changes."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.weather.daily import hourly_to_daily
from soakbook.weather.series import FILLED_NEIGHBOUR, FILLED_RULE, FORECAST, OBSERVED, FloatArray, WeatherSeries
from soakbook.weather.zones import clock_to_utc, standard_offset_s, zone_of_offset


def hours(first_utc: str, n: int, zone: str = "Europe/Berlin", **columns: FloatArray) -> WeatherSeries:
    times = np.datetime64(first_utc, "s") + np.arange(n) * np.timedelta64(3600, "s")
    return WeatherSeries(
        step="hour", times=times, columns=columns or {"t_mean_c": np.arange(n) % 24.0},
        lat_deg=52.5, lon_deg=13.4, elevation_m=40.0, time_zone=zone, source="made up",
        kind=np.zeros(n, dtype=np.uint8),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("zone", "hours_ahead"),
    [
        ("Europe/Berlin", 1), ("Europe/Dublin", 0), ("America/New_York", -5), ("Australia/Sydney", 10),
        ("Asia/Kolkata", 5.5), ("America/Phoenix", -7), ("UTC", 0), ("Etc/GMT+7", -7),
    ],
)  # fmt: skip
def test_standard_time_of_a_zone(zone: str, hours_ahead: float) -> None:
    assert standard_offset_s(zone, 2024) == hours_ahead * 3600


@pytest.mark.parametrize("offset", [-9.5, -7, 0, 5.5, 5.75, 9.5, 10, 12.75])
def test_a_zone_for_an_offset_has_that_offset(offset: float) -> None:
    # Tehran, St John's and others changed their rules over time; 2024 is asked.
    assert standard_offset_s(zone_of_offset(offset), 2024) == offset * 3600


def test_days_have_24_hours_when_clocks_change() -> None:
    # Berlin: clocks forward on 31 March 2024, back on 27 October 2024. Standard days begin at 23:00 UTC.
    for first in ("2024-03-29T23:00", "2024-10-25T23:00"):
        ones = np.ones(96)
        days = hourly_to_daily(hours(first, 96, t_mean_c=np.arange(96.0), rain_mm=ones))
        assert len(days) == 4
        assert days.get("rain_mm").tolist() == [24.0] * 4
        assert days.get("t_max_c").tolist() == [23.0, 47.0, 71.0, 95.0]
    assert any("standard time" in n for n in days.notes)


def test_extremes_means_and_sums() -> None:
    t = np.tile(np.arange(24.0), 2)
    days = hourly_to_daily(
        hours(
            "2024-01-01T23:00", 48, t_mean_c=t, rh_mean_pct=90 - t, solar_mj_m2=t / 10, wind_2m_ms=t, rain_chance_pct=t
        )
    )
    assert (days.get("t_max_c")[0], days.get("t_min_c")[0], days.get("t_mean_c")[0]) == (23.0, 0.0, 11.5)
    assert (days.get("rh_max_pct")[0], days.get("rh_min_pct")[0]) == (90.0, 67.0)
    assert days.get("solar_mj_m2")[0] == pytest.approx(27.6)
    assert days.get("wind_2m_ms")[0] == 11.5
    assert days.get("rain_chance_pct")[0] == 23.0


def test_two_missing_hours_are_bridged_three_are_not() -> None:
    t = np.tile(np.arange(24.0), 3)
    t[24 + 10 : 24 + 12] = np.nan
    t[48 + 10 : 48 + 13] = np.nan
    days = hourly_to_daily(hours("2024-01-01T23:00", 72, t_mean_c=t))
    assert days.flag("t_mean_c").tolist() == [0, FILLED_NEIGHBOUR, 0]
    assert days.get("t_mean_c")[1] == pytest.approx(11.5)
    assert np.isnan(days.get("t_mean_c")[2])


def test_missing_rain_hours_count_as_dry_and_are_flagged() -> None:
    rain = np.ones(48)
    rain[30] = np.nan
    days = hourly_to_daily(hours("2024-01-01T23:00", 48, t_mean_c=np.zeros(48), rain_mm=rain))
    assert days.get("rain_mm").tolist() == [24.0, 23.0]
    assert days.flag("rain_mm").tolist() == [0, FILLED_RULE]


def test_days_cut_off_at_the_ends_are_left_out() -> None:
    days = hourly_to_daily(hours("2024-01-01T12:00", 60))
    assert [str(t) for t in days.times] == ["2024-01-02", "2024-01-03"]
    assert any("cut off" in n for n in days.notes)
    with pytest.raises(InputError, match="no day"):
        hourly_to_daily(hours("2024-01-01T12:00", 15))


def test_a_day_with_a_forecast_hour_is_a_forecast() -> None:
    series = hours("2024-01-01T23:00", 48)
    series.kind[40:] = FORECAST
    assert hourly_to_daily(series).kind.tolist() == [OBSERVED, FORECAST]


def test_clock_time_across_the_spring_change() -> None:
    # 31 March 2024, Berlin: 01:00 is 00:00 UTC, 03:00 is 01:00 UTC.
    utc, said = clock_to_utc([datetime(2024, 3, 31, 1), datetime(2024, 3, 31, 3)], "Europe/Berlin")
    assert [str(t) for t in utc] == ["2024-03-31T00:00:00", "2024-03-31T01:00:00"]
    assert "clock time" in said


def test_unknown_zone() -> None:
    with pytest.raises(InputError, match="Mars/Olympus"):
        standard_offset_s("Mars/Olympus", 2024)
    with pytest.raises(InputError, match="not in use"):
        zone_of_offset(3.2)
