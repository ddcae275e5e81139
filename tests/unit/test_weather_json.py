"""JSON of the two services, from answers kept of them."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.weather.read import read_weather
from soakbook.weather.series import FORECAST, OBSERVED, REJECTED
from soakbook.weather.sources.nws import parse_nws, parse_points, parse_stations
from soakbook.weather.sources.open_meteo import parse_open_meteo

DATA = Path(__file__).parent.parent / "data" / "weather"
MELBOURNE = DATA / "open_meteo_forecast_melbourne_2024-01-16.json"
GRID = DATA / "nws_detailed_forecast.json"


def melbourne(drop: str = "") -> dict[str, Any]:
    data: dict[str, Any] = json.loads(MELBOURNE.read_text())
    if drop:
        del data[drop]
    return data


def test_daily_with_old_names_and_iso_times() -> None:
    series = read_weather(DATA / "open_meteo_forecast_daily_berlin_2023-05-28.json")
    assert (series.step, len(series), str(series.times[0])) == ("day", 7, "2023-05-28")
    assert series.get("t_max_c")[0] == 23.8
    assert series.get("eto_mm")[0] == 5.23
    assert (series.kind == FORECAST).all()
    # only the day's highest wind is there
    assert "wind_2m_ms" not in series.columns


def test_daily_with_unix_times_is_dated_by_the_local_day() -> None:
    series = read_weather(MELBOURNE)
    assert (series.step, len(series), str(series.times[0])) == ("day", 16, "2024-01-16")
    assert series.get("sunshine_h")[0] == pytest.approx(47891.68 / 3600)
    assert np.isnan(series.get("rain_chance_pct")[-5:]).all()


def test_hours_with_new_names_end_at_their_stamp() -> None:
    series = parse_open_meteo(json.dumps(melbourne("daily")))
    assert (series.step, len(series)) == ("hour", 24)
    # 1705395600 is 2024-01-16 09:00 UTC
    assert str(series.times[0]) == "2024-01-16T08:00:00"
    assert series.get("solar_mj_m2")[0] == pytest.approx(168.0 * 0.0036)
    assert series.get("pressure_kpa")[0] == pytest.approx(100.27)
    assert series.get("wind_2m_ms")[0] == pytest.approx(15.8 / 3.6 * 4.87 / np.log(67.8 * 10 - 5.42))
    assert series.get("rain_mm").sum() == pytest.approx(15.0)
    assert series.get("eto_mm").sum() == pytest.approx(3.5, abs=0.05)


def test_steps_before_now_are_observed() -> None:
    now = datetime(2024, 1, 16, 14, 20, tzinfo=UTC)
    series = parse_open_meteo(json.dumps(melbourne("daily")), now_utc=now)
    assert series.kind[series.times < np.datetime64("2024-01-16T14:00")].tolist() == [OBSERVED] * 6
    assert (series.kind[6:] == FORECAST).all()
    days = parse_open_meteo(json.dumps(melbourne("hourly")), now_utc=now)
    # 14:20 UTC is the next day in Sydney
    assert days.kind.tolist() == [OBSERVED] + [FORECAST] * 15


def test_us_units() -> None:
    data = melbourne("hourly")
    data["daily_units"] |= {"temperature_2m_max": "°F", "temperature_2m_min": "°F", "precipitation_sum": "inch"}
    series = parse_open_meteo(json.dumps(data))
    assert series.get("t_max_c")[0] == pytest.approx((32.1 - 32) / 1.8)
    assert series.get("rain_mm")[1] == pytest.approx(15.0 * 25.4)


def test_gridpoint_intervals_are_expanded() -> None:
    series = read_weather(GRID, time_zone="America/New_York")
    assert series.step == "hour"
    assert str(series.times[0]) == "2022-02-03T21:00:00"
    assert series.get("t_mean_c")[0] == pytest.approx(22.7777777)
    # 2022-02-04T01:00/PT10H holds 18.9 °C for ten hours
    assert (series.get("t_mean_c")[4:14] == series.get("t_mean_c")[4]).all()
    assert (series.kind == FORECAST).all()
    assert (round(series.lat_deg, 1), round(series.lon_deg, 1)) == (30.0, -85.0)


def test_gridpoint_rain_keeps_its_total() -> None:
    layer = json.loads(GRID.read_text())["properties"]["quantitativePrecipitation"]["values"]
    series = read_weather(GRID, time_zone="America/New_York")
    assert np.nansum(series.get("rain_mm")) == pytest.approx(sum(v["value"] for v in layer))


def test_observation_list() -> None:
    series = read_weather(DATA / "nws_stations_observations.json", time_zone="America/New_York")
    assert (len(series), str(series.times[0])) == (1, "2019-06-27T10:00:00")
    assert (series.get("t_mean_c")[0], series.get("pressure_kpa")[0]) == (10.0, 100.0)
    assert (series.lat_deg, series.lon_deg, series.elevation_m) == (26.07, -80.15, 10.0)
    assert (series.kind == OBSERVED).all()


def test_observation_that_failed_its_check_is_rejected() -> None:
    data = json.loads((DATA / "nws_stations_observations.json").read_text())
    data["features"][0]["properties"]["dewpoint"]["qualityControl"] = "qc:X"
    later = json.loads(json.dumps(data["features"][0]))
    later["properties"]["timestamp"] = "2019-06-27T11:53:00+00:00"
    later["properties"]["dewpoint"] |= {"value": 12, "qualityControl": "qc:V"}
    data["features"].append(later)
    series = parse_nws(json.dumps(data))
    assert series.flag("dew_point_c").tolist() == [REJECTED, 0]
    np.testing.assert_array_equal(series.get("dew_point_c"), [np.nan, 12.0])


def test_hourly_forecast_list() -> None:
    series = read_weather(DATA / "nws_gridpoints_forecast_hourly_si.json", time_zone="America/New_York")
    assert series.get("t_mean_c").tolist() == [25.5, 25.0]
    assert str(series.times[0]) == "2019-10-15T00:00:00"


def test_point() -> None:
    point = parse_points((DATA / "nws_points.json").read_text())
    assert (point.office, point.grid_x, point.grid_y, point.time_zone) == ("TAE", 58, 65, "America/New_York")
    with pytest.raises(InputError, match="holds no weather"):
        read_weather(DATA / "nws_points.json")


def test_stations_with_odd_names_are_left_out() -> None:
    names = ["KTLH", "../etc", 7, "KAAF"]
    text = json.dumps({"features": [{"properties": {"stationIdentifier": n}} for n in names]})
    assert parse_stations(text) == ["KTLH", "KAAF"]
