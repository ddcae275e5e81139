"""Weather for a garden's round: what was observed, then forecast, then expected, with the own rain gauge on top."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from datetime import date, timedelta
from functools import reduce
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from soakbook.advice.decide import HORIZON_DAYS
from soakbook.errors import InputError, SourceDown
from soakbook.garden.model import Garden, LogEntry
from soakbook.said import Said, say
from soakbook.weather.join import expected_from_past, in_showers, join, observed_until
from soakbook.weather.series import EXPECTED, FORECAST, WeatherSeries, one_after_another, sources_in_turn

if TYPE_CHECKING:
    from soakbook.weather.members import WeatherMembers
    from soakbook.weather.normals import MonthlyNormals

#: Days before the round that weather is wanted for.
BACK_DAYS = 160
#: Years of the file's own past that make it a better guide to the days ahead than normals.
ENOUGH_YEARS = 3
#: The ensemble is not waited for longer than this, nor asked for twice: the forecast can be dressed instead. Judged. [s]
ENSEMBLE_WAIT_S = 5.0
#: Weather files read lately, oldest first, by path, state and spot; they are never changed.
_FILES: dict[tuple[object, ...], WeatherSeries] = {}
_MOST_FILES = 4


def weather_for(
    garden: Garden, on: date, log: Sequence[LogEntry] = (), *, folder: Path | None = None, back_days: int = BACK_DAYS,
    ahead_days: int = HORIZON_DAYS,
) -> WeatherSeries:  # fmt: skip
    """Daily weather with gaps filled from ``back_days`` before ``on`` to ``ahead_days`` after it.

    Parameters
    ----------
    garden
        ``garden.weather`` is ``"normals"``, ``"live"`` or a file's path, relative to ``folder``.
    on
        The day of the round. Nothing observed on or after it is used.
    back_days, ahead_days
        How far back and on to reach.
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
    first, last = on - timedelta(days=back_days), on + timedelta(days=ahead_days)
    if garden.weather == "normals":
        series = _expected(garden, first, last)
    elif garden.weather == "live":
        series = _then_expected(garden, live_weather(garden, on), on, last, back_days)
    else:
        series = _then_expected(garden, weather_of_file(garden, folder), on, last, back_days)
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


def weather_of_file(garden: Garden, folder: Path | None) -> WeatherSeries:
    """The garden's weather file by the day, gaps filled; read again only where it has changed."""
    from soakbook.weather.daily import hourly_to_daily
    from soakbook.weather.read import read_weather

    path = Path(garden.weather)
    path = path if path.is_absolute() or folder is None else folder / path
    try:
        stamp = path.stat()
    except OSError:
        stamp = None  # reading it says what is wrong
    key = (path.absolute(), stamp and (stamp.st_mtime_ns, stamp.st_size), *_spot(garden))
    kept = _FILES.get(key)
    if kept is None:
        series = read_weather(
            path,
            lat_deg=garden.lat_deg,
            lon_deg=garden.lon_deg,
            elevation_m=garden.elevation_m,
            time_zone=garden.time_zone,
        )
        if series.step == "hour":
            series = hourly_to_daily(series)
        kept = _filled(series, garden)
        _FILES[key] = kept
        for old in list(_FILES)[:-_MOST_FILES]:
            _FILES.pop(old, None)
    return kept


def _spot(garden: Garden) -> tuple[float, float, float, str]:
    return garden.lat_deg, garden.lon_deg, garden.elevation_m, garden.time_zone


def members_for(
    garden: Garden,
    weather: WeatherSeries,
    on: date,
    *,
    count: int = 50,
    seed: int = 1,
    folder: Path | None = None,
    days: int = 16,
) -> WeatherMembers:
    """Members of the weather from ``on`` to ``days`` after it.

    Parameters
    ----------
    garden
        With live weather the ensemble is asked for; where it gives nothing the single forecast is dressed. With a file, years of
        the file's own past stand for what may come.
    weather
        What :func:`weather_for` gave for the same day: its forecast days, and whether yesterday was wet.
    on
        Today. Nothing observed on or after it is used.
    count
        Members wanted.
    seed
        Where chance starts; the same weather and seed give the same members.
    folder
        Where the garden file lies.
    days
        How far ahead, 16 at most where an ensemble is to reach the end.

    Returns
    -------
    WeatherMembers
        ``source`` says what they were made from.

    Raises
    ------
    InputError
        When a file cannot be read.
    """
    from soakbook.weather.ahead import members_ahead
    from soakbook.weather.normals import normals_at

    normals = normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m)
    now = np.datetime64(on)
    record = weather if garden.weather in ("live", "normals") else weather_of_file(garden, folder)
    return members_ahead(
        on,
        on + timedelta(days=days),
        count,
        np.random.default_rng(seed),
        normals,
        record=_seen_before(record, now),
        forecast=_forecast_from(weather, now),
        ensemble=_ensemble(garden, on, normals, days) if garden.weather == "live" else None,
    )


def _seen_before(record: WeatherSeries, now: np.datetime64) -> WeatherSeries | None:
    """The unbroken stretch of observed days that ends yesterday; None where yesterday was not observed."""
    before = record.between(record.times[0], now - np.timedelta64(1, "D"))
    if len(before) == 0 or before.times[-1] != now - np.timedelta64(1, "D"):
        return None
    expected = np.flatnonzero(before.kind == EXPECTED)
    first = int(expected[-1]) + 1 if len(expected) else 0
    return before.between(before.times[first], before.times[-1]) if first < len(before) else None


def _forecast_from(weather: WeatherSeries, now: np.datetime64) -> WeatherSeries | None:
    """The unbroken stretch of forecast days that begins today; None where there is none."""
    ahead = weather.between(now, weather.times[-1])
    others = np.flatnonzero(ahead.kind != FORECAST)
    n = int(others[0]) if len(others) else len(ahead)
    return ahead.between(now, ahead.times[n - 1]) if n else None


def _ensemble(garden: Garden, on: date, normals: MonthlyNormals, days: int) -> WeatherMembers | None:
    """The ensemble, kept like other live weather; None where it gives nothing, for the forecast can be dressed instead."""
    from soakbook.weather.fetch import FetchSettings
    from soakbook.weather.fetch_ensemble import MOST_DAYS, fetch_ensemble
    from soakbook.weather.web import WebSettings

    patience = FetchSettings(web=WebSettings(timeout_s=ENSEMBLE_WAIT_S, total_s=2.0 * ENSEMBLE_WAIT_S, attempts=1))
    with suppress(SourceDown):
        return fetch_ensemble(
            garden.lat_deg,
            garden.lon_deg,
            garden.elevation_m,
            garden.time_zone,
            today=on,
            forecast_days=min(days + 1, MOST_DAYS),
            normals=normals,
            settings=patience,
        )
    return None


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
