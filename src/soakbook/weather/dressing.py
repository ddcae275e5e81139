"""A single forecast dressed with its errors, which grow with lead time until only what is usual is left.

Beneath the forecast lies a *ground*: members of what may come without it (past years or made weather). How much of the
forecast is left at a lead time is its skill, 1 for a perfect forecast and 0 for none:

- *Rain*: on each day the forecast holds in a member with a chance equal to the skill; then the member has the forecast's rain
  times a log-normal error of mean 1. Otherwise it has the rain of the ground. For wet and dry days this skill is the Peirce score
  (hit rate less false-alarm rate). Whether the forecast holds goes on from day to day: a member in which it failed has mostly lost it.
- *Sunlight and wind* hold likewise, by their own skill and together with the rain, so that a missed shower has its clouds.
- *Temperature and dew point*: departures from the usual are the forecast's times the skill r plus the ground's times sqrt(1 - r²).
  With r the correlation of forecast and truth, that gives the error its right size and its growth, and keeps the ground's spread where
  nothing is left of the forecast; errors go on from day to day as the ground's weather does.

The mean of the members is the forecast's departure from the usual times the skill: a forecast of heavy rain ten days ahead is
mostly taken back. The tables are judged, in line with what verification reports of the large centres show (from memory: Peirce
scores of daily rain of 1 mm about 0.6 to 0.7 on the first day, 0.4 on the fifth, little after the tenth; errors of the maximum temperature of
about 1.5 to 2 °C growing to 3 to 4 °C after a week). Printed check: demand computed from three-day forecasts was off by
0.68 mm/d root mean square with R² 0.90 over seven sites in four countries ("Comparing the use of past and forecast weather
data for estimating reference evapotranspiration", 2020, abstract).

A service's own chance of rain is not used: it is the highest of the hours and of 0.1 mm, not that of the day.
"""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.physics.air import saturation_vapour_pressure_kpa
from soakbook.said import say
from soakbook.weather.eto import series_vapour_pressure
from soakbook.weather.members import WeatherMembers, not_above_saturation, ordered
from soakbook.weather.series import FloatArray, WeatherSeries, one_after_another

Bools = NDArray[np.bool_]

#: Days ahead (the first day of the forecast is 1), and what is left of a forecast then; nothing from the last on.
LEADS = (1.0, 3.0, 5.0, 7.0, 10.0, 14.0, 18.0)
RAIN_SKILL = (0.70, 0.58, 0.42, 0.28, 0.13, 0.04, 0.0)
LIGHT_SKILL = (0.85, 0.75, 0.60, 0.43, 0.22, 0.07, 0.0)
WARMTH_SKILL = (0.93, 0.89, 0.81, 0.68, 0.44, 0.18, 0.0)
DEW_SKILL = (0.88, 0.82, 0.71, 0.56, 0.33, 0.12, 0.0)
#: Standard deviation of the logarithm of the rain's error where the forecast holds.
RAIN_ERROR = (0.50, 0.58, 0.66, 0.72, 0.78, 0.80, 0.80)
#: Part of the ground's sunlight and wind mixed in where the forecast holds.
LIGHT_MIXED = 0.15
#: Lag-one correlations of whether the forecast holds, and of the rain's error.
HOLDS_ON, RAIN_ERROR_ON = 0.9, 0.5


def skill(table: tuple[float, ...], lead_days: FloatArray) -> FloatArray:
    """A skill (or error) of the tables at some leads, linear between its points."""
    return np.interp(lead_days, LEADS, table)


