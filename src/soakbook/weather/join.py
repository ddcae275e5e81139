"""Series joined in time: what was observed, then what is forecast, then what the season usually brings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.series import EXPECTED, OBSERVED, FloatArray, WeatherSeries, one_after_another


def join(*parts: WeatherSeries) -> WeatherSeries:
    """One series from several; where they overlap the earlier part stands.

    Parameters
    ----------
    parts
        Daily series of the same spot, each reaching beyond the one before. A part that adds nothing is left out.

    Returns
    -------
    WeatherSeries
        Site and time zone of the first part.

    Raises
    ------
    InputError
        When a part is not daily or leaves days uncovered between it and the one before.
    """
    whole = parts[0]
    for part in parts[1:]:
        if part.step != "day" or whole.step != "day":
            raise InputError(say("only daily series can be joined."), code="weather.join")
        if len(part) == 0 or part.times[-1] <= whole.times[-1]:
            continue
        if part.times[0] > whole.times[-1] + np.timedelta64(1, "D"):
            raise InputError(
                say(
                    "weather has no days from {first} to {last}.",
                    first=whole.times[-1].item(),
                    last=part.times[0].item(),
                ),
                code="weather.gap",
                hint=say("Give a source that covers them, or use normals."),
            )
        rest = part.between(whole.times[-1] + np.timedelta64(1, "D"), part.times[-1])
        names = sorted(set(whole.columns) | set(rest.columns))
        flagged = sorted(set(whole.flags) | set(rest.flags))
        whole = replace(
            whole,
            times=np.concatenate([whole.times, rest.times]),
            kind=np.concatenate([whole.kind, rest.kind]),
            columns={n: np.concatenate([whole.get(n), rest.get(n)]) for n in names},
            flags={n: np.concatenate([whole.flag(n), rest.flag(n)]) for n in flagged},
            source=one_after_another(whole.source, rest.source),
            notes=(*whole.notes, *rest.notes),
        )
    return whole


def expected_from_past(
    series: WeatherSeries, first: np.datetime64, last: np.datetime64, *, window_days: int = 7
) -> WeatherSeries:
    """What the same dates brought in the years before, as expected weather.

    Parameters
    ----------
    series
        Observed daily weather (gaps filled) that ends before ``first``.
    first, last
        Days wanted, both included.
    window_days
        Days to either side that are averaged with the date itself.

    Returns
    -------
    WeatherSeries
        Means over the years and the window for each date; rain is the mean of all days, wet and dry, and
        ``rain_chance_pct`` the share of days with 1 mm or more. Kind is expected.

    Raises
    ------
    InputError
        When fewer than three earlier years cover a date.
    """
    past = series.times[series.times < first]
    days = np.arange(first, last + np.timedelta64(1, "D"))
    doy = _day_in_year(series.times[: len(past)])
    columns: dict[str, list[float]] = {name: [] for name in series.columns if name != "eto_mm"}
    chance = []
    for day in days:
        apart = np.abs(doy - _day_in_year(np.array([day]))[0])
        near = np.minimum(apart, 365 - apart) <= window_days
        years = np.unique(past[near].astype("datetime64[Y]"))
        if len(years) < 3:
            raise InputError(
                say(
                    "only {n} earlier years cover {day} (3 are needed to expect anything from them).",
                    n=len(years),
                    day=day.item(),
                ),
                code="weather.past",
                hint=say("Use normals instead."),
            )
        for name, values in columns.items():
            values.append(float(np.nanmean(series.get(name)[: len(past)][near])))
        chance.append(100.0 * float(np.mean(series.get("rain_mm")[: len(past)][near] >= 1.0)))
    made = {name: np.array(values) for name, values in columns.items()}
    made["rain_chance_pct"] = np.array(chance)
    years_used = f"{str(past[0])[:4]}-{str(past[-1])[:4]}"
    return replace(
        series,
        times=days,
        columns=made,
        flags={},
        kind=np.full(len(days), EXPECTED, dtype=np.uint8),
        source=say("mean of the same dates in {years} at the same station", years=years_used),
        notes=(),
    )


def _day_in_year(days: NDArray[np.datetime64]) -> NDArray[np.int64]:
    return np.asarray((days - days.astype("datetime64[Y]")).astype(int))


def observed_until(series: WeatherSeries, today: np.datetime64) -> WeatherSeries:
    """The days before ``today``, as observed: nothing later can be read from the result."""
    part = series.between(series.times[0], today - np.timedelta64(1, "D"))
    return replace(part, kind=np.where(part.kind == EXPECTED, EXPECTED, OBSERVED).astype(np.uint8))


def in_showers(weather: WeatherSeries, wet_day_mm: FloatArray) -> WeatherSeries:
    """Expected rain gathered into wet days of the usual size.

    A mean of 2 mm a day is never 2 mm each day: rain is saved up and let fall when it makes a usual wet day, which keeps
    its sum to within one shower. ``wet_day_mm`` is the usual rain of a wet day in each month, January first, shape (12,); less than 1 mm counts
    as 1.
    """
    month = weather.times.astype("datetime64[M]").astype(int) % 12
    usual = np.maximum(np.asarray(wet_day_mm, dtype=float), 1.0)[month]
    fell = np.zeros(len(weather))
    saved = 0.5 * float(usual[0])
    for i, mm in enumerate(weather.get("rain_mm")):
        saved += mm
        if saved >= usual[i]:
            fell[i], saved = saved, 0.0
    return replace(weather, columns={**weather.columns, "rain_mm": fell})
