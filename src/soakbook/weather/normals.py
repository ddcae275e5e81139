"""What a place's weather usually is, without network: monthly normals of the stations around it.

The shipped table (data/climat_normals.csv.gz, see data/SOURCES.md) holds medians and means of 2003 to 2021 at 2694
stations of the world's CLIMAT reports, collected by Deutscher Wetterdienst (CC BY 4.0).
"""

from __future__ import annotations

import gzip
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files

import numpy as np

from soakbook.errors import InputError
from soakbook.physics import sun
from soakbook.physics.air import WIND_DEFAULT_MS, saturation_vapour_pressure_kpa
from soakbook.said import say
from soakbook.weather.regular import Where
from soakbook.weather.series import EXPECTED, FILLED_RULE, FlagArray, FloatArray, WeatherSeries
from soakbook.weather.smooth import daily_from_months

#: Fall of the mean air temperature with height. [K/m] ICAO Standard Atmosphere, Doc 7488, 1993.
LAPSE_RATE_K_M = 0.0065
#: So many stations are averaged, each by the inverse square of its distance.
_STATIONS = 4
#: 100 m of height set a station as far off as 10 km of distance (our choice: rain and humidity change with height).
_KM_PER_M = 0.1
#: Beyond this nothing can be said; [km]. Beyond the second the notes warn.
FARTHEST_KM = 1000.0
FAR_KM = 150.0
_FIRST = {"tmax": 6, "tmin": 18, "vap": 30, "prec": 42, "sun": 54, "wetd": 66}


@dataclass(frozen=True)
class NearStation:
    """A station that normals were taken from. ``weight`` is its part of the average."""

    name: str
    country: str
    lat_deg: float
    lon_deg: float
    elevation_m: float
    distance_km: float
    weight: float


@dataclass(frozen=True)
class MonthlyNormals:
    """Twelve values of each quantity, January first, for one spot.

    ``vapour_pressure_kpa`` and ``sunshine_h`` (hours in the month) are NaN where no station near has them.
    ``rain_mm`` is the month's total and ``wet_days`` its days with 1 mm or more.
    """

    lat_deg: float
    lon_deg: float
    elevation_m: float
    t_max_c: FloatArray
    t_min_c: FloatArray
    vapour_pressure_kpa: FloatArray
    rain_mm: FloatArray
    wet_days: FloatArray
    sunshine_h: FloatArray
    stations: tuple[NearStation, ...]
    notes: tuple[str, ...]

    @property
    def wet_day_rain_mm(self) -> FloatArray:
        """Rain of one wet day; 0 in months without any."""
        return np.where(self.wet_days > 0.0, self.rain_mm / np.maximum(self.wet_days, 1.0), 0.0)

    @property
    def aridity_index(self) -> float:
        """Rain of the year over its potential evapotranspiration. Below 0.5 is arid or semi-arid.

        N. Middleton, D. Thomas (eds.), "World Atlas of Desertification", UNEP, 1997; potential evapotranspiration by
        the temperature range, FAO-56 Eq. 52.
        """
        middle = np.array([17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344], dtype=float)
        days = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
        energy_mm = 0.408 * sun.extraterrestrial_daily_mj_m2(self.lat_deg, middle)
        mean = 0.5 * (self.t_max_c + self.t_min_c)
        spread = np.maximum(self.t_max_c - self.t_min_c, 0.0)
        daily = np.maximum(0.0023 * (mean + 17.8) * np.sqrt(spread) * energy_mm, 0.0)
        return float(self.rain_mm.sum() / max(float((daily * days).sum()), 1.0))


@cache
def _table() -> tuple[list[str], FloatArray]:
    """Lines of the station table, and latitude, longitude and elevation of each."""
    packed = files("soakbook.weather").joinpath("data/climat_normals.csv.gz").read_bytes()
    lines = gzip.decompress(packed).decode().splitlines()[1:]
    places = np.array([line.split(",", 5)[2:5] for line in lines], dtype=float)
    return lines, places


