"""Series to reference evapotranspiration: FAO-56 Example 18 through the series, routes of humidity, dew."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.physics import air
from soakbook.weather.eto import series_eto, series_eto_uncut, series_vapour_pressure
from soakbook.weather.series import WeatherSeries

UCCLE = {"lat_deg": 50.80, "lon_deg": 4.36, "elevation_m": 100.0}


def series(step: Literal["day", "hour"], times: list[str], **columns: Any) -> WeatherSeries:
    unit = "D" if step == "day" else "s"
    return WeatherSeries(
        step=step,
        times=np.array(times, dtype=f"datetime64[{unit}]"),
        columns={k: np.atleast_1d(np.asarray(v, dtype=float)) for k, v in columns.items()},
        time_zone="UTC",
        source="typed in the test",
        kind=np.zeros(len(times), dtype=np.uint8),
        **UCCLE,
    )


def uccle(**humidity: float) -> WeatherSeries:
    """FAO-56 Example 18: Uccle, 6 July (radiation and wind as worked out in the book)."""
    return series("day", ["2015-07-06"], t_max_c=21.5, t_min_c=12.3, solar_mj_m2=22.07, wind_2m_ms=2.078, **humidity)


@pytest.mark.parametrize(
    "humidity",
    [
        {"rh_max_pct": 84.0, "rh_min_pct": 63.0},
        {"vapour_pressure_kpa": 1.409},
        {"dew_point_c": 12.07},  # e0 of 1.409 kPa, Annex 2 Table 2.3: 12.0 °C is 1.403, 12.5 °C 1.449
    ],
)
def test_example_18_by_three_routes_of_humidity(humidity: dict[str, float]) -> None:
    assert series_eto(uccle(**humidity))[0] == pytest.approx(3.88, abs=0.01)


def test_the_best_route_present_at_each_step_is_taken() -> None:
    nan = np.nan
    many = series(
        "day",
        [f"2015-07-0{d}" for d in range(1, 6)],
        t_max_c=[25.0] * 5,
        t_min_c=[18.0] * 5,
        vapour_pressure_kpa=[1.0, nan, nan, nan, nan],
        dew_point_c=[10.0, 10.0, nan, nan, nan],
        rh_max_pct=[82.0, 82.0, 82.0, 82.0, nan],
        rh_min_pct=[54.0, 54.0, 54.0, nan, nan],
        rh_mean_pct=[68.0] * 5,
    )
    # FAO-56 Example 5 for the last three; Annex 2: e0(10 °C) = 1.228 kPa.
    np.testing.assert_allclose(series_vapour_pressure(many), [1.0, 1.228, 1.70, 2.064 * 0.82, 1.78], atol=0.005)


def test_dew_is_no_demand_but_can_be_seen() -> None:
    cold = series(
        "day",
        ["2015-12-20"],
        t_max_c=-5.0,
        t_min_c=-15.0,
        solar_mj_m2=2.5,
        wind_2m_ms=1.0,
        vapour_pressure_kpa=air.saturation_vapour_pressure_kpa(-7.0),
    )
    assert series_eto_uncut(cold)[0] < 0.0
    assert series_eto(cold)[0] == 0.0


def test_hours_use_the_hourly_equation() -> None:
    """ASCE-EWRI 2005 hour ending 13:00 on 2 July at Greeley, 0.79 mm (moved to that place)."""
    hour = WeatherSeries(
        step="hour",
        times=np.array(["2000-07-02T19:00"], dtype="datetime64[s]"),
        columns={
            "t_mean_c": np.array([31.8]),
            "vapour_pressure_kpa": np.array([0.98]),
            "solar_mj_m2": np.array([3.34]),
            "wind_2m_ms": np.array([2.76 * 0.921]),
        },
        lat_deg=40.41,
        lon_deg=-104.78,
        elevation_m=1462.4,
        time_zone="America/Denver",
        source="typed in the test",
        kind=np.zeros(1, dtype=np.uint8),
    )
    assert series_eto(hour)[0] == pytest.approx(0.79, abs=0.005)
    assert series_eto(hour, "FAO56")[0] < series_eto(hour)[0]  # larger surface resistance by day


def test_missing_stays_missing_for_its_day_only() -> None:
    two = series(
        "day",
        ["2015-07-05", "2015-07-06"],
        t_max_c=[np.nan, 21.5],
        t_min_c=[12.0, 12.3],
        solar_mj_m2=[20.0, 22.07],
        wind_2m_ms=[2.0, 2.078],
        vapour_pressure_kpa=[1.4, 1.409],
    )
    assert np.isnan(series_eto(two)).tolist() == [True, False]


def test_what_is_lacking_is_named() -> None:
    with pytest.raises(InputError, match="no humidity"):
        series_eto(uccle())
    bare = series("day", ["2015-07-06"], t_max_c=21.5, t_min_c=12.3, vapour_pressure_kpa=1.4, wind_2m_ms=2.0)
    with pytest.raises(InputError, match="no solar_mj_m2"):
        series_eto(bare)
