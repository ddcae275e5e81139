"""Soil water under rain-fed grass: 32 stations of the U.S. Climate Reference Network, the year 2020.

Every station goes the way a garden goes: a place with a soil, a planting and a daily weather series, laid out and run from
1 January at field capacity. No coefficient is fitted, but field capacity and wilting point are the 90th and 2nd percentile of
the series that is scored: the information the crude bucket beside it has too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from soakbook.balance.columns import HOURS
from soakbook.balance.place import PlaceDays, place_days
from soakbook.garden.model import Garden, Place, Planting, SoilLayer
from soakbook.weather.eto import series_eto
from soakbook.weather.fill import fill_gaps
from soakbook.weather.normals import MonthlyNormals, expected_weather, normals_at
from soakbook.weather.series import WeatherSeries
from tests.measured.scores import DayArray, FloatArray, Rows, Score, days_of, median, numbers, read_rows, score

#: A station's 20 cm probe counts with more than so many days.
DAYS_NEEDED = 330
SCORED_MONTHS = range(4, 11)
COLUMNS = {
    "t_max_c": "t_daily_max",
    "t_min_c": "t_daily_min",
    "rain_mm": "p_daily_calc",
    "solar_mj_m2": "solarad_daily",
    "rh_max_pct": "rh_daily_max",
    "rh_min_pct": "rh_daily_min",
}


@dataclass(frozen=True)
class Station:
    """What was measured at one station. ``theta`` is the mean water content of the top ``depth_m``. [m³/m³]"""

    wban: str
    days: DayArray
    theta: FloatArray
    depth_m: float
    field_capacity: float
    wilting_point: float
    weather: WeatherSeries
    normals: MonthlyNormals

    @property
    def is_scored(self) -> FloatArray:
        """Measured water content in the scored months, NaN outside."""
        month = self.days.astype("datetime64[M]").astype(int) % 12 + 1
        return np.where(np.isin(month, SCORED_MONTHS), self.theta, np.nan)


@dataclass(frozen=True)
class Setting:
    """What is changed against the plain run. ``measured`` names the weather columns that are used."""

    name: str
    measured: tuple[str, ...] = tuple(COLUMNS)
    wind_2m_ms: float | None = None
    rain_hours: float | None = None


PLAIN = Setting("as measured; no wind in the data: 2 m/s; rain in 6 h")
SETTINGS = (
    Setting("rain falls in 2 h", rain_hours=2.0),
    Setting("rain falls in 12 h", rain_hours=12.0),
    Setting("wind 1 m/s", wind_2m_ms=1.0),
    Setting("wind 3 m/s", wind_2m_ms=3.0),
    Setting("no humidity", measured=("t_max_c", "t_min_c", "rain_mm", "solar_mj_m2")),
    Setting("no sunlight", measured=("t_max_c", "t_min_c", "rain_mm", "rh_max_pct", "rh_min_pct")),
    Setting("temperature and rain only", measured=("t_max_c", "t_min_c", "rain_mm")),
    Setting("own rain gauge, the rest monthly normals", measured=("rain_mm",)),
)


@cache
def stations() -> tuple[Station, ...]:
    """All stations, in the order of their numbers."""
    by_wban: dict[str, Rows] = {}
    for row in read_rows("uscrn/stations_2020.csv.gz"):
        by_wban.setdefault(row["wban"], []).append(row)
    return tuple(_station(wban, rows) for wban, rows in sorted(by_wban.items()))


def _station(wban: str, rows: Rows) -> Station:
    at_5, at_10, at_20 = (numbers(rows, f"soil_moisture_{depth}_daily") for depth in (5, 10, 20))
    has_20 = int(np.isfinite(at_20).sum()) > DAYS_NEEDED
    theta = 0.25 * at_5 + 0.25 * at_10 + 0.5 * at_20 if has_20 else 0.5 * (at_5 + at_10)
    normals = normals_at(float(rows[0]["latitude"]), float(rows[0]["longitude"]))
    days = days_of(rows)
    weather = WeatherSeries(
        step="day",
        times=days,
        columns={ours: numbers(rows, theirs) for ours, theirs in COLUMNS.items()},
        lat_deg=normals.lat_deg,
        lon_deg=normals.lon_deg,
        elevation_m=normals.elevation_m,
        time_zone="UTC",
        source="USCRN daily01",
        kind=np.zeros(len(days), dtype=np.uint8),
    )
    return Station(
        wban, days, theta, 0.30 if has_20 else 0.15, float(np.nanpercentile(theta, 90)),
        float(np.nanpercentile(theta, 2)), weather, normals,
    )  # fmt: skip


def weather_of(station: Station, setting: Setting = PLAIN) -> WeatherSeries:
    """The station's weather as the setting has it, gaps filled as for any garden."""
    series = station.weather
    if "t_max_c" not in setting.measured:
        first, last = series.times[0].astype(object), series.times[-1].astype(object)
        usual = expected_weather(station.normals, first, last)
        series = replace(usual, columns={**usual.columns, "rain_mm": series.get("rain_mm")})
    else:
        series = replace(series, columns={name: series.columns[name] for name in setting.measured})
    if setting.wind_2m_ms is not None:
        wind = np.full(len(series), setting.wind_2m_ms)
        series = replace(series, columns={**series.columns, "wind_2m_ms": wind})
    return fill_gaps(series, station.normals)