def distances_km(lat_deg: float, lon_deg: float, lats: FloatArray, lons: FloatArray) -> FloatArray:
    """Great-circle distances on a sphere of 6371 km (haversine form)."""
    a, b = np.radians(lat_deg), np.radians(lats)
    half = np.sin((b - a) / 2) ** 2 + np.cos(a) * np.cos(b) * np.sin(np.radians(lons - lon_deg) / 2) ** 2
    return np.asarray(2 * 6371.0 * np.arcsin(np.sqrt(np.minimum(half, 1.0))))


def normals_at(lat_deg: float, lon_deg: float, elevation_m: float | None = None) -> MonthlyNormals:
    """Monthly normals of a spot from the stations nearest to it.

    Parameters
    ----------
    lat_deg, lon_deg
        The spot. [°]
    elevation_m
        Its height; None takes the weighted height of the stations. [m]

    Returns
    -------
    MonthlyNormals
        Averages of four stations by the inverse square of the distance. Temperatures are brought to the spot's height
        by 6.5 K/km and the dew point falls alike, so that relative humidity stays about the same. ``stations`` says
        which were used and how far they are.

    Raises
    ------
    InputError
        Coordinates out of range, or no station within 1000 km.
    """
    spot = Where(lat_deg, lon_deg, elevation_m)
    places = _table()[1]
    km = distances_km(lat_deg, lon_deg, places[:, 0], places[:, 1])
    nearest = int(np.argmin(km))
    if km[nearest] > FARTHEST_KM:
        raise InputError(
            say(
                "no weather station lies within {most:g} km of this spot (nearest: {km:.0f} km).",
                most=FARTHEST_KM,
                km=km[nearest],
            ),
            code="normals.far",
            field="lat_deg",
            hint=say("Is it at sea, or are latitude and longitude exchanged?"),
        )
    height = float(places[nearest, 2]) if elevation_m is None else elevation_m
    effective = np.hypot(km, (places[:, 2] - height) * _KM_PER_M if elevation_m is not None else 0.0) + 1.0
    used = np.argsort(effective)[:_STATIONS]
    used = used[km[used] <= max(3.0 * km[nearest], 300.0)]
    weight = effective[used] ** -2.0
    weight /= weight.sum()
    if elevation_m is None:
        height = float(weight @ places[used, 2])
    return _averaged(spot, height, used.tolist(), weight, km)


def _averaged(spot: Where, height: float, used: list[int], weight: FloatArray, km: FloatArray) -> MonthlyNormals:
    lines, places = _table()
    rows = [lines[i].split(",") for i in used]
    values = {key: np.array([_months(r, at) for r in rows]) for key, at in _FIRST.items()}
    lift = (LAPSE_RATE_K_M * (height - places[used, 2]))[:, None]
    vapour = _at_height(values["vap"] / 10.0, lift)
    stations = tuple(
        NearStation(r[1], r[5], float(places[i, 0]), float(places[i, 1]), float(places[i, 2]), float(km[i]), float(w))
        for r, i, w in zip(rows, used, weight, strict=True)
    )
    sunshine = _mean(values["sun"], weight)
    return MonthlyNormals(
        lat_deg=float(spot.lat_deg or 0.0),
        lon_deg=float(spot.lon_deg or 0.0),
        elevation_m=height,
        t_max_c=_mean(values["tmax"] - lift, weight),
        t_min_c=_mean(values["tmin"] - lift, weight),
        vapour_pressure_kpa=_mean(vapour, weight),
        rain_mm=_mean(values["prec"], weight),
        wet_days=_mean(values["wetd"], weight),
        sunshine_h=sunshine,
        stations=stations,
        notes=_notes(stations, spot.elevation_m is None, height, bool(np.isnan(sunshine).any())),
    )


def _months(row: list[str], first: int) -> list[float]:
    return [float(v) if v else float("nan") for v in row[first : first + 12]]


def _mean(values: FloatArray, weight: FloatArray) -> FloatArray:
    """Weighted mean over the stations that have all twelve months; NaN where none has."""
    good = np.isfinite(values).all(axis=1)
    if not good.any():
        return np.full(12, np.nan)
    part = weight[good] / weight[good].sum()
    return np.asarray(part @ values[good])


