"""Which members stand for the days ahead: the ensemble or the dressed forecast, then past years and made weather."""

from __future__ import annotations

from datetime import date

import numpy as np

from soakbook.weather.dressing import dressed
from soakbook.weather.generator import WET_MM, made_weather
from soakbook.weather.members import (
    LEAST_YEARS,
    WeatherMembers,
    followed_by,
    past_years,
    spread_over,
    together,
    years_before,
)
from soakbook.weather.normals import MonthlyNormals
from soakbook.weather.series import WeatherSeries

#: So many years of the station's own past count as much as the normals: with n years, n / (n + 10) of the members are past
#: years and the rest made weather. At the demo's station, with three to seven years, a third of past years was best (the ranked
#: probability score of 7 to 21 days of rain and demand was 5 to 15 % better than with past years alone, and bands held better).
YEARS_OF_NORMALS = 10.0


def members_ahead(
    first_day: date,
    last_day: date,
    count: int,
    rng: np.random.Generator,
    normals: MonthlyNormals,
    *,
    record: WeatherSeries | None = None,
    forecast: WeatherSeries | None = None,
    ensemble: WeatherMembers | None = None,
) -> WeatherMembers:
    """Members of the weather from one day to another.

    Parameters
    ----------
    first_day, last_day
        Days wanted, both included; ``first_day`` is today.
    count
        Members wanted.
    rng
        Where chance comes from.
    normals
        Of the spot: for made weather where no years of the past are at hand.
    record
        Observed days before today, gaps filled. Where it covers the dates in three or more years, these stand for what may come,
        beside made weather as long as they are few; yesterday says whether it was wet.
    forecast
        Daily, gaps filled; days before ``first_day`` are not looked at. Ignored where an ensemble is given that has today.
    ensemble
        An ensemble forecast, any number of members.

    Returns
    -------
    WeatherMembers
    """
    first, last = np.datetime64(first_day, "D"), np.datetime64(last_day, "D")
    ground = _ground(first_day, last_day, count, rng, normals, record)
    if ensemble is not None:
        near = ensemble.between(first, last)
        if len(near.times) and near.times[0] == first:
            return followed_by(spread_over(near, count, rng), ground)
    if forecast is not None:
        told = forecast.between(first, last)
        if len(told) and told.times[0] == first:
            return dressed(told, ground, rng)
    return ground


def _ground(
    first_day: date,
    last_day: date,
    count: int,
    rng: np.random.Generator,
    normals: MonthlyNormals,
    record: WeatherSeries | None,
) -> WeatherMembers:
    first, last = np.datetime64(first_day, "D"), np.datetime64(last_day, "D")
    if record is None or len(record) == 0:
        return made_weather(normals, first_day, last_day, count, rng)
    years = years_before(record, first, last)
    n_past = round(count * years / (years + YEARS_OF_NORMALS)) if years >= LEAST_YEARS else 0
    if n_past == count:
        return past_years(record, first, last, count, rng)
    day_before = record.between(first - np.timedelta64(1, "D"), first - np.timedelta64(1, "D"))
    was_wet = bool(day_before.get("rain_mm")[0] >= WET_MM) if len(day_before) else None
    made = made_weather(normals, first_day, last_day, count - n_past, rng, was_wet=was_wet)
    return together(past_years(record, first, last, n_past, rng), made, rng) if n_past else made
