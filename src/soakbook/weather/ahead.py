"""Which members stand for the days ahead: the ensemble or the dressed forecast, then past years, then made weather."""

from __future__ import annotations

from datetime import date

import numpy as np

from soakbook.errors import InputError
from soakbook.weather.dressing import dressed
from soakbook.weather.generator import WET_MM, made_weather
from soakbook.weather.members import WeatherMembers, followed_by, past_years, spread_over
from soakbook.weather.normals import MonthlyNormals
from soakbook.weather.series import WeatherSeries


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
        Observed days before today, gaps filled. Three or more years of it stand for what may come; its last day says whether it
        was wet.
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
    first, last, was_wet = np.datetime64(first_day, "D"), np.datetime64(last_day, "D"), None
    if record is not None:
        try:
            return past_years(record, first, last, count, rng)
        except InputError as exc:
            if exc.code != "weather.past":
                raise
        day_before = record.between(first - np.timedelta64(1, "D"), first - np.timedelta64(1, "D"))
        was_wet = bool(day_before.get("rain_mm")[0] >= WET_MM) if len(day_before) else None
    return made_weather(normals, first_day, last_day, count, rng, was_wet=was_wet)
