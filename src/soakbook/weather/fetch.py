"""Live weather: the last weeks and the days ahead, from Open-Meteo or, in the United States, the Weather Service."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Literal

import numpy as np

from soakbook.errors import InputError, SourceDown
from soakbook.said import say
from soakbook.weather.cache import Cache, Kept, age_words, default_cache_dir
from soakbook.weather.daily import hourly_to_daily, mark_kind
from soakbook.weather.regular import Where
from soakbook.weather.series import OBSERVED, FlagArray, FloatArray, WeatherSeries, one_after_another
from soakbook.weather.sources import nws, open_meteo
from soakbook.weather.web import NotCovered, WebSettings, ask_json
from soakbook.weather.zones import zone

OPEN_METEO_URL = "https://api.open-meteo.com"
NWS_URL = "https://api.weather.gov"
#: What the service offers: days back and ahead.
MOST_PAST_DAYS, MOST_FORECAST_DAYS = 92, 16
_VARIABLES = (
    "temperature_2m,relative_humidity_2m,dew_point_2m,precipitation,precipitation_probability,wind_speed_10m,"
    "shortwave_radiation,surface_pressure,et0_fao_evapotranspiration"
)
#: Rough boxes of the United States (south, north, west, east): states, Alaska, Hawaii, Puerto Rico. The service itself
#: says no to what is inside a box and not its own.
_US_BOXES = ((24.0, 49.5, -125.0, -66.5), (51.0, 71.5, -170.0, -129.0), (18.5, 22.5, -160.5, -154.5),
             (17.5, 18.6, -67.5, -64.5))  # fmt: skip


@dataclass(frozen=True)
class FetchSettings:
    """Where to ask, how patiently, and how long an answer stays good.

    ``open_meteo_url`` is taken from the environment variable SOAKBOOK_OPEN_METEO_URL where that is set, ``nws_url``
    from SOAKBOOK_NWS_URL. An answer younger than ``fresh_h`` hours is used without asking; when no service answers, one
    up to ``stale_h`` hours old is used and the notes say so.
    """

    open_meteo_url: str = field(default_factory=lambda: os.environ.get("SOAKBOOK_OPEN_METEO_URL") or OPEN_METEO_URL)
    nws_url: str = field(default_factory=lambda: os.environ.get("SOAKBOOK_NWS_URL") or NWS_URL)
    cache_dir: Path = field(default_factory=default_cache_dir)
    fresh_h: float = 1.0
    stale_h: float = 120.0
    web: WebSettings = field(default_factory=WebSettings)


def fetch_weather(
    lat_deg: float,
    lon_deg: float,
    elevation_m: float | None = None,
    time_zone: str | None = None,
    *,
    today: date | None = None,
    past_days: int = MOST_PAST_DAYS,
    forecast_days: int = MOST_FORECAST_DAYS,
    step: Literal["day", "hour"] = "day",
    settings: FetchSettings | None = None,
    now_utc: datetime | None = None,
) -> WeatherSeries:
    """Weather around today at a spot.

    Parameters
    ----------
    lat_deg, lon_deg, elevation_m, time_zone
        The spot; None leaves height and zone to the service.
    today
        Day from which on the weather is a forecast; None is the day it is there now.
    past_days, forecast_days
        How far back (0 to 92) and ahead (1 to 16).
    step
        ``"day"`` (local standard days) or ``"hour"``.
    settings
        Addresses, patience and cache.
    now_utc
        The time it is, for tests.

    Returns
    -------
    WeatherSeries
        As the service gave it, gaps not filled. ``notes`` say when an old answer had to do.

    Raises
    ------
    SourceDown
        No service answered and nothing young enough is kept.
    InputError
        Coordinates or days out of range.
    """
    where = Where(lat_deg, lon_deg, elevation_m, time_zone)
    _check_days(past_days, forecast_days)
    settings = settings or FetchSettings()
    now = now_utc or datetime.now(UTC)
    question = f"open-meteo/1/{lat_deg:.3f}/{lon_deg:.3f}/{elevation_m}/{time_zone}/{past_days}/{forecast_days}"
    asked = _Question(settings, Cache(settings.cache_dir), now)
    try:
        series = asked.answer(
            question,
            lambda: _ask_open_meteo(where, past_days, forecast_days, settings),
            lambda text: open_meteo.parse_open_meteo(text, where, now_utc=now),
        )
    except SourceDown as first:
        series = _second_source(asked, question, where, past_days, first)
    if time_zone:
        series = replace(series, time_zone=time_zone)
    if step == "day":
        series = hourly_to_daily(series)
        series = mark_kind(series, np.datetime64(today or now.astimezone(zone(series.time_zone)).date(), "D"))
    return series


def _check_days(past_days: int, forecast_days: int) -> None:
    for name, value, least, most in (
        ("past_days", past_days, 0, MOST_PAST_DAYS),
        ("forecast_days", forecast_days, 1, MOST_FORECAST_DAYS),
    ):
        if not least <= value <= most:
            raise InputError(
                say(
                    "{name} must be between {least} and {most} (got {value}).",
                    name=name,
                    least=least,
                    most=most,
                    value=value,
                ),
                code="weather.days",
                field=name,
            )


@dataclass
class _Question:
    """Asking with a cache before and behind."""

    settings: FetchSettings
    cache: Cache
    now: datetime

    def answer(self, question: str, ask: Callable[[], str], parse: Callable[[str], WeatherSeries]) -> WeatherSeries:
        """From a fresh answer kept, else from the service. SourceDown where the service has no use."""
        kept = self.cache.get(question)
        if kept is not None and self._age(kept) <= timedelta(hours=self.settings.fresh_h):
            try:
                return _with_note(parse(kept.text), say("Fetched {age} ago.", age=age_words(self._age(kept))))
            except InputError:
                kept = None  # kept by an older version; ask again
        text = ask()
        try:
            series = parse(text)
        except InputError as exc:
            raise SourceDown(
                say("the weather service gave an answer that cannot be used ({message})", message=exc.message),
                code="weather.answer",
            ) from exc
        said = self.cache.put(question, text, self.now)
        return _with_note(series, said) if said else series

    def kept_answer(self, question: str, parse: Callable[[str], WeatherSeries]) -> WeatherSeries | None:
        """From an old answer that is still of use, or None."""
        kept = self.cache.get(question)
        if kept is None or self._age(kept) > timedelta(hours=self.settings.stale_h):
            return None
        try:
            series = parse(kept.text)
        except InputError:
            return None
        return _with_note(
            series,
            say(
                "The weather service did not answer; weather fetched {age} ago is used.",
                age=age_words(self._age(kept)),
            ),
        )

    def _age(self, kept: Kept) -> timedelta:
        """Never below zero: an answer from the future (a clock set back) counts as very old."""
        age = self.now - kept.fetched_utc
        return age if age >= timedelta(minutes=-5) else timedelta(days=3650)


def _with_note(series: WeatherSeries, note: str) -> WeatherSeries:
    return replace(series, notes=(*series.notes, note))


def _ask_open_meteo(where: Where, past_days: int, forecast_days: int, settings: FetchSettings) -> str:
    params = {
        "latitude": f"{where.lat_deg:.4f}",
        "longitude": f"{where.lon_deg:.4f}",
        "hourly": _VARIABLES,
        "timeformat": "unixtime",
        "timezone": where.time_zone or "auto",
        "wind_speed_unit": "ms",
        "past_days": str(past_days),
        "forecast_days": str(forecast_days),
    }
    if where.elevation_m is not None:
        params["elevation"] = f"{where.elevation_m:.0f}"
    return ask_json(settings.open_meteo_url, "/v1/forecast", params, "Open-Meteo", settings.web)


def _second_source(asked: _Question, question: str, where: Where, past_days: int, first: SourceDown) -> WeatherSeries:
    """The Weather Service within the United States, then an old answer, then the first error."""
    if _in_us(where):
        # Where this one fails as well, an old answer may serve; if none does, the first error says what is wrong.
        with suppress(SourceDown, InputError):
            series = _from_nws(asked, where, past_days)
            return _with_note(series, say("Open-Meteo gave no weather; the National Weather Service did."))
    old = asked.kept_answer(question, lambda text: open_meteo.parse_open_meteo(text, where, now_utc=asked.now))
    if old is None:
        raise first
    return old


def _in_us(where: Where) -> bool:
    lat, lon = where.lat_deg or 0.0, where.lon_deg or 0.0
    return any(south <= lat <= north and west <= lon <= east for south, north, west, east in _US_BOXES)


def _from_nws(asked: _Question, where: Where, past_days: int) -> WeatherSeries:
    """Gridpoint forecast, with the observations of the nearest station that has any before it."""
    settings = asked.settings

    def ask(path: str, params: dict[str, str] | None = None) -> str:
        return ask_json(settings.nws_url, path, params or {}, say("The National Weather Service"), settings.web)

    point = nws.parse_points(ask(f"/points/{where.lat_deg:.4f},{where.lon_deg:.4f}"))
    cell = f"/gridpoints/{point.office}/{point.grid_x},{point.grid_y}"
    here = replace(where, time_zone=where.time_zone or point.time_zone)
    ahead = nws.parse_nws(ask(cell), here)
    # The grid cell is some km wide; the garden is where the caller says.
    ahead = replace(ahead, lat_deg=where.lat_deg or 0.0, lon_deg=where.lon_deg or 0.0)
    # The service keeps observations for about a week.
    start = nws.default_start(asked.now, min(past_days, 7))
    for station in nws.parse_stations(ask(f"{cell}/stations"))[:3]:
        try:
            text = ask(f"/stations/{station}/observations", {"start": start})
            return observed_then_forecast(nws.parse_nws(text, here), ahead)
        except (InputError, NotCovered):
            continue
    return _with_note(ahead, say("No station near has observations."))


def observed_then_forecast(observed: WeatherSeries, forecast: WeatherSeries) -> WeatherSeries:
    """One hourly series: observed hours where there are any, the forecast elsewhere; hours between stay NaN."""
    first = min(observed.times[0], forecast.times[0])
    last = max(observed.times[-1], forecast.times[-1])
    times = np.arange(first, last + np.timedelta64(3600, "s"), np.timedelta64(3600, "s"))
    n = len(times)
    columns: dict[str, FloatArray] = {}
    flags: dict[str, FlagArray] = {}
    for name in dict.fromkeys([*forecast.columns, *observed.columns]):
        values, marks = np.full(n, np.nan), np.zeros(n, dtype=np.uint8)
        for part in (forecast, observed):
            at = ((part.times - first) // np.timedelta64(3600, "s")).astype(int)
            there = np.isfinite(part.get(name))
            values[at[there]] = part.get(name)[there]
            marks[at] = np.where(there, part.flag(name), marks[at])
        columns[name] = values
        if marks.any():
            flags[name] = marks
    kind = np.full(n, OBSERVED, dtype=np.uint8)
    kind[times > observed.times[-1]] = forecast.kind[-1]
    return replace(
        forecast,
        times=times,
        columns=columns,
        flags=flags,
        kind=kind,
        source=one_after_another(observed.source, forecast.source),
        notes=(*observed.notes, *forecast.notes),
    )
