"""Readers of fixed formats against excerpts of the sources' own files."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest

from soakbook.weather.daily import hourly_to_daily
from soakbook.weather.read import parse_weather, read_weather
from soakbook.weather.series import WeatherSeries
from soakbook.weather.write import weather_csv

DATA = Path(__file__).parent.parent / "data" / "weather"


def test_uscrn_untouched() -> None:
    series = read_weather(DATA / "uscrn_austin_2015_60_days.txt")
    assert (series.step, len(series), series.lat_deg, series.lon_deg) == ("day", 60, 30.62, -98.08)
    # first line of the file
    first = {name: float(values[0]) for name, values in series.columns.items()}
    assert first == {
        "t_max_c": 2.2, "t_min_c": -0.6, "t_mean_c": 0.9, "rain_mm": 7.0, "solar_mj_m2": 1.47,
        "rh_max_pct": 99.9, "rh_min_pct": 85.4, "rh_mean_pct": 97.2,
    }  # fmt: skip


def test_uscrn_with_heading() -> None:
    series = read_weather(DATA / "uscrn_manhattan_2009_40_days.csv")
    assert len(series) == 40
    assert series.source == "USCRN station 53974"
    assert (series.get("t_max_c")[1], series.get("rain_mm")[0]) == (31.2, 12.0)


def test_uscrn_missing_codes() -> None:
    text = (DATA / "uscrn_austin_2015_60_days.txt").read_text()
    text = text.replace("    2.2    -0.6 ", " -9999.0 -9999.0 ", 1)
    series = parse_weather(text, name="x")
    assert np.isnan(series.get("t_max_c")[0])
    assert not series.flags


def test_uscrn_plain_table_without_place() -> None:
    series = read_weather(DATA / "uscrn_tucson_2020_40_days.csv", lat_deg=32.24, lon_deg=-111.17, elevation_m=731.0)
    assert (len(series), series.lat_deg, series.elevation_m) == (40, 32.24, 731.0)
    assert series.get("t_max_c")[0] == 14.6


def test_tmy3_with_all_columns() -> None:
    series = read_weather(DATA / "phoenix_full_columns_3_days.tmy3")
    assert (series.lat_deg, series.lon_deg, series.elevation_m, series.time_zone) == (
        33.45,
        -111.983,
        337.0,
        "Etc/GMT+7",
    )
    # The record of 01:00 local standard time (UTC-7) is the hour from 07:00 UTC.
    assert str(series.times[0]) == "2002-01-01T07:00:00"
    assert (series.get("t_mean_c")[0], series.get("dew_point_c")[0], series.get("pressure_kpa")[0]) == (10.0, 5.6, 97.7)
    assert series.get("wind_2m_ms")[0] == pytest.approx(1.5 * 4.87 / np.log(67.8 * 10 - 5.42))
    assert "rain_mm" not in series.columns
    assert any("Precipitation is not read" in n for n in series.notes)


def test_tmy3_year_of_pieces_is_one_year() -> None:
    series = read_weather(DATA / "VT-Burlington_International_Ap_trimmed.csv.gz")
    assert len(series) == 8760
    days = hourly_to_daily(series)
    assert len(days) == 365
    assert (str(days.times[0]), str(days.times[-1])) == ("1987-01-01", "1987-12-31")
    # Global radiation of the year, summed here from the file itself.
    with gzip.open(DATA / "VT-Burlington_International_Ap_trimmed.csv.gz", "rt") as file:
        watts = [float(line.split(",")[2]) for line in file.read().splitlines()[2:]]
    assert days.get("solar_mj_m2").sum() == pytest.approx(sum(watts) * 0.0036)


def epw(rows: list[str]) -> str:
    head = ["LOCATION,Example Town,-,XXX,made up,000000,51.50,-0.10,0.0,25.0"]
    head += [
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
    ]
    head += ["COMMENTS 1,-", "COMMENTS 2,-", "DATA PERIODS,1,1,Data,Sunday,1/1,12/31"]
    return "\n".join(head + rows) + "\n"


def epw_row(hour: int, *, temp: float = 12.5, rain: float = 0.0, day: int = 1) -> str:
    fields = [
        2005, 7, day, hour, 60, "A7", temp, 8.0, 74, 101300, 0, 0, 300, 250, 9999, 9999, 9999, 9999, 9999, 9999,
        180, 4.0, 5, 5, 9999, 99999, 9, 999999999, 15, 0.1, 0, 88, 0.2, rain, 1,
    ]  # fmt: skip
    return ",".join(str(f) for f in fields)


def test_epw_fields_by_their_number() -> None:
    series = parse_weather(epw([epw_row(h) for h in range(1, 25)]), name="x.epw")
    assert (series.lat_deg, series.lon_deg, series.elevation_m, series.time_zone) == (51.5, -0.1, 25.0, "UTC")
    assert str(series.times[0]) == "2005-07-01T00:00:00"
    got = {name: float(values[0]) for name, values in series.columns.items()}
    assert got["t_mean_c"] == 12.5
    assert got["dew_point_c"] == 8.0
    assert got["rh_mean_pct"] == 74.0
    assert got["pressure_kpa"] == pytest.approx(101.3)
    assert got["solar_mj_m2"] == pytest.approx(0.9)  # 250 Wh/m²
    assert got["wind_2m_ms"] == pytest.approx(4.0 * 4.87 / np.log(67.8 * 10 - 5.42))
    assert "rain_mm" not in got


def test_epw_rain_where_there_is_any_and_missing_codes() -> None:
    series = parse_weather(epw([epw_row(1, rain=2.5), epw_row(2, temp=99.9), epw_row(3)]), name="x.epw")
    assert series.get("rain_mm").tolist() == [2.5, 0.0, 0.0]
    assert np.isnan(series.get("t_mean_c")[1])


@pytest.mark.parametrize(
    "name",
    [
        "uscrn_austin_2015_60_days.txt",
        "phoenix_full_columns_3_days.tmy3",
        "open_meteo_forecast_daily_berlin_2023-05-28.json",
    ],
)
def test_what_is_written_reads_back_the_same(name: str) -> None:
    series = read_weather(DATA / name)
    back = parse_weather(weather_csv(series), name="back.csv")
    same_series(back, series)


def same_series(one: WeatherSeries, other: WeatherSeries) -> None:
    assert (one.step, one.source, one.time_zone) == (other.step, other.source, other.time_zone)
    np.testing.assert_allclose(
        [one.lat_deg, one.lon_deg, one.elevation_m], [other.lat_deg, other.lon_deg, other.elevation_m], atol=1e-5
    )
    assert (one.times == other.times).all()
    assert (one.kind == other.kind).all()
    assert set(one.columns) == set(other.columns)
    for column in other.columns:
        np.testing.assert_allclose(one.get(column), other.get(column), rtol=1e-9)
        assert (one.flag(column) == other.flag(column)).all()


def test_flags_and_kinds_are_written_too() -> None:
    from datetime import date

    from soakbook.weather.gauge import with_own_gauge

    series = read_weather(DATA / "open_meteo_forecast_daily_berlin_2023-05-28.json")
    series = with_own_gauge(series, [(date(2023, 5, 29), 4.0)])
    same_series(parse_weather(weather_csv(series), name="back.csv"), series)


def test_gzip_is_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "days.csv.gz"
    path.write_bytes(gzip.compress(b"date,tmax,tmin\n2024-07-01,25,14\n"))
    assert read_weather(path).get("t_max_c")[0] == 25.0
