"""Weather members as a place gets them: the same shade, shelter and covers as a single line of weather."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from soakbook.balance.columns import FloatArray
from soakbook.balance.place import RAIN_HOURS, daily_to_hours
from soakbook.balance.site import site_factor
from soakbook.garden.model import Place
from soakbook.physics import covers, sun
from soakbook.weather.members import WeatherMembers, day_of_year


def members_at(place: Place, weather: WeatherMembers) -> WeatherMembers:
    """The members as they reach a place; see :func:`soakbook.balance.site.weather_at`."""
    exposure = place.exposure
    solar = weather.get("solar_mj_m2")
    if exposure.horizon:
        day = day_of_year(weather.times)
        solar = sun.shaded_radiation(
            solar,
            sun.extraterrestrial_daily_mj_m2(weather.lat_deg, day),
            sun.shaded_fraction_of_sun(exposure.horizon, weather.lat_deg, day_of_year=day),
            sunset_hour_angle_rad=sun.sunset_hour_angle_rad(weather.lat_deg, day),
        )
    wind = covers.sheltered_wind(weather.get("wind_2m_ms"), exposure.shelter)
    changed = {
        "solar_mj_m2": covers.radiation_under_cover(solar, exposure.cover, exposure.cover_transmittance),
        "wind_2m_ms": covers.wind_under_cover(wind, exposure.cover),
        "rain_mm": covers.rain_under_cover(weather.get("rain_mm"), exposure.cover, exposure.rain_fraction),
    }
    return replace(weather, columns={**weather.columns, **changed})


def eto_and_rain(place: Place, weather: WeatherMembers) -> tuple[FloatArray, FloatArray]:
    """Demand (with what surrounds the place) and rain of each step, (steps, members) as the kernel wants them. [mm]

    Steps are days for a bed and hours for a pot or tray, shared out as :func:`soakbook.balance.place.place_days` does.
    """
    here = members_at(place, weather)
    eto, rain = site_factor(place) * here.eto_mm().T, here.get("rain_mm").T
    if place.kind != "bed":
        eto = _by_hour(daily_to_hours(np.ones(len(here.times)), here.series(0)), eto)
        noon_on = np.zeros(24)
        noon_on[12 : 12 + int(RAIN_HOURS)] = 1.0 / RAIN_HOURS
        rain = _by_hour(np.tile(noon_on, len(here.times)), rain)
    return np.ascontiguousarray(eto), np.ascontiguousarray(rain)


def _by_hour(share: FloatArray, daily: FloatArray) -> FloatArray:
    """Daily values (days, members) times each hour's share of its day (24 days,)."""
    hours: FloatArray = share.reshape(-1, 24)[:, :, None] * daily[:, None, :]
    return hours.reshape(-1, daily.shape[1])
