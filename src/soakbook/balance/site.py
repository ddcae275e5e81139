"""Weather as a place gets it: shade, shelter and covers acting on sun, wind and rain; then the day's reference ET."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from soakbook.garden.model import Exposure, Place
from soakbook.physics import covers, sun
from soakbook.weather.eto import series_eto
from soakbook.weather.series import WeatherSeries

FloatArray = NDArray[np.float64]

#: What dry, hot surroundings add to the demand of a small stand. FAO-56 chapter 10 allows Kc beyond 1.2 for isolated
#: stands (cap 2.5); the figures are from memory of garden practice, a design choice within that cap.
SURROUNDINGS = {"bed": {"garden": 1.0, "lawn": 1.0, "paving": 1.1}, "pot": {"garden": 1.1, "lawn": 1.0, "paving": 1.25}}


def site_factor(place: Place) -> float:
    """Multiple of demand for what surrounds the place."""
    return SURROUNDINGS["pot" if place.kind == "pot" else "bed"][place.exposure.surroundings]


def weather_at(exposure: Exposure, weather: WeatherSeries) -> WeatherSeries:
    """The series as it reaches a spot; gaps must have been filled.

    Radiation: what the horizon leaves of beam and diffuse, times what a cover passes. Wind: shelter, then cover. Rain:
    the given fraction, or what the cover lets through.
    """
    solar = weather.get("solar_mj_m2")
    if exposure.horizon:
        solar = sunshine_left(exposure, weather)
    columns = dict(weather.columns)
    columns["solar_mj_m2"] = covers.radiation_under_cover(solar, exposure.cover, exposure.cover_transmittance)
    wind = covers.sheltered_wind(weather.get("wind_2m_ms"), exposure.shelter)
    columns["wind_2m_ms"] = covers.wind_under_cover(wind, exposure.cover)
    columns["rain_mm"] = covers.rain_under_cover(weather.get("rain_mm"), exposure.cover, exposure.rain_fraction)
    return replace(weather, columns=columns)


def sunshine_left(exposure: Exposure, weather: WeatherSeries) -> FloatArray:
    """Global radiation that the horizon lets through. [MJ/m² per step]"""
    solar = weather.get("solar_mj_m2")
    if weather.step == "day":
        day = day_of_year(weather.times)
        shade = sun.shaded_fraction_of_sun(exposure.horizon, weather.lat_deg, day_of_year=day)
        extra = sun.extraterrestrial_daily_mj_m2(weather.lat_deg, day)
        return sun.shaded_radiation(
            solar, extra, shade, sunset_hour_angle_rad=sun.sunset_hour_angle_rad(weather.lat_deg, day)
        )
    shade = sun.shaded_fraction_of_sun(exposure.horizon, weather.lat_deg, weather.lon_deg, times_utc=weather.times)
    extra = sun.extraterrestrial_period_mj_m2(weather.lat_deg, weather.lon_deg, weather.times)
    return sun.shaded_radiation(solar, extra, shade)


def day_of_year(days: NDArray[np.datetime64]) -> NDArray[np.int64]:
    """1 to 366."""
    day = days.astype("datetime64[D]")
    return np.asarray((day - day.astype("datetime64[Y]")).astype(np.int64) + 1)


def site_eto(weather: WeatherSeries) -> FloatArray:
    """Reference ET of each step at the spot, not below 0 (dew is not counted as watering). [mm]"""
    return np.maximum(series_eto(weather), 0.0)
