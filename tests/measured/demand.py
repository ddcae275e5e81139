"""Reference evapotranspiration against a measured meadow and against a published series."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from soakbook.physics.air import saturation_vapour_pressure_kpa, wind_to_2m_ms
from soakbook.weather.daily import hourly_to_daily
from soakbook.weather.eto import series_eto
from soakbook.weather.fill import fill_gaps
from soakbook.weather.series import WeatherSeries
from tests.measured.scores import DayArray, FloatArray, Score, days_of, numbers, read_rows, score

#: Latent heat of vaporisation (FAO-56 Eq. 3-1 at 20 °C). [MJ/kg]
LATENT_HEAT = 2.45
#: Photons (400-700 nm) that come with one joule of global radiation. [µmol/J] Common practice: photons are 4.57 µmol to the
#: joule of visible light (K. J. McCree, Agric. Meteorol. 10:443-453, 1972; from memory), which is 45 % of sunlight.
PHOTONS_PER_JOULE = 4.57 * 0.45
#: Latitude, longitude and height. [°, °, m]
MEADOW = (47.12, 11.32, 970.0)
JOHNSON = (38.8838, -94.8223, 300.0)


@dataclass(frozen=True)
class Meadow:
    """Daily grass evapotranspiration as measured and reference evapotranspiration by days and by hours. [mm/d]

    ``closure``: turbulent fluxes over available energy; below 1, the instrument misses part of the evaporation.
    """

    days: DayArray
    measured_mm: FloatArray
    by_day_mm: FloatArray
    by_hour_mm: FloatArray
    closure: float
    by_day: Score
    by_hour: Score


def meadow() -> Meadow:
    """Neustift, July 2010: half hours by eddy covariance against hourly weather through the public path."""
    rows = read_rows("meadow/at_neu_2010-07.csv.gz")

    def hours(name: str) -> FloatArray:
        """Means of two half hours."""
        return np.asarray(numbers(rows, name).reshape(-1, 2).mean(1))

    temp = hours("Tair")
    vapour = saturation_vapour_pressure_kpa(numbers(rows, "Tair")) - numbers(rows, "VPD")
    start = np.datetime64("2010-07-01T00:00:00") - np.timedelta64(3600, "s")  # the record keeps local standard time
    weather = WeatherSeries(
        step="hour",
        times=start + np.arange(len(temp)) * np.timedelta64(3600, "s"),
        columns={
            "t_mean_c": temp,
            "vapour_pressure_kpa": np.maximum(vapour, 0.01).reshape(-1, 2).mean(1),
            "wind_2m_ms": hours("wind"),
            "solar_mj_m2": hours("PPFD") / PHOTONS_PER_JOULE * 3600.0 / 1e6,
            "pressure_kpa": hours("pressure"),
            "rain_mm": 2.0 * hours("precip"),
        },
        time_zone="Europe/Vienna",
        source="FLUXNET2015 AT-Neu",
        kind=np.zeros(len(temp), dtype=np.uint8),
        lat_deg=MEADOW[0],
        lon_deg=MEADOW[1],
        elevation_m=MEADOW[2],
    )
    weather = fill_gaps(weather)
    measured = hours("LE").reshape(-1, 24).mean(1) * 86400.0 / 1e6 / LATENT_HEAT
    by_hour = series_eto(weather).reshape(-1, 24).sum(1)
    daily = hourly_to_daily(weather)
    by_day = series_eto(fill_gaps(daily))
    available = np.sum(numbers(rows, "Rn") - numbers(rows, "G"))
    closure = float(np.sum(numbers(rows, "LE") + numbers(rows, "H")) / available)
    return Meadow(daily.times, measured, by_day, by_hour, closure, score(measured, by_day), score(measured, by_hour))


@dataclass(frozen=True)
class Published:
    """Our daily reference evapotranspiration against a published one. [mm/d]"""

    years: tuple[int, int]
    published_mm_year: float
    ours_mm_year: float
    fao56: Score
    asce2005: Score


def published_eto() -> Published:
    """gridMET at a point in Johnson County, Kansas: its short-grass reference (ASCE) against ours from its weather."""
    rows = read_rows("gridmet/johnson_ks_2008-2020.csv.gz")
    days = days_of(rows, "timestamp")
    weather = WeatherSeries(
        step="day",
        times=days,
        columns={
            "t_max_c": numbers(rows, "tmmx"),
            "t_min_c": numbers(rows, "tmmn"),
            "rh_max_pct": numbers(rows, "rmax"),
            "rh_min_pct": numbers(rows, "rmin"),
            "solar_mj_m2": numbers(rows, "srad"),
            "wind_2m_ms": np.asarray(wind_to_2m_ms(numbers(rows, "vs"), 10.0)),
        },
        time_zone="America/Chicago",
        source="gridMET",
        kind=np.zeros(len(days), dtype=np.uint8),
        lat_deg=JOHNSON[0],
        lon_deg=JOHNSON[1],
        elevation_m=JOHNSON[2],
    )
    theirs, ours = numbers(rows, "eto"), series_eto(weather)
    years = len(days) / 365.25
    return Published(
        (int(str(days[0])[:4]), int(str(days[-1])[:4])),
        float(theirs.sum() / years),
        float(ours.sum() / years),
        score(theirs, ours),
        score(theirs, series_eto(weather, "ASCE2005")),
    )
