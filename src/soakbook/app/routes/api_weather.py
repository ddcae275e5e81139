"""The weather for programs: day by day with flags, what is usual, asked for anew, brought in as a file."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter
from fastapi.responses import Response

from soakbook.app import weather_file_view
from soakbook.app.api_models_today import FileIn, FileOut, UsualWeather, WeatherFile, WeatherOut
from soakbook.app.api_tools import ERRORS, GONE, MOST_ROWS, Key, Some, a_file
from soakbook.app.desk import Known
from soakbook.app.pages import OwnPage, Page
from soakbook.app.routes import weather
from soakbook.app.routes.setup_weather import keep_file, plain_name, weather_files
from soakbook.errors import InputError
from soakbook.said import say
from soakbook.store import GardenRow

if TYPE_CHECKING:
    from soakbook.weather.series import FloatArray, WeatherSeries

router = APIRouter(tags=["weather"], responses=ERRORS)
#: Days before and after today that are given when no others are asked for.
_BACK, _AHEAD = 30, 16
_CSV = a_file("text/csv", "The table.")


@router.get("/gardens/{key}/weather", response_model=WeatherOut, responses=GONE, summary="Weather day by day")
def get_weather(page: OwnPage, key: Key, since: date | None = None, until: date | None = None) -> dict[str, Any]:
    """As used for the round: observed, forecast or what is usual, with what became of each value. At most 500 days."""
    known = page.desk.known(key)
    today = page.desk.today(known.garden)
    first, last = since or today - timedelta(days=_BACK), until or today + timedelta(days=_AHEAD)
    if (last - first).days >= MOST_ROWS:
        raise InputError(say("At most {n} days are given at once.", n=MOST_ROWS), code="weather.span", field="since")
    return _shown(page, known, first, last)


def _shown(page: Page, known: Known, first: date, last: date) -> dict[str, Any]:
    import numpy as np

    from soakbook.advice.sky import described
    from soakbook.weather.eto import series_eto

    sky, span = page.desk.sky(known), (np.datetime64(first), np.datetime64(last))
    series = sky.series.between(*span)
    return {
        **_series_json(series, series_eto(series)), "source": page.reader.tell(described(sky.series)), "place": known.garden.name,
        "rain_without_gauge_mm": _numbers(sky.bare.between(*span).get("rain_mm")), "looked_utc": sky.looked_utc,
        "trouble": page.reader.tell(sky.trouble), "files": weather_files(page, known),
    }  # fmt: skip


def _series_json(series: WeatherSeries, eto_mm: FloatArray | None) -> dict[str, Any]:
    from soakbook.weather.series import COLUMNS, FLAG_WORDS, KIND_WORDS

    latitude, longitude, elevation_m = _numbers([series.lat_deg, series.lon_deg, series.elevation_m])
    return {
        "source": series.source, "latitude": latitude, "longitude": longitude, "elevation_m": elevation_m,
        "time_zone": series.time_zone, "notes": list(series.notes),
        "units": {name: COLUMNS[name] for name in series.columns}, "days": [str(day) for day in series.times],
        "day_kind": [KIND_WORDS[int(kind)] for kind in series.kind],
        "columns": {name: _numbers(values) for name, values in series.columns.items()},
        "flags": {name: [int(flag) for flag in flags] for name, flags in series.flags.items()},
        "flag_words": {str(flag): words for flag, words in FLAG_WORDS.items()},
        "reference_evapotranspiration_mm": None if eto_mm is None else _numbers(eto_mm),
    }  # fmt: skip


def _numbers(values: Iterable[float]) -> list[float | None]:
    return [round(float(value), 4) if math.isfinite(value) else None for value in values]


@router.get("/gardens/{key}/weather.csv", response_class=Response, responses=GONE | _CSV, summary="Weather as a table")
def get_weather_csv(page: OwnPage, key: Key) -> Response:
    """Every day and quantity with its flags, as docs/weather-files.md describes tables."""
    return weather.weather_csv_file(page, key)


@router.post("/gardens/{key}/weather/fetch", response_model=WeatherOut, responses=GONE, summary="Fetch the weather now")
def fetch_weather(page: OwnPage, key: Key) -> dict[str, Any]:
    """Asks the source of live weather again, unless it did within the last minute. Other gardens are left as they are."""
    known = page.desk.known(key)
    if known.garden.weather == "live":
        page.desk.fetch_now(known)
    today = page.desk.today(known.garden)
    return _shown(page, known, today - timedelta(days=_BACK), today + timedelta(days=_AHEAD))


@router.post(
    "/gardens/{key}/weather/files",
    response_model=GardenRow,
    status_code=201,
    responses=GONE,
    summary="Bring a weather file in",
)
def bring_weather(page: OwnPage, key: Key, body: WeatherFile) -> GardenRow:
    """Reads the file through, keeps it, and takes the garden's weather from it."""
    return keep_file(page, page.desk.known(key), body.name, body.base64)


@router.get("/gardens/{key}/weather/usual", response_model=UsualWeather, responses=GONE, summary="Usual weather")
def get_usual(page: OwnPage, key: Key) -> dict[str, Any]:
    """What is usual at the garden in each month."""
    from soakbook.weather.normals import normals_at

    garden = page.desk.known(key).garden
    usual = normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m)
    names = ("t_min_c", "t_max_c", "rain_mm", "wet_days", "sunshine_h")
    columns = {name: _numbers(getattr(usual, name)) for name in names}
    months = [{"month": m + 1, **{name: column[m] for name, column in columns.items()}} for m in range(12)]
    return {"months": months, "notes": list(usual.notes)}


@router.post("/weather-file", response_model=FileOut, summary="Look at a weather file")
def look_at_file(page: OwnPage, some: Some, body: FileIn) -> dict[str, Any]:
    """Reads it through, fills gaps and works out the demand. ``limit`` and ``offset`` choose its days. Nothing is kept."""
    from soakbook.weather.daily import hourly_to_daily
    from soakbook.weather.shown import reckoned

    fields = {name: getattr(body, name) for name in weather_file_view.FIELDS}
    got = weather_file_view.given(fields, plain_name(body.name), body.base64, page.reader)
    series = hourly_to_daily(got.series) if got.series.step == "hour" else got.series
    made = reckoned(series, got.convention)
    days = slice(some.offset, some.offset + some.limit)
    data = _series_json(made.series, made.eto_mm)
    told = [got.note, *data["notes"], made.why_not]
    return {
        **data, "place": got.town, "notes": [note for note in told if note], "total_days": len(series),
        **{name: data[name][days] for name in ("days", "day_kind")},
        **{name: {key: values[days] for key, values in data[name].items()} for name in ("columns", "flags")},
        "reference_evapotranspiration_mm": None if made.eto_mm is None else data["reference_evapotranspiration_mm"][days],
    }  # fmt: skip
