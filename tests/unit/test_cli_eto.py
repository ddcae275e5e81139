"""``soakbook eto``: what is printed for a series, and that the command goes file, filling, equation,
print."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

import soakbook.cli.eto
from soakbook.cli.app import app
from soakbook.errors import InputError
from soakbook.weather.eto import series_eto_uncut
from soakbook.weather.eto_table import DEW, as_csv, as_payload
from soakbook.weather.series import FILLED_RULE, FORECAST, WeatherSeries

assert soakbook.cli.eto  # importing it registers the command


@pytest.fixture
def series() -> WeatherSeries:
    """FAO-56 Example 18 (Uccle, 6 July), the day after it without a maximum, and a day of dew."""
    return WeatherSeries(
        step="day",
        times=np.array(["2015-07-06", "2015-07-07", "2015-07-08"], dtype="datetime64[D]"),
        columns={
            "t_max_c": np.array([21.5, np.nan, -5.0]),
            "t_min_c": np.array([12.3, 12.0, -15.0]),
            "vapour_pressure_kpa": np.array([1.409, 1.4, 0.43]),
            "solar_mj_m2": np.array([22.07, 20.0, 0.5]),
            "wind_2m_ms": np.array([2.078, 2.0, 1.0]),
        },
        lat_deg=50.80,
        lon_deg=4.36,
        elevation_m=100.0,
        time_zone="UTC",
        source="typed in the test",
        kind=np.array([0, 0, FORECAST], dtype=np.uint8),
        flags={"wind_2m_ms": np.array([0, FILLED_RULE, 0], dtype=np.uint8)},
    )


UCCLE = """date,tmax_c,tmin_c,rhmax_pct,rhmin_pct,wind_2m_ms,solar_mj_m2
2015-07-05,22.0,12.0,84,63,2.078,22.07
2015-07-06,21.5,12.3,84,63,2.078,22.07
2015-07-07,21.5,12.3,84,63,,22.07
"""
PLACE = ["--lat", "50.8", "--lon", "4.36", "--elevation", "100", "--time-zone", "Europe/Brussels"]


@pytest.fixture
def file(tmp_path: Path) -> str:
    """FAO-56 Example 18 (Uccle, 6 July; radiation and wind as worked out in the book), with days around it."""
    path = tmp_path / "uccle.csv"
    path.write_text(UCCLE, encoding="utf-8")
    return str(path)


def test_csv_gives_example_18_and_says_what_was_filled(file: str) -> None:
    result = CliRunner().invoke(app, ["eto", file, *PLACE], catch_exceptions=False)
    assert result.exit_code == 0
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert [r["date"] for r in rows] == ["2015-07-05", "2015-07-06", "2015-07-07"]
    assert rows[1] == {"date": "2015-07-06", "eto_mm": "3.88", "flags": ""}
    assert rows[2]["flags"] == "wind_2m_ms filled by a rule of FAO-56 chapter 3"


def test_json_says_place_and_convention(file: str) -> None:
    call = ["eto", file, *PLACE, "--json", "--convention", "ASCE2005"]
    payload = json.loads(CliRunner().invoke(app, call, catch_exceptions=False).stdout)
    assert (payload["kind"], payload["version"], payload["convention"]) == ("eto", 1, "ASCE2005")
    assert (payload["step"], payload["lat_deg"], payload["elevation_m"]) == ("day", 50.8, 100.0)
    assert payload["steps"][1]["eto_mm"] == pytest.approx(3.88, abs=0.011)


def test_a_file_without_its_place_asks_for_it(file: str) -> None:
    with pytest.raises(InputError, match=r"does not say where it was measured. Give --lat, --lon"):
        CliRunner().invoke(app, ["eto", file], catch_exceptions=False)


def test_missing_is_left_empty_and_dew_is_zero_and_said(series: WeatherSeries) -> None:
    rows = list(csv.DictReader(io.StringIO(as_csv(series, series_eto_uncut(series)))))
    assert rows[0]["eto_mm"] == "3.88"
    assert rows[1] == {
        "date": "2015-07-07",
        "eto_mm": "",
        "flags": "wind_2m_ms filled by a rule of FAO-56 chapter 3",
    }
    assert rows[2] == {"date": "2015-07-08", "eto_mm": "0.0", "flags": f"forecast; {DEW}"}
    payload = as_payload(series, series_eto_uncut(series), None)
    assert [step["eto_mm"] for step in payload["steps"]] == [3.88, None, 0.0]  # type: ignore[attr-defined]
    assert payload["convention"] == "FAO56"


def test_hours_are_marked_as_utc(series: WeatherSeries) -> None:
    hours = WeatherSeries(
        step="hour",
        times=np.array(["2000-07-02T19:00"], dtype="datetime64[s]"),
        columns={"t_mean_c": np.array([31.8])},
        lat_deg=40.41,
        lon_deg=-104.78,
        elevation_m=1462.4,
        time_zone="America/Denver",
        source="typed in the test",
        kind=np.zeros(1, dtype=np.uint8),
    )
    assert as_csv(hours, np.array([0.7945])).splitlines() == [
        "start_utc,eto_mm,flags",
        "2000-07-02T19:00:00Z,0.794,",
    ]