def _at_height(vapour_kpa: FloatArray, lift_k: FloatArray) -> FloatArray:
    """Vapour pressure when the dew point falls by ``lift_k``; FAO-56 Eq. 14 and its inverse."""
    logarithm = np.log(vapour_kpa / 0.6108)
    dew = 237.3 * logarithm / (17.27 - logarithm)
    return saturation_vapour_pressure_kpa(dew - lift_k)


def _notes(stations: tuple[NearStation, ...], no_height: bool, height: float, no_sun: bool) -> tuple[str, ...]:
    said = [
        say(
            "{name} ({country}, {km:.0f} km, {weight:.0%})",
            name=s.name,
            country=say(s.country),
            km=s.distance_km,
            weight=s.weight,
        )
        for s in stations
    ]
    notes = [
        say("Normals of 2003 to 2021 (Deutscher Wetterdienst, CC BY 4.0; averaged) from {stations}.", stations=said)
    ]
    if no_height:
        notes.append(say("Elevation is not known; that of the stations, {height:.0f} m, is used.", height=height))
    if stations[0].distance_km > FAR_KM:
        notes.append(
            say(
                "The nearest station is {km:.0f} km away: these normals are a rough guess.",
                km=stations[0].distance_km,
            )
        )
    if no_sun:
        notes.append(
            say("No station near reports sunshine; sunlight follows from the temperature range (FAO-56 Eq. 50).")
        )
    return tuple(notes)


def expected_weather(normals: MonthlyNormals, first_day: date, last_day: date) -> WeatherSeries:
    """Smooth daily weather with the monthly means of the normals.

    Rain is the month's mean per day, every day a little; ``normals.wet_days`` and ``normals.wet_day_rain_mm`` say how
    it really comes. Sunlight is from sunshine hours (FAO-56 Eq. 35) or, where no station has them, from the temperature
    range (Eq. 50); wind is 2 m/s. Both are flagged as filled by rule.
    """
    if last_day < first_day:
        raise InputError(
            say("the last day {last_day} lies before the first, {first_day}.", last_day=last_day, first_day=first_day),
            code="normals.days",
            field="last_day",
        )
    first, last = np.datetime64(first_day, "D"), np.datetime64(last_day, "D")
    days = np.arange(first, last + 1)
    n = len(days)
    columns: dict[str, FloatArray] = {
        "t_max_c": daily_from_months(normals.t_max_c, first, last),
        "t_min_c": daily_from_months(normals.t_min_c, first, last),
        "rain_mm": daily_from_months(normals.rain_mm, first, last, is_total=True, at_least=0.0),
        "wind_2m_ms": np.full(n, WIND_DEFAULT_MS),
    }
    if np.isfinite(normals.vapour_pressure_kpa).all():
        columns["vapour_pressure_kpa"] = daily_from_months(normals.vapour_pressure_kpa, first, last, at_least=0.0)
    of_year = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(float) + 1.0
    above = sun.extraterrestrial_daily_mj_m2(normals.lat_deg, of_year)
    by_range = sun.solar_from_temperature_range(columns["t_max_c"], columns["t_min_c"], above, normals.elevation_m)
    columns["solar_mj_m2"] = by_range
    if np.isfinite(normals.sunshine_h).all():
        longest = sun.daylight_hours(normals.lat_deg, of_year)
        shine = daily_from_months(normals.sunshine_h, first, last, is_total=True, at_least=0.0)
        columns["sunshine_h"] = np.minimum(shine, longest)
        by_sun = sun.solar_from_sunshine(columns["sunshine_h"], longest, above)
        columns["solar_mj_m2"] = np.where(longest > 0.0, by_sun, 0.0)
    mark: FlagArray = np.full(n, FILLED_RULE, dtype=np.uint8)
    return WeatherSeries(
        step="day",
        times=days,
        columns=columns,
        lat_deg=normals.lat_deg,
        lon_deg=normals.lon_deg,
        elevation_m=normals.elevation_m,
        time_zone="",
        source=say("monthly normals"),
        kind=np.full(n, EXPECTED, dtype=np.uint8),
        flags={"wind_2m_ms": mark, "solar_mj_m2": mark.copy()},
        notes=normals.notes,
    )
