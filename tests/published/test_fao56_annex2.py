"""FAO-56 Annex 2: tables of pressure, humidity, radiation and wind, at half of the last printed digit."""

from __future__ import annotations

import csv
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pytest

from soakbook.physics import air, sun
from soakbook.physics.evapotranspiration import constants, net_radiation_daily_mj_m2

FILE = Path(__file__).parents[1] / "data" / "fao56" / "annex2_check_values.csv"
with FILE.open(newline="", encoding="utf-8") as handle:
    ROWS = list(csv.DictReader(handle))


def rows(table: str) -> list[tuple[str, str]]:
    found = [(r["input"], r["expected"]) for r in ROWS if r["table"] == table]
    assert found
    return found


def half_digit(printed: str) -> float:
    decimals = len(printed.partition(".")[2])
    return 0.5 * 10.0**-decimals * (1.0 + 1e-9)


@pytest.mark.parametrize(("elevation", "printed"), rows("2.1"))
def test_table_2_1_pressure(elevation: str, printed: str) -> None:
    assert abs(float(air.pressure_kpa(float(elevation))) - float(printed)) <= half_digit(printed)


@pytest.mark.parametrize(("elevation", "printed"), rows("2.2"))
def test_table_2_2_psychrometric_constant(elevation: str, printed: str) -> None:
    value = float(air.psychrometric_constant_kpa_c(air.pressure_kpa(float(elevation))))
    assert abs(value - float(printed)) <= half_digit(printed)


@pytest.mark.parametrize(("temp", "printed"), rows("2.3"))
def test_table_2_3_saturation_vapour_pressure(temp: str, printed: str) -> None:
    assert abs(float(air.saturation_vapour_pressure_kpa(float(temp))) - float(printed)) <= half_digit(printed)


@pytest.mark.parametrize(("temp", "printed"), rows("2.4"))
def test_table_2_4_slope(temp: str, printed: str) -> None:
    assert abs(float(air.slope_kpa_c(float(temp))) - float(printed)) <= half_digit(printed)


@pytest.mark.parametrize(("day", "printed"), [r for r in rows("2.5") if r[1].isdigit()])
def test_table_2_5_day_of_year(day: str, printed: str) -> None:
    at = date(2001, *datetime.strptime(f"2000 {day}", "%Y %d %b").timetuple()[1:3])
    noon = np.array([f"{at.isoformat()}T12:00"], dtype="datetime64[s]")
    assert sun.solar_day_of_year(0.0, noon)[0] == float(printed)


@pytest.mark.parametrize(("height", "printed"), rows("2.9"))
def test_table_2_9_wind_factor(height: str, printed: str) -> None:
    assert abs(float(air.wind_to_2m_ms(1.0, float(height))) - float(printed)) <= half_digit(printed)


@pytest.mark.parametrize(("temp", "printed"), rows("2.8"))
def test_table_2_8_black_body(temp: str, printed: str) -> None:
    # Net longwave with no humidity (factor 0.34) and a clear sky (factor 1) is 0.34 sigma T^4, so is that of
    # a day with equal extremes and no sun to lose from.
    sigma = constants("FAO56").sigma_day
    net = net_radiation_daily_mj_m2(float(temp), float(temp), 0.0, 20.0, 20.0, sigma_mj_k4=sigma)
    assert abs((0.77 * 20.0 - float(net)) / 0.34 - float(printed)) <= half_digit(printed)