def dressed(forecast: WeatherSeries, ground: WeatherMembers, rng: np.random.Generator) -> WeatherMembers:
    """Members of a single forecast.

    Parameters
    ----------
    forecast
        Daily, gaps filled; its first day is lead 1. It begins where the ground begins, or later, and may end before it: from
        there on each member is its ground.
    ground
        What may come without the forecast, one member for each wanted.
    rng
        Where chance comes from.

    Returns
    -------
    WeatherMembers
        Over the days of the ground from the forecast's first on.

    Raises
    ------
    InputError
        A forecast that is not daily or begins outside the ground.
    """
    if forecast.step != "day" or len(forecast) == 0 or forecast.times[0] not in ground.times:
        raise InputError(
            say("a forecast to be dressed must be daily and begin on a day of the weather beneath it."),
            code="members.forecast",
        )
    below = ground.between(forecast.times[0], ground.times[-1])
    told = forecast.between(forecast.times[0], below.times[-1])
    days = len(told)
    lead = np.arange(1.0, days + 1.0, dtype=np.float64)
    latent = _on_and_on(rng.standard_normal((len(below), days)), HOLDS_ON)
    error = _on_and_on(rng.standard_normal((len(below), days)), RAIN_ERROR_ON)
    parts = {name: values[:, :days] for name, values in below.columns.items()}
    made = _warmth(told, parts, lead)
    made |= _light(told, parts, _holds(latent, skill(LIGHT_SKILL, lead)))
    made["rain_mm"] = _rain(told.get("rain_mm"), parts["rain_mm"], _holds(latent, skill(RAIN_SKILL, lead)), error, lead)
    return replace(
        below,
        columns={name: np.concatenate([made[name], v[:, days:]], axis=1) for name, v in below.columns.items()},
        source=one_after_another(forecast.source, ground.source),
        notes=(*forecast.notes, *ground.notes),
    )


def _on_and_on(noise: FloatArray, again: float) -> FloatArray:
    """Noise of unit variance along the last axis made to have a lag-one correlation."""
    out, fresh = noise.copy(), np.sqrt(1.0 - again**2)
    for day in range(1, noise.shape[1]):
        out[:, day] = again * out[:, day - 1] + fresh * noise[:, day]
    return out


def _holds(latent: FloatArray, chance: FloatArray) -> Bools:
    """Where the forecast holds: the standard normal ``latent`` lies below the point its chance marks."""
    normal = NormalDist()
    marks = [normal.inv_cdf(c) if 0.0 < c < 1.0 else (np.inf if c >= 1.0 else -np.inf) for c in chance.tolist()]
    return np.asarray(latent < np.array(marks))


def _rain(
    told_mm: FloatArray,
    below_mm: FloatArray,
    holds: Bools,
    error: FloatArray,
    lead: FloatArray,
) -> FloatArray:
    sd = skill(RAIN_ERROR, lead)
    return np.where(holds, told_mm * np.exp(sd * error - 0.5 * sd**2), below_mm)


def _light(told: WeatherSeries, parts: dict[str, FloatArray], holds: Bools) -> dict[str, FloatArray]:
    made = {}
    for name in ("solar_mj_m2", "wind_2m_ms"):
        mixed = (1.0 - LIGHT_MIXED) * told.get(name) + LIGHT_MIXED * parts[name]
        made[name] = np.where(holds, mixed, parts[name])
    return made


def _warmth(told: WeatherSeries, parts: dict[str, FloatArray], lead: FloatArray) -> dict[str, FloatArray]:
    warm = skill(WARMTH_SKILL, lead)
    high, low = ordered(
        _departed(told.get("t_max_c"), parts["t_max_c"], warm),
        _departed(told.get("t_min_c"), parts["t_min_c"], warm),
    )
    dew = _departed(
        _dew_point(series_vapour_pressure(told)), _dew_point(parts["vapour_pressure_kpa"]), skill(DEW_SKILL, lead)
    )
    vapour = not_above_saturation(saturation_vapour_pressure_kpa(dew), high, low)
    return {"t_max_c": high, "t_min_c": low, "vapour_pressure_kpa": vapour}


def _departed(told: FloatArray, below: FloatArray, left: FloatArray) -> FloatArray:
    """The usual, plus what is left of the forecast's departure, plus the ground's own departures."""
    usual = below.mean(axis=0)
    return np.asarray(usual + left * (told - usual) + np.sqrt(1.0 - left**2) * (below - usual))


def _dew_point(vapour_kpa: FloatArray) -> FloatArray:
    """Dew point; FAO-56 Eq. 14 turned round. [°C]"""
    log = np.log(np.maximum(vapour_kpa, 1e-3) / 0.6108)
    return np.asarray(237.3 * log / (17.27 - log))
