"""Live ensemble forecasts from Open-Meteo."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np

from soakbook.errors import InputError, SourceDown
from soakbook.said import say
from soakbook.weather.cache import Cache, Kept, age_words
from soakbook.weather.daily import hourly_to_daily
from soakbook.weather.fetch import FetchSettings
from soakbook.weather.fill import fill_gaps
from soakbook.weather.members import WeatherMembers, members_of
from soakbook.weather.normals import MonthlyNormals
from soakbook.weather.regular import Where
from soakbook.weather.series import WeatherSeries
from soakbook.weather.sources.open_meteo_ensemble import parse_ensemble
from soakbook.weather.web import ask_json

ENSEMBLE_URL = "https://ensemble-api.open-meteo.com"
#: 31 runs over the whole world, 35 days ahead, with sunlight (the service's documentation).
MODEL = "gfs_seamless"
MOST_DAYS = 35
#: After a question that brought nothing none is asked for so long. Judged. [min]
SILENT_MIN = 10.0
_SILENT = "/silent"
_SAID_NOTHING = say("the weather service did not answer a moment ago")
#: Answers read lately, oldest first; they are never changed.
_READ: dict[tuple[str, Where, date, bytes | None], WeatherMembers] = {}
_MOST_READ = 4
_VARIABLES = "temperature_2m,relative_humidity_2m,dew_point_2m,precipitation,wind_speed_10m,shortwave_radiation"


def fetch_ensemble(
    lat_deg: float,
    lon_deg: float,
    elevation_m: float | None = None,
    time_zone: str | None = None,
    *,
    today: date,
    forecast_days: int = 16,
    normals: MonthlyNormals | None = None,
    model: str = MODEL,
    settings: FetchSettings | None = None,
    now_utc: datetime | None = None,
) -> WeatherMembers:
    """Members of the weather from today on, by the day.

    Parameters
    ----------
    lat_deg, lon_deg, elevation_m, time_zone
        The spot; None leaves height and zone to the service.
    today
        The first day of the members.
    forecast_days
        How far ahead, 1 to 35; a model that ends earlier gives fewer.
    normals
        For what a run lacks, see :func:`soakbook.weather.fill.fill_gaps`.
    model
        The service's word for the ensemble.
    settings
        Patience and cache; :func:`ensemble_url` says whom is asked. After a question without use none is asked for
        :data:`SILENT_MIN` minutes: the ensemble is a comfort, and nobody should wait for it at every page.
    now_utc
        The time it is, for tests.

    Raises
    ------
    SourceDown
        The service gave nothing of use and nothing young enough is kept.
    InputError
        Coordinates or days out of range.
    """
    where = Where(lat_deg, lon_deg, elevation_m, time_zone)
    if not 1 <= forecast_days <= MOST_DAYS:
        raise InputError(
            say(
                "{name} must be between {least} and {most} (got {value}).",
                name="forecast_days",
                least=1,
                most=MOST_DAYS,
                value=forecast_days,
            ),
            code="weather.days",
            field="forecast_days",
        )
    settings = settings or FetchSettings()
    now = now_utc or datetime.now(UTC)
    cache = Cache(settings.cache_dir)
    question = f"open-meteo-ensemble/1/{model}/{lat_deg:.3f}/{lon_deg:.3f}/{elevation_m}/{time_zone}/{forecast_days}"
    kept = cache.get(question)
    if kept is not None and _age(kept, now) <= timedelta(hours=settings.fresh_h):
        try:
            return _read(kept.text, where, today, normals)
        except InputError:
            kept = None  # kept by an older version; ask again
    silent = cache.get(question + _SILENT)
    try:
        if silent is not None and _age(silent, now) <= timedelta(minutes=SILENT_MIN):
            raise SourceDown(_SAID_NOTHING, code="weather.down")
        text = _ask(where, forecast_days, model, settings)
        members = _read(text, where, today, normals)
    except (SourceDown, InputError) as exc:
        if silent is None or _age(silent, now) > timedelta(minutes=SILENT_MIN):
            cache.put(question + _SILENT, "", now)
        return _old_or_down(kept, now, settings, exc, where, today, normals)
    cache.put(question, text, now)
    return members


def ensemble_url() -> str:
    """Whom to ask. Who names a server of their own for weather is not sent elsewhere: it is asked for the ensemble too."""
    own = os.environ.get("SOAKBOOK_OPEN_METEO_ENSEMBLE_URL") or os.environ.get("SOAKBOOK_OPEN_METEO_URL")
    return own or ENSEMBLE_URL


def _ask(where: Where, forecast_days: int, model: str, settings: FetchSettings) -> str:
    params = {
        "latitude": f"{where.lat_deg:.4f}",
        "longitude": f"{where.lon_deg:.4f}",
        "hourly": _VARIABLES,
        "models": model,
        "timeformat": "unixtime",
        "timezone": where.time_zone or "auto",
        "wind_speed_unit": "ms",
        "past_days": "1",  # a day of standard time may begin before the local one
        "forecast_days": str(forecast_days),
    }
    if where.elevation_m is not None:
        params["elevation"] = f"{where.elevation_m:.0f}"
    return ask_json(ensemble_url(), "/v1/ensemble", params, "Open-Meteo", settings.web)


def _read(text: str, where: Where, today: date, normals: MonthlyNormals | None) -> WeatherMembers:
    """An answer by the day; the last few are kept as members, for to read one takes a quarter of a second."""
    key = (
        hashlib.sha256(text.encode()).hexdigest(),
        where,
        today,
        None if normals is None else normals.t_max_c.tobytes(),
    )
    found = _READ.get(key)
    if found is None:
        found = _days(parse_ensemble(text, where), today, where.time_zone, normals)
        _READ[key] = found
        for old in list(_READ)[:-_MOST_READ]:
            _READ.pop(old, None)
    return found


def _days(
    runs: Sequence[WeatherSeries], today: date, time_zone: str | None, normals: MonthlyNormals | None
) -> WeatherMembers:
    """Runs by the day from today on; one that ends more than a day before the others is left out."""
    first = np.datetime64(today, "D")
    daily = []
    for run in runs:
        days = hourly_to_daily(replace(run, time_zone=time_zone) if time_zone else run)
        ahead = days.between(first, days.times[-1])
        whole = np.isfinite(ahead.get("t_max_c"))
        end = int(np.argmin(whole)) if not whole.all() else len(whole)
        if end:
            daily.append(fill_gaps(ahead.between(first, ahead.times[end - 1]), normals))
    if not daily:
        raise InputError(say("the ensemble holds no day from {day} on.", day=today), code="weather.empty")
    last = max(days.times[-1] for days in daily)
    full = [days for days in daily if days.times[-1] >= last - np.timedelta64(1, "D") and days.times[0] == first]
    if not full:
        raise InputError(say("the ensemble holds no day from {day} on.", day=today), code="weather.empty")
    return members_of(full, say("Open-Meteo.com, {n} runs of an ensemble", n=len(full)))


def _old_or_down(
    kept: Kept | None,
    now: datetime,
    settings: FetchSettings,
    why: SourceDown | InputError,
    where: Where,
    today: date,
    normals: MonthlyNormals | None,
) -> WeatherMembers:
    """Members from an answer kept, where it still reaches today; else the error."""
    if kept is not None and _age(kept, now) <= timedelta(hours=settings.stale_h):
        try:
            members = _read(kept.text, where, today, normals)
        except InputError:
            members = None
        if members is not None:
            note = say(
                "The weather service did not answer; weather fetched {age} ago is used.", age=age_words(_age(kept, now))
            )
            return replace(members, notes=(*members.notes, note))
    if isinstance(why, InputError):
        raise SourceDown(
            say("the weather service gave an answer that cannot be used ({message})", message=why.message),
            code="weather.answer",
        ) from why
    raise why


def _age(kept: Kept, now: datetime) -> timedelta:
    """Never below zero: an answer from the future (a clock set back) counts as very old."""
    age = now - kept.fetched_utc
    return age if age >= timedelta(minutes=-5) else timedelta(days=3650)
