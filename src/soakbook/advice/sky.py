"""Weather for a garden's round: what was observed, then forecast, then expected, with the own rain gauge on top."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import reduce
from pathlib import Path

import numpy as np

from soakbook.advice.decide import HORIZON_DAYS
from soakbook.errors import InputError
from soakbook.garden.model import Garden, LogEntry
from soakbook.said import Said, say
from soakbook.weather.join import expected_from_past, in_showers, join, observed_until
from soakbook.weather.series import FORECAST, WeatherSeries, one_after_another, sources_in_turn

#: Days before the round that weather is wanted for.
BACK_DAYS = 160
#: Years of the file's own past that make it a better guide to the days ahead than normals.
ENOUGH_YEARS = 3


def weather_for(
    garden: Garden, on: date, log: Sequence[LogEntry] = (), *, folder: Path | None = None, back_days: int = BACK_DAYS
) -> WeatherSeries:
    """Daily weather with gaps filled from ``back_days`` before ``on`` to :data:`HORIZON_DAYS` after it.

    Parameters
    ----------
    garden
        ``garden.weather`` is ``"normals"``, ``"live"`` or a file's path, relative to ``folder``.
    on
        The day of the round. Nothing observed on or after it is used.
    back_days
        How far back to reach.
    log
        Rain entries that count before ``on`` (:func:`gauge_day`) override the source.
    folder
        Where the garden file lies.

    Returns
    -------
    WeatherSeries

    Raises
    ------
    InputError
        When a file cannot be read or does not reach near enough.
    SourceDown
        When live weather cannot be had and none is kept.
    """
    first, last = on - timedelta(days=back_days), on + timedelta(days=HORIZON_DAYS)
    if garden.weather == "normals":
        series = _expected(garden, first, last)
    elif garden.weather == "live":
        series = _then_expected(garden, live_weather(garden, on), on, last, back_days)
    else:
        series = _then_expected(garden, _from_file(garden, on, folder), on, last, back_days)
    return with_gauge(series, log, on)


def with_gauge(series: WeatherSeries, log: Sequence[LogEntry], on: date) -> WeatherSeries:
    """The series with the rain entries of a log that count before ``on``."""
    from soakbook.weather.gauge import with_own_gauge

    rain = [(gauge_day(e), e.rain_mm) for e in log if e.kind == "rain" and e.rain_mm is not None and gauge_day(e) < on]
    inside = [(d, mm) for d, mm in rain if series.times[0] <= np.datetime64(d)]
    return with_own_gauge(series, inside) if inside else series


def gauge_day(entry: LogEntry) -> date:
    """The day a gauge reading is counted on: read before noon, it is what fell the day and night before (common practice)."""
    return entry.at.date() - timedelta(days=1) if entry.at.hour < 12 else entry.at.date()


def described(weather: WeatherSeries) -> str:
    """Where the weather came from, in words; of normals also from which stations."""
    stations = [
        say(
            "normals of 2003 to 2021 (Deutscher Wetterdienst, CC BY 4.0; averaged) from {stations}",
            stations=note.values["stations"],
        )
        for note in weather.notes
        if isinstance(note, Said) and "stations" in note.values
    ]
    parts = [part for part in sources_in_turn(weather.source) if part != "monthly normals" or not stations]
    named = list(dict.fromkeys([*parts, *stations]))
    return reduce(one_after_another, named) if named else weather.source


def _expected(garden: Garden, first: date, last: date) -> WeatherSeries:
    from soakbook.weather.normals import expected_weather, normals_at

    normals = normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m)
    return in_showers(_filled(expected_weather(normals, first, last), garden), normals.wet_day_rain_mm)


def _filled(series: WeatherSeries, garden: Garden) -> WeatherSeries:
    from soakbook.weather.fill import fill_gaps
    from soakbook.weather.normals import normals_at

    return fill_gaps(series, normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m))


def live_weather(garden: Garden, on: date) -> WeatherSeries:
    """Fetched (or kept) weather of the last weeks and the days ahead, gaps filled."""
    from soakbook.weather.fetch import fetch_weather

    return _filled(
        fetch_weather(garden.lat_deg, garden.lon_deg, garden.elevation_m, garden.time_zone, today=on), garden
    )


def _from_file(garden: Garden, on: date, folder: Path | None) -> WeatherSeries:
    from soakbook.weather.daily import hourly_to_daily
    from soakbook.weather.read import read_weather

    path = Path(garden.weather)
    path = path if path.is_absolute() or folder is None else folder / path
    series = read_weather(
        path, lat_deg=garden.lat_deg, lon_deg=garden.lon_deg, elevation_m=garden.elevation_m, time_zone=garden.time_zone
    )
    if series.step == "hour":
        series = hourly_to_daily(series)
    return _filled(series, garden)


def _then_expected(garden: Garden, series: WeatherSeries, on: date, last: date, back_days: int) -> WeatherSeries:
    """Observed days before ``on``, forecast days from it on, and after them what is expected."""
    now = np.datetime64(on)
    past = observed_until(series, now)
    if len(past) < 10:
        raise InputError(
            say("the weather has {n} days before {on}; at least 10 are needed.", n=len(past), on=on),
            code="weather.too_short",
            field="weather",
            hint=say('Give a longer file, or weather = "normals".'),
        )
    ahead = series.times >= now
    parts = [past]
    if bool(np.any(ahead & (series.kind == FORECAST))):
        days = series.times[ahead & (series.kind == FORECAST)]
        parts.append(series.between(days[0], days[-1]))
    begin = past.times[-1] + np.timedelta64(1, "D")
    years = len(past) / 365.25
    if years >= ENOUGH_YEARS and begin == now:
        parts.append(expected_from_past(past, begin, np.datetime64(last)))
    else:
        first: date = begin.astype(date)
        parts.append(_expected(garden, first, last))
    whole = join(*parts)
    return whole.between(now - np.timedelta64(back_days, "D"), whole.times[-1])
