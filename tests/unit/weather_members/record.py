"""The demo's station record, and normals fitted to a record."""

from __future__ import annotations

from functools import cache

import numpy as np

from soakbook.demo import FOLDER
from soakbook.physics import sun
from soakbook.weather.eto import series_vapour_pressure
from soakbook.weather.fill import fill_gaps
from soakbook.weather.members import day_of_year
from soakbook.weather.normals import MonthlyNormals, normals_at
from soakbook.weather.read import read_weather
from soakbook.weather.series import WeatherSeries

LAT, LON, HEIGHT = 39.10, -96.61, 350.0
_LENGTHS = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


@cache
def station() -> WeatherSeries:
    """Manhattan 6 SSW, Kansas, 2010 to August 2017, gaps filled; the network measures no wind, so it stands at 2 m/s."""
    raw = read_weather(FOLDER / "weather.csv.gz", lat_deg=LAT, lon_deg=LON, elevation_m=HEIGHT)
    return fill_gaps(raw, normals_at(LAT, LON, HEIGHT))


def normals_of(record: WeatherSeries) -> MonthlyNormals:
    """Monthly normals of a record of whole years; sunshine hours are those that give its sunlight by FAO-56 Eq. 35."""
    month = record.times.astype("datetime64[M]").astype(int) % 12
    day = day_of_year(record.times)
    above = sun.extraterrestrial_daily_mj_m2(record.lat_deg, day)
    shine = (record.get("solar_mj_m2") / above - 0.25) / 0.5 * sun.daylight_hours(record.lat_deg, day)

    def mean(values: np.ndarray) -> np.ndarray:
        return np.array([values[month == m].mean() for m in range(12)])

    rain = record.get("rain_mm")
    return MonthlyNormals(
        lat_deg=record.lat_deg,
        lon_deg=record.lon_deg,
        elevation_m=record.elevation_m,
        t_max_c=mean(record.get("t_max_c")),
        t_min_c=mean(record.get("t_min_c")),
        vapour_pressure_kpa=mean(series_vapour_pressure(record)),
        rain_mm=mean(rain) * _LENGTHS,
        wet_days=mean(rain >= 1.0) * _LENGTHS,
        sunshine_h=mean(shine) * _LENGTHS,
        stations=(),
        notes=(),
    )
