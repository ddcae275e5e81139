"""Normals and forecasts that the tests of weather members share."""

from __future__ import annotations

from datetime import date

import numpy as np

from soakbook.weather.normals import MonthlyNormals, normals_at
from soakbook.weather.series import FORECAST, OBSERVED, WeatherSeries

#: Places of different climates within reach of the shipped normals: continental, maritime, dry summer, equatorial, southern.
SPOTS = {
    "continental": (39.1, -96.6),
    "maritime": (51.5, 0.0),
    "dry summer": (37.4, -6.0),
    "equatorial": (-1.3, 36.8),
    "southern": (-33.9, 151.0),
}
FIRST, LAST = date(2023, 6, 1), date(2023, 7, 30)


def normals(spot: str = "continental") -> MonthlyNormals:
    return normals_at(*SPOTS[spot])


def forecast(days: int = 16, rain_mm: float = 0.0, first: date = FIRST, kind: int = FORECAST) -> WeatherSeries:
    """A forecast of the same hot, bright weather on every day."""
    same = {
        "t_max_c": 34.0,
        "t_min_c": 20.0,
        "vapour_pressure_kpa": 1.8,
        "solar_mj_m2": 26.0,
        "wind_2m_ms": 3.0,
        "rain_mm": rain_mm,
    }
    times = np.datetime64(first, "D") + np.arange(days)
    return WeatherSeries(
        step="day",
        times=times,
        columns={name: np.full(days, value) for name, value in same.items()},
        lat_deg=39.1,
        lon_deg=-96.6,
        elevation_m=350.0,
        time_zone="America/Chicago",
        source="a forecast",
        kind=np.full(days, kind, dtype=np.uint8),
    )


def numbered_record(first: date, last: date) -> WeatherSeries:
    """A record whose rain is the number of the day since 1970, so that each day can be told from its rain."""
    days = int((np.datetime64(last) - np.datetime64(first)).astype(int)) + 1
    record = forecast(days, first=first, kind=OBSERVED)
    record.columns["rain_mm"] = record.times.astype(float)
    return record
