"""Annual reference evapotranspiration of typical years, from the file to the sum.

Weather: NREL, TMY3 (S. Wilcox, W. Marion, NREL/TP-581-43156, 2008). The sums were computed once by an independent
implementation of FAO-56 Eq. 6 on daily values of the same files: Phoenix 2046, Tucson 2069, Los Angeles 1197,
San Francisco 1118, Chicago 1019, Burlington 904 mm.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from soakbook.weather.eto import series_eto
from soakbook.weather.fill import fill_gaps, hourly_to_daily
from soakbook.weather.read import read_weather

DATA = Path(__file__).parent.parent / "data" / "weather"
ANNUAL_MM = {
    "AZ-Phoenix_Sky_Harbor_Intl_Ap": 2046.0,
    "AZ-Tucson_International_Ap": 2069.0,
    "CA-Los_Angeles_Intl_Arpt": 1197.0,
    "CA-San_Francisco_Intl_Ap": 1118.0,
    "IL-Chicago_Ohare_Intl_Ap": 1019.0,
    "VT-Burlington_International_Ap": 904.0,
}


@pytest.mark.parametrize(("station", "annual_mm"), ANNUAL_MM.items())
def test_daily_sum_of_the_year(station: str, annual_mm: float) -> None:
    days = fill_gaps(hourly_to_daily(read_weather(DATA / f"{station}_trimmed.csv.gz")))
    assert series_eto(days).sum() == pytest.approx(annual_mm, rel=0.03)


@pytest.mark.parametrize("station", ["AZ-Phoenix_Sky_Harbor_Intl_Ap", "VT-Burlington_International_Ap"])
def test_hourly_equation_agrees_with_the_daily_one(station: str) -> None:
    # ASCE-EWRI (2005), appendix F: hourly sums lie within a few per cent of daily values at most sites.
    hours = fill_gaps(read_weather(DATA / f"{station}_trimmed.csv.gz"))
    days = fill_gaps(hourly_to_daily(read_weather(DATA / f"{station}_trimmed.csv.gz")))
    assert series_eto(hours).sum() == pytest.approx(series_eto(days).sum(), rel=0.08)
