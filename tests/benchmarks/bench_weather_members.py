"""Speed of a garden's weather members: 50 of 60 days in less than 20 ms, and much less than one after the other.

Run as a script to print the figures: ``python -m tests.benchmarks.bench_weather_members``.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import date
from statistics import median
from typing import Any

import numpy as np
import pytest

from soakbook.balance.member_weather import eto_and_rain
from soakbook.balance.spread import draw_members
from soakbook.garden.model import Place, SoilLayer
from soakbook.weather.ahead import members_ahead
from soakbook.weather.normals import normals_at
from soakbook.weather.series import FORECAST, WeatherSeries
from tests.pace import within

pytestmark = [pytest.mark.bench, pytest.mark.timeout(120)]

FIRST, LAST = date(2023, 6, 1), date(2023, 7, 30)
BED = Place("bed", "bed", (SoilLayer("texture", texture="loam"),), 4.0)


def seconds(work: Callable[[], Any]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def forecast() -> WeatherSeries:
    same = {"t_max_c": 30.0, "t_min_c": 18.0, "vapour_pressure_kpa": 1.8, "solar_mj_m2": 24.0, "wind_2m_ms": 2.5}
    columns = {name: np.full(16, value) for name, value in {**same, "rain_mm": 2.0}.items()}
    times, kind = np.datetime64(FIRST, "D") + np.arange(16), np.full(16, FORECAST, dtype=np.uint8)
    return WeatherSeries("day", times, columns, 39.1, -96.6, 350.0, "America/Chicago", "a forecast", kind)


def measure() -> dict[str, float]:
    """Milliseconds of 50 members at once, and how many times longer they take one by one."""
    usual, told = normals_at(39.1, -96.6), forecast()

    def garden(count: int) -> None:
        rng = np.random.default_rng(1)
        eto_and_rain(BED, members_ahead(FIRST, LAST, count, rng, usual, forecast=told))
        draw_members(BED, count, rng)

    garden(2)
    together, alone = [], []
    for _ in range(7):
        together.append(seconds(lambda: garden(50)))
        alone.append(seconds(lambda: [garden(1) for _ in range(50)]))
    return {"ms": 1000.0 * median(together), "one_by_one": median(a / t for a, t in zip(alone, together, strict=True))}


def test_members_of_a_garden_are_made_in_20_ms_and_together() -> None:
    found = measure()
    assert within(found["ms"], 2.0 * 20.0)
    assert found["one_by_one"] >= 8.0


if __name__ == "__main__":
    print(measure())
