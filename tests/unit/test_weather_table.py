"""The forgiving table reader: dialects, headings, units, dates, missing codes."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest

from soakbook.errors import InputError
from soakbook.weather.read import decode, parse_weather, read_weather
from soakbook.weather.regular import Where
from soakbook.weather.series import REJECTED, WeatherSeries
from soakbook.weather.sources.headers import read_heading
from soakbook.weather.sources.unit_words import conversion, plain_unit

DATA = Path(__file__).parent.parent / "data" / "weather"


def read(text: str, where: Where | None = None) -> WeatherSeries:
    return parse_weather(text, where, name="garden.csv")


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("MJ m-2 d-1", "mj/m2/d"),
        ("W.m⁻²", "w/m2"),
        ("wmoUnit:km_h-1", "km/h"),
        ("unit:m_s-1", "m/s"),
        ("°F", "f"),
        ("degrees C", "c"),
        ("km/hr", "km/h"),
        ("MJ/m²", "mj/m2"),
    ],
)
def test_one_spelling_for_each_unit(text: str, plain: str) -> None:
    assert plain_unit(text) == plain


@pytest.mark.parametrize(
    ("column", "unit", "given", "expected"),
    [
        # NIST Special Publication 811 (2008), Appendix B: 1 in = 25.4 mm, 1 mile = 1609.344 m, 1 kn = 1852 m/h,
        # 1 inHg = 3.386389 kPa, 1 cal_th = 4.184 J; t(°C) = (t(°F) - 32)/1.8.
        ("t_max_c", "°F", 212.0, 100.0),
        ("t_max_c", "K", 273.15, 0.0),
        ("rain_mm", "inch", 2.0, 50.8),
        ("wind_2m_ms", "mph", 10.0, 4.4704),
        ("wind_2m_ms", "kn", 1.0, 1852.0 / 3600.0),
        ("wind_2m_ms", "km/h", 36.0, 10.0),
        ("pressure_kpa", "inHg", 30.0, 101.59167),
        ("solar_mj_m2", "cal/cm2", 100.0, 4.184),
        ("solar_mj_m2", "kWh/m²", 5.0, 18.0),
        ("solar_mj_m2", "W/m²", 100.0, 8.64),
        ("sunshine_h", "s", 7200.0, 2.0),
    ],
)
def test_units_by_their_definition(column: str, unit: str, given: float, expected: float) -> None:
    pair = conversion(column, unit, 86_400.0)
    assert pair is not None
    assert given * pair[0] + pair[1] == pytest.approx(expected, rel=1e-7, abs=1e-9)


def test_a_unit_of_another_quantity_is_refused() -> None:
    assert conversion("rain_mm", "°F", 86_400.0) is None
    assert conversion("wind_2m_ms", "mm", 86_400.0) is None


@pytest.mark.parametrize(
    ("heading", "role"),
    [
        ("Tmax (°F)", "t_max_c"),
        ("Max temp", "t_max_c"),
        ("High", "t_max_c"),
        ("temperature_2m_min", "t_min_c"),
        ("Air temperature (degC)", "temp"),
        ("Dew point temperature (degC)", "dew_point_c"),
        ("rain in", "rain_mm"),
        ("Niederschlag [mm]", "rain_mm"),
        ("Precipitation probability (%)", "rain_chance_pct"),
        ("wind km/h", "wind_2m_ms"),
        ("Wind 10 m", "wind_2m_ms"),
        ("rmax", "rh_max_pct"),
        ("Relative Humidity(%)", "rh"),
        ("Solar Rad. [W/m2]", "solar_mj_m2"),
        ("sunshine h", "sunshine_h"),
        ("barometric_pressure_Avg", "pressure_kpa"),
        ("vapor_pressure_Avg", "vapour_pressure_kpa"),
        ("ET0 (mm)", "eto_mm"),
        ("Datum", "date"),
        # what must not be taken for the weather outdoors
        ("Wind Gust (mph)", ""),
        ("wind direction", ""),
        ("Soil temperature 10 cm", ""),
        ("Indoor Humidity", ""),
        ("Longwave radiation (W.m-2)", ""),
        ("Rain rate (mm/h)", ""),
        ("Sea level pressure hPa", ""),
        ("Heat index", ""),
        ("vpd", ""),
    ],
)
def test_what_a_heading_means(heading: str, role: str) -> None:
    assert read_heading(heading).role == role


@pytest.mark.parametrize(
    ("heading", "height_m"),
    [
        ("Wind 10 m", 10.0),
        ("u2 (m/s)", 2.0),
        ("wind_speed_10m (km/h)", 10.0),
        ("Wind (m/s)", None),
        ("wind10_m_s", 10.0),
    ],
)
def test_height_of_the_wind_gauge(heading: str, height_m: float | None) -> None:
    assert read_heading(heading).height_m == height_m


SAME_DAYS = {
    "comma": "date,tmax,tmin,rain\n2024-07-01,25.5,14,0\n2024-07-02,27.5,15.2,3.5\n",
    "semicolon and decimal comma": "Datum;Tmax;Tmin;Regen\n01.07.2024;25,5;14,0;0,0\n02.07.2024;27,5;15,2;3,5\n",
    "tab": "Date\tTmax °C\tTmin °C\tRain mm\n2024/07/01\t25.5\t14\t0\n2024/07/02\t27.5\t15.2\t3.5\n",
    "byte order mark": "\ufeffdate,tmax,tmin,rain\n20240701,25.5,14,0\n20240702,27.5,15.2,3.5\n",
    "quoted decimal comma": 'date,tmax,tmin,rain\n2024-07-01,"25,5","14,0","0,0"\n2024-07-02,"27,5","15,2","3,5"\n',
    "US units": "Date,High (°F),Low (°F),Rain (in)\n7/1/2024,77.9,57.2,0\n7/2/2024,81.5,59.36,0.137795276\n",
    "unsorted, with a double": (
        "date,tmax,tmin,rain\n2024-07-02,27.5,15.2,3.5\n2024-07-01,29,14,0\n2024-07-01,25.5,14,0\n"
    ),
    "units in a second line": "Date;Tmax;Tmin;Rain\nyyyy-mm-dd;°C;°C;cm\n2024-07-01;25.5;14;0\n2024-07-02;27.5;15.2;0.35\n",
    "preamble": "My station\nin the garden\n\ndate,tmax,tmin,rain\n2024-07-01,25.5,14,0\n2024-07-02,27.5,15.2,3.5\n",
    "year, month, day": "year,month,day,tmax,tmin,rain\n2024,7,1,25.5,14,0\n2024,7,2,27.5,15.2,3.5\n",
    "year, day of year": "year,doy,tmax,tmin,rain\n2024,183,25.5,14,0\n2024,184,27.5,15.2,3.5\n",
    "month names": "date,tmax,tmin,rain\n1 Jul 2024,25.5,14,0\n2-July-2024,27.5,15.2,3.5\n",
    "midnight as time": "date,tmax,tmin,rain\n2024-07-01 00:00,25.5,14,0\n2024-07-02 00:00,27.5,15.2,3.5\n",
    "Windows line ends": "date,tmax,tmin,rain\r\n2024-07-01,25.5,14,0\r\n2024-07-02,27.5,15.2,3.5\r\n",
    "kelvin": "date,tmax (K),tmin (K),rain\n2024-07-01,298.65,287.15,0\n2024-07-02,300.65,288.35,3.5\n",
}


@pytest.mark.parametrize("text", SAME_DAYS.values(), ids=SAME_DAYS.keys())
def test_one_record_in_many_dialects(text: str) -> None:
    series = read(text)
    assert series.step == "day"
    assert [str(t) for t in series.times] == ["2024-07-01", "2024-07-02"]
    np.testing.assert_allclose(series.get("t_max_c"), [25.5, 27.5], atol=1e-9)
    np.testing.assert_allclose(series.get("t_min_c"), [14.0, 15.2], atol=1e-9)
    np.testing.assert_allclose(series.get("rain_mm"), [0.0, 3.5], atol=1e-6)


@pytest.mark.parametrize("code", ["", "NA", "NaN", "-9999", "-99.9", "-999", "M", "null", "---", "-9999.0"])
def test_codes_for_missing(code: str) -> None:
    series = read(f"date,tmax,tmin,rain\n2024-07-01,25,14,0\n2024-07-02,{code},15,{code}\n2024-07-03,26,14,1\n")
    assert np.isnan(series.get("t_max_c")[1])
    assert np.isnan(series.get("rain_mm")[1])
    assert not series.flags


def test_trace_of_rain_is_zero() -> None:
    assert read("date,tmax,tmin,rain\n2024-07-01,25,14,T\n").get("rain_mm")[0] == 0.0


def test_days_that_are_missing_become_empty_days_and_are_counted() -> None:
    series = read("date,tmax,tmin\n2024-07-01,25,14\n2024-07-05,26,15\n")
    assert len(series) == 5
    assert np.isnan(series.get("t_max_c")[1:4]).all()
    assert any("3 days are missing" in n for n in series.notes)


def test_doubles_are_counted() -> None:
    series = read(SAME_DAYS["unsorted, with a double"])
    assert any("1 rows repeat" in n for n in series.notes)


@pytest.mark.parametrize(
    ("first", "days"),
    [
        ("28/02/2023", [date(2023, 2, 28), date(2023, 3, 1)]),
        ("2/28/2023", [date(2023, 2, 28), date(2023, 3, 1)]),
    ],
)
def test_day_first_or_month_first_is_settled_by_any_row(first: str, days: list[date]) -> None:
    second = "01/03/2023" if first.startswith("28") else "3/1/2023"
    series = read(f"date,tmax,tmin\n{first},9,1\n{second},8,2\n")
    assert [t.astype(object) for t in series.times] == days
    assert any("dates are" in n for n in series.notes)


def test_day_first_is_settled_by_the_run_of_days() -> None:
    rows = "".join(f"{d:02d}/05/2024,20,10\n" for d in range(1, 9))
    series = read("date,tmax,tmin\n" + rows)
    assert str(series.times[0]) == "2024-05-01"
    assert len(series) == 8
    rows = "".join(f"05/{d:02d}/2024,20,10\n" for d in range(1, 9))
    assert str(read("date,tmax,tmin\n" + rows).times[-1]) == "2024-05-08"


def test_fahrenheit_is_told_from_the_values_and_said() -> None:
    series = read("date,tmax,tmin\n2024-07-01,86,59\n2024-07-02,95,68\n")
    np.testing.assert_allclose(series.get("t_max_c"), [30.0, 35.0])
    assert any("°F" in n and "does not state" in n for n in series.notes)


def test_wind_is_brought_to_two_metres() -> None:
    # FAO-56 example 14: 3.2 m/s at 10 m are 2.4 m/s at 2 m.
    series = read("date,tmax,tmin,wind 10 m (m/s)\n2024-07-01,25,14,3.2\n")
    assert round(float(series.get("wind_2m_ms")[0]), 1) == 2.4
    series = read("date,tmax,tmin,wind 2 m (m/s)\n2024-07-01,25,14,3.2\n")
    assert series.get("wind_2m_ms")[0] == 3.2
    assert any("height the file does not state" in n for n in read("date,tmax,tmin,wind\n2024-07-01,25,14,3\n").notes)


def test_values_that_cannot_be_are_rejected_and_flagged() -> None:
    rows = "".join(f"2024-07-{d:02d},25,14,55\n" for d in range(1, 10))
    series = read("date,tmax,tmin,rh mean %\n" + rows + "2024-07-10,250,14,155\n")
    assert np.isnan(series.get("t_max_c")[-1])
    assert series.flag("t_max_c")[-1] == REJECTED
    assert series.flag("rh_mean_pct")[-1] == REJECTED
    assert series.flag("t_max_c")[:-1].sum() == 0


def test_maximum_below_minimum_rejects_both() -> None:
    series = read("date,tmax,tmin\n2024-07-01,25,14\n2024-07-02,10,20\n2024-07-03,25,14\n")
    assert series.flag("t_max_c").tolist() == [0, REJECTED, 0]
    assert np.isnan(series.get("t_min_c")[1])


def test_a_column_that_is_something_else_is_left_out() -> None:
    # the day's highest W/m² under a heading that says mean radiation
    rows = "".join(f"2024-07-{d:02d},25,14,{900 + d}\n" for d in range(1, 11))
    series = read("date,tmax,tmin,solar w/m2\n" + rows)
    assert np.isnan(series.get("solar_mj_m2")).all()
    assert any("something else" in n for n in series.notes)


def test_humidity_just_above_hundred_is_hundred() -> None:
    series = read("date,tmax,tmin,rh max %\n2024-07-01,25,14,102\n")
    assert series.get("rh_max_pct")[0] == 100.0
    assert any("read as 100 %" in n for n in series.notes)


def test_notes_say_what_became_of_each_column() -> None:
    notes = " ".join(read("date,tmax,tmin,gust,colour\n2024-07-01,25,14,9,red\n").notes)
    for word in ("'tmax' is t_max_c", "'gust' is left out", "'colour' is left out"):
        assert word in notes


def test_place_from_preamble_and_columns() -> None:
    series = read("# latitude: 48.1\n# longitude: 11.5\n# elevation: 520\ndate,tmax,tmin\n2024-07-01,25,14\n")
    assert (series.lat_deg, series.lon_deg, series.elevation_m) == (48.1, 11.5, 520.0)
    series = read("date,lat,lon,elevation (ft),tmax,tmin\n2024-07-01,-33.9,18.4,100,25,14\n")
    assert (series.lat_deg, series.lon_deg) == (-33.9, 18.4)
    assert series.elevation_m == pytest.approx(30.48)


def test_hours_need_a_zone() -> None:
    text = "time,temp\n2024-07-01 00:00,14\n2024-07-01 01:00,13\n"
    with pytest.raises(InputError, match="no time zone"):
        read(text)
    series = read(text, Where(time_zone="Europe/Berlin"))
    assert [str(t) for t in series.times] == ["2024-06-30T22:00:00", "2024-06-30T23:00:00"]
    assert str(read(text.replace("time,", "time utc,")).times[0]) == "2024-07-01T00:00:00"
    assert str(read(text.replace("00,1", "00+05:30,1"), Where(time_zone="UTC")).times[0]) == "2024-06-30T18:30:00"


def test_date_and_clock_in_two_columns_with_am_and_pm() -> None:
    text = "Date,Time,Temp Out\n7/30/2024,11:00 PM,20\n7/31/2024,12:00 AM,19\n7/31/2024,1:00 AM,18\n"
    series = read(text, Where(time_zone="America/Phoenix"))
    assert [str(t) for t in series.times] == ["2024-07-31T06:00:00", "2024-07-31T07:00:00", "2024-07-31T08:00:00"]


def test_twenty_four_hundred_is_midnight() -> None:
    text = "Date,Hour,Temp\n2024-07-30,23,20\n2024-07-30,24,19\n2024-07-31,1,18\n"
    assert str(read(text, Where(time_zone="UTC")).times[1]) == "2024-07-31T00:00:00"


def test_quarter_hours_become_hours() -> None:
    rows = "".join(
        f"2024-07-01T{h:02d}:{m:02d}Z,{h},{1 if m == 0 else 0},360\n" for h in (10, 11) for m in (0, 15, 30, 45)
    )
    series = read("time,temp (°C),rain (mm),solar (W/m2)\n" + rows, Where(time_zone="UTC"))
    assert len(series) == 2
    assert series.get("rain_mm").tolist() == [1.0, 1.0]
    # 360 W/m² for an hour are 1.296 MJ/m²
    np.testing.assert_allclose(series.get("solar_mj_m2"), [1.296, 1.296])


def test_the_hour_that_the_clocks_skipped_shows_standard_time() -> None:
    # On 13 March 2022 clocks in Kansas went from 02:00 to 03:00; the station has a row for 02:00.
    series = read_weather(DATA / "flickner_2022_march.csv", time_zone="America/Chicago")
    assert any("standard time" in n for n in series.notes)
    assert str(series.times[0]) == "2022-03-11T06:00:00"  # midnight in UTC-6
    assert not np.isnan(series.get("t_mean_c")).any()


def test_the_hour_that_came_twice_is_told_by_order() -> None:
    # On 27 October 2024 clocks in Berlin went back from 03:00 summer time to 02:00.
    stamps = ["00:00", "01:00", "02:00", "02:00", "03:00"]
    text = "time,temp\n" + "".join(f"2024-10-27 {s},{i}\n" for i, s in enumerate(stamps))
    series = read(text, Where(time_zone="Europe/Berlin"))
    assert len(series) == 5
    assert series.get("t_mean_c").tolist() == [0.0, 1.0, 2.0, 3.0, 4.0]


def test_gridmet_excerpt() -> None:
    series = read_weather(DATA / "gridmet_johnson_2008_30_days.csv", lat_deg=38.88, lon_deg=-94.82)
    assert len(series) == 30
    # first row of the file
    assert series.get("t_max_c")[0] == -2.6088
    assert series.get("solar_mj_m2")[0] == 6.1458
    assert series.get("eto_mm")[0] == 1.184
    assert round(float(series.get("wind_2m_ms")[0]), 2) == round(7.4263 * 4.87 / np.log(67.8 * 10 - 5.42), 2)


def test_text_in_the_western_windows_code_page() -> None:
    assert "°" in decode("Tmax (°C)".encode("cp1252"), "x")
    assert decode("date,tmax".encode("utf-16"), "x") == "date,tmax"