def sward(station: Station, setting: Setting = PLAIN) -> PlaceDays:
    """The station as a garden with one unwatered lawn."""
    soil = SoilLayer("measured", field_capacity=station.field_capacity, wilting_point=station.wilting_point)
    lawn = Place("sward", "bed", (soil,), 100.0, means="sprinkler", plantings=(Planting("grass", established=True),))
    normals = station.normals
    garden = Garden(station.wban, normals.lat_deg, normals.lon_deg, normals.elevation_m, "UTC", (lawn,))
    days = place_days(garden, lawn, weather_of(station, setting))
    if setting.rain_hours is not None:
        days.forcing.crop[:, :, HOURS] = setting.rain_hours
    return days


def computed_theta(station: Station, setting: Setting = PLAIN) -> FloatArray:
    """Computed mean water content of the station's measured depth at the end of each day. [m³/m³]"""
    days = sward(station, setting)
    result = days.run(days.start(), 0, len(days.days))
    top, bottom = days.laid.edges_m[:-1], days.laid.edges_m[1:]
    part = np.clip(station.depth_m - top, 0.0, bottom - top) / (bottom - top)
    return np.asarray(result.water_mm[0, :, 0, :, 0] @ part / (1000.0 * station.depth_m))


def crude_bucket_theta(station: Station) -> FloatArray:
    """The peer: one layer, Kc 1, p 0.5, no runoff, all above field capacity drains the same day. [m³/m³]"""
    weather = weather_of(station)
    eto, rain = series_eto(weather), weather.get("rain_mm")
    full_mm = 1000.0 * (station.field_capacity - station.wilting_point) * station.depth_m
    held, theta = full_mm, np.empty(len(eto))
    for day in range(len(eto)):
        held = min(held + rain[day], full_mm)
        held = max(held - eto[day] * min(1.0, held / (0.5 * full_mm)), 0.0)
        theta[day] = station.wilting_point + held / (1000.0 * station.depth_m)
    return theta


@dataclass(frozen=True)
class SwardFindings:
    """Scores by station, those of the bucket beside them, and the medians of the other settings."""

    stations: tuple[Station, ...]
    ours: tuple[Score, ...]
    bucket: tuple[Score, ...]
    published_bucket: tuple[tuple[float, float], ...]
    settings: tuple[tuple[str, float, float, float], ...]


def sward_findings() -> SwardFindings:
    """Run every station in every setting."""
    all_ = stations()
    published = {
        row["wban"]: (float(row["r"]), float(row["rmse"])) for row in read_rows("uscrn/crude_bucket_scores.csv")
    }
    plain = tuple(score(s.is_scored, computed_theta(s)) for s in all_)
    rows = [(PLAIN.name, plain)]
    rows += [(g.name, tuple(score(s.is_scored, computed_theta(s, g)) for s in all_)) for g in SETTINGS]
    return SwardFindings(
        stations=all_,
        ours=plain,
        bucket=tuple(score(s.is_scored, crude_bucket_theta(s)) for s in all_),
        published_bucket=tuple(published[s.wban] for s in all_),
        settings=tuple((name, median(g, "r"), median(g, "rmse"), median(g, "bias")) for name, g in rows),
    )
