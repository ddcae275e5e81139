"""From hours to days: the local standard day."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.series import (
    FILLED_NEIGHBOUR,
    FILLED_RULE,
    FORECAST,
    OBSERVED,
    STEP_WORDS,
    FlagArray,
    FloatArray,
    WeatherSeries,
)
from soakbook.weather.zones import local_standard_days

#: A day counts with at least so many of its 24 hours; up to two missing hours are bridged.
HOURS_NEEDED = 22

_MEANS = ("dew_point_c", "vapour_pressure_kpa", "wind_2m_ms", "pressure_kpa")
_SUMS = ("solar_mj_m2", "sunshine_h", "eto_mm")


def hourly_to_daily(series: WeatherSeries) -> WeatherSeries:
    """Days of an hourly series.

    A day is 24 hours of the zone's standard time, winter and summer, so that no day has 23 or 25. A day with fewer than
    22 hours of a quantity has NaN for it; up to two missing hours are bridged in a straight line and the day is flagged
    as filled from its neighbours. Missing hours of rain count as dry, and the day is flagged as filled by rule. Days
    cut off at either end of the record are left out. A day with any forecast hour is a forecast.

    Raises
    ------
    InputError
        The series is not hourly, has no time zone, or covers no whole day.
    """
    if series.step != "hour":
        raise InputError(
            say("an hourly series is needed (this one goes by the {step}).", step=STEP_WORDS[series.step]),
            code="weather.step",
        )
    if not series.time_zone:
        raise InputError(
            say("hours cannot be put into local days without a time zone."), code="weather.zone", field="time_zone"
        )
    day_of_hour = local_standard_days(series.times, series.time_zone)
    days, index = np.unique(day_of_hour, return_inverse=True)
    whole = np.bincount(index, minlength=len(days)) >= HOURS_NEEDED
    if not whole.any():
        raise InputError(
            say(
                "the record has {n} hours and no day with at least {wanted}.",
                n=len(series),
                wanted=HOURS_NEEDED,
            ),
            code="weather.empty",
        )
    columns, flags = _daily_columns(series, index, len(days))
    keep = np.arange(int(np.argmax(whole)), len(days) - int(np.argmax(whole[::-1])))
    n_cut = len(days) - len(keep)
    kind = np.maximum.reduceat(series.kind, np.flatnonzero(np.diff(index, prepend=-1)))[keep]
    notes = [
        *series.notes,
        say("Days are of the standard time of {time_zone}, 24 hours all year.", time_zone=series.time_zone),
    ]
    if n_cut:
        notes.append(say("{n} days cut off at the ends of the record are left out.", n=n_cut))
    return replace(
        series,
        step="day",
        times=days[keep],
        columns={k: v[keep] for k, v in columns.items()},
        flags={k: v[keep] for k, v in flags.items() if v[keep].any()},
        kind=kind.astype(np.uint8),
        notes=tuple(notes),
    )


def _daily_columns(
    series: WeatherSeries, index: NDArray[np.int64], n: int
) -> tuple[dict[str, FloatArray], dict[str, FlagArray]]:
    columns: dict[str, FloatArray] = {}
    flags: dict[str, FlagArray] = {}

    def put(name: str, source: str, how: str) -> None:
        if source in series.columns:
            columns[name], bridged = _gather(series, source, index, n, how)
            flags[name] = _flag_of_day(series, source, index, n, bridged)

    put("t_max_c", "t_mean_c", "max")
    put("t_min_c", "t_mean_c", "min")
    put("t_mean_c", "t_mean_c", "mean")
    put("rh_max_pct", "rh_mean_pct", "max")
    put("rh_min_pct", "rh_mean_pct", "min")
    put("rh_mean_pct", "rh_mean_pct", "mean")
    for name in _MEANS:
        put(name, name, "mean")
    for name in _SUMS:
        put(name, name, "sum")
    put("rain_mm", "rain_mm", "rain")
    put("rain_chance_pct", "rain_chance_pct", "max")
    return columns, flags


def _gather(
    series: WeatherSeries, source: str, index: NDArray[np.int64], n: int, how: str
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """The day's value, and which days were bridged over missing hours."""
    values = series.get(source)
    good = np.isfinite(values)
    count = np.bincount(index, weights=good, minlength=n)
    hours = np.bincount(index, minlength=n)
    # Hours the record does not reach are missing as well.
    enough = count >= HOURS_NEEDED
    bridged = enough & (count < 24)
    if how == "rain":
        filled = np.where(good, values, 0.0)
    elif good.any():
        at = np.arange(len(values))
        filled = np.interp(at, at[good], values[good])
    else:
        return np.full(n, np.nan), np.zeros(n, dtype=bool)
    starts = np.flatnonzero(np.diff(index, prepend=-1))
    if how == "max":
        day = np.maximum.reduceat(filled, starts)
    elif how == "min":
        day = np.minimum.reduceat(filled, starts)
    else:
        total = np.bincount(index, weights=filled, minlength=n)
        day = total / hours if how == "mean" else total
    return np.where(enough, day, np.nan), bridged


def _flag_of_day(
    series: WeatherSeries, source: str, index: NDArray[np.int64], n: int, bridged: NDArray[np.bool_]
) -> FlagArray:
    worst = np.zeros(n, dtype=np.uint8)
    np.maximum.at(worst, index, series.flag(source))
    mark = FILLED_RULE if source == "rain_mm" else FILLED_NEIGHBOUR
    return np.where(bridged & (worst == 0), mark, worst).astype(np.uint8)


def mark_kind(series: WeatherSeries, first_forecast: np.datetime64) -> WeatherSeries:
    """The series with every step from ``first_forecast`` on a forecast and all before observed."""
    kind = np.where(series.times >= first_forecast, FORECAST, OBSERVED).astype(np.uint8)
    return replace(series, kind=kind)
