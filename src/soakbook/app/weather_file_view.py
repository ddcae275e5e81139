"""A single weather file: read as its form says, and what was made of it in plain words. Nothing of it is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from soakbook.app.entry_amount import amount_text
from soakbook.app.reader import Reader
from soakbook.errors import InputError, InputErrors
from soakbook.said import Said, say

if TYPE_CHECKING:
    from soakbook.weather.eto import Convention
    from soakbook.weather.series import FloatArray, WeatherSeries

FIELDS = ("at", "lat", "lon", "elevation", "zone", "convention")
CONVENTIONS = ("FAO56", "ASCE2005")
#: Days that are shown one by one; the CSV files have all.
MOST_DAYS = 62
#: Fields of the form that errors of the rooms below are about.
_BESIDE = {
    "lat_deg": "lat",
    "lon_deg": "lon",
    "elevation_m": "elevation",
    "time_zone": "zone",
    "where": "at",
    "place": "at",
}
COLUMN_WORDS: dict[str, str] = {
    "t_max_c": say("highest temperature"), "t_min_c": say("lowest temperature"), "t_mean_c": say("mean temperature"),
    "rh_max_pct": say("highest humidity"), "rh_min_pct": say("lowest humidity"), "rh_mean_pct": say("mean humidity"),
    "dew_point_c": say("dew point"), "vapour_pressure_kpa": say("moisture in the air (vapour pressure)"),
    "wind_2m_ms": say("wind"), "solar_mj_m2": say("sunlight"), "sunshine_h": say("hours of sunshine"),
    "pressure_kpa": say("air pressure"), "rain_mm": say("rain"), "rain_chance_pct": say("chance of rain"),
    "rain_source_mm": say("rain by the source, beside the own gauge"), "eto_mm": say("demand, as the source worked it out"),
}  # fmt: skip
#: What stands behind a figure that is not as it was read.
MARKS = {0: "", 1: "r", 2: "n", 3: "m", 4: "g", 5: "x"}
_SHOWN = (("t_max_c", "temperature", 1), ("t_min_c", "temperature", 1), ("rain_mm", "depth", None),
          ("wind_2m_ms", "speed", 1), ("solar_mj_m2", "", 1))  # fmt: skip


@dataclass(frozen=True)
class Given:
    """A file as it was read, by the day or hour, and the convention asked for."""

    series: WeatherSeries
    convention: Convention | None
    town: str
    note: str


@dataclass(frozen=True)
class Made:
    """What the page says of a file. A day is (day, [(figure, mark)], demand, kind); ``marks`` are explained below them."""

    source: str
    span: str
    by_hour: bool
    place: str
    elevation: str
    zone: str
    columns: list[tuple[str, str, str, str]]
    notes: list[str]
    why_not: str
    convention: str
    days: list[tuple[str, list[tuple[str, str]], str, str]]
    left_out: int
    marks: list[tuple[str, str]]


# --- reading ---------------------------------------------------------------------------------------------------------------
def given(fields: Mapping[str, str], name: str, data: bytes, r: Reader) -> Given:
    """The file read with what the form says of its place; InputErrors by the form's fields."""
    from soakbook.weather.read import decode, parse_weather
    from soakbook.weather.regular import Where

    wrong: list[InputError] = []
    if not data:
        wrong.append(InputError(say("choose a file first."), code="weather.none", field="file"))
    spot = _tried(wrong, "at", lambda: _spot(fields.get("at", "")))
    lat = _tried(wrong, "lat", lambda: _degrees(fields.get("lat", ""), 90.0))
    lon = _tried(wrong, "lon", lambda: _degrees(fields.get("lon", ""), 180.0))
    elevation = _tried(wrong, "elevation", lambda: _elevation(fields.get("elevation", ""), r))
    zone = _tried(wrong, "zone", lambda: _zone(fields.get("zone", "")))
    convention = fields.get("convention", "")
    if convention and convention not in CONVENTIONS:
        wrong.append(InputError(say("choose one of the list."), code="weather.convention", field="convention"))
    if wrong:
        raise InputErrors(wrong)
    if spot is not None:
        lat, lon = (spot.lat_deg if lat is None else lat), (spot.lon_deg if lon is None else lon)
        zone = zone or spot.time_zone
    try:
        series = parse_weather(decode(data, name), Where(lat, lon, elevation, zone), name=name)
    except InputError as error:
        raise _beside(error) from error
    town, note = (spot.name, spot.note) if spot is not None else ("", "")
    return Given(series, cast("Convention | None", convention or None), town, note)


def demand_csv(got: Given) -> str:
    """Reference evapotranspiration of every day or hour, as the command of that name prints it."""
    from soakbook.weather.eto_table import as_csv, demand_of
    from soakbook.weather.normals import normals_at

    read = _placed(got)
    try:
        if not np.isfinite(read.elevation_m):
            read = replace(read, elevation_m=normals_at(read.lat_deg, read.lon_deg).elevation_m)
        return as_csv(*demand_of(read, got.convention))
    except InputError as error:
        raise _beside(error) from error


def days_csv(got: Given) -> str:
    """Every day with its gaps filled and flagged, as far as that can be done."""
    from soakbook.weather.shown import reckoned
    from soakbook.weather.write import weather_csv

    return weather_csv(reckoned(_by_day(got.series)).series)


def _placed(got: Given) -> WeatherSeries:
    from soakbook.weather.shown import is_placed

    if not is_placed(got.series):
        raise InputError(
            say("The file does not say where it was measured: give a town, or latitude and longitude."),
            code="weather.place",
            field="at",
        )
    return got.series


def _by_day(series: WeatherSeries) -> WeatherSeries:
    from soakbook.weather.daily import hourly_to_daily

    try:
        return hourly_to_daily(series) if series.step == "hour" else series
    except InputError as error:
        raise _beside(error) from error


def _beside(error: InputError) -> InputError:
    """The error under the field of the form it is about: what is not about the place is about the file."""
    hint = "" if "`" in error.hint or "--" in error.hint else error.hint
    return InputError(error.message, code=error.code, field=_BESIDE.get(error.field, "file"), hint=hint)


def _tried(wrong: list[InputError], field: str, read: Any) -> Any:
    try:
        return read()
    except InputError as error:
        hint = "" if "`" in error.hint or "--" in error.hint else error.hint
        wrong.append(InputError(error.message, code=error.code, field=field, hint=hint))
        return None


def _spot(text: str) -> Any:
    from soakbook.weather.gazetteer import find_place

    return find_place(text[:100]) if text else None


def _degrees(text: str, most: float) -> float | None:
    if not text:
        return None
    try:
        value = float(text.replace(",", ".").replace("−", "-").removesuffix("°"))
    except ValueError:
        value = np.inf
    if not abs(value) <= most:
        raise InputError(
            say("this must be degrees from -{most:g} to {most:g}, such as 48.1.", most=most), code="weather.place"
        )
    return value


def _elevation(text: str, r: Reader) -> float | None:
    from soakbook.units import parse_quantity

    if not text:
        return None
    below = text.startswith(("-", "−"))
    metres = parse_quantity(amount_text(text.lstrip("-−"), "ft" if r.units == "US" else "m"), "length")
    return -metres if below else metres


def _zone(text: str) -> str | None:
    from soakbook.weather.zones import zone

    return zone(text[:60]).key if text else None


# --- shown -----------------------------------------------------------------------------------------------------------------
def made_of(got: Given, r: Reader) -> Made:
    """What was made of a file: days, columns, gaps, and the demand where it can be worked out."""
    from soakbook.weather.series import FLAG_WORDS
    from soakbook.weather.shown import columns_of, is_placed, reckoned

    read = _by_day(got.series)
    done = reckoned(read, got.convention)
    filled = done.series
    columns = []
    for c in columns_of(read, filled):
        count = r.t("{n} of {days}", n=c.read, days=c.of)
        columns.append((r.tell(COLUMN_WORDS[c.name]), r.tell(c.unit), count, r.tell(c.others) if c.others else ""))
    used = sorted({int(f) for name, _, _ in _SHOWN for f in filled.flag(name)[-MOST_DAYS:]} - {0})
    why_not = r.tell(done.why_not) if done.why_not else ""
    if not is_placed(read):
        why_not = r.t(
            "Give a town, or latitude and longitude, to have the demand (reference evapotranspiration) worked out."
        )
    return Made(
        source=r.tell(read.source), span=_span(read, r), by_hour=got.series.step == "hour", place=_place(got, read, r),
        elevation=r.quantity(filled.elevation_m, "length", 0) if np.isfinite(filled.elevation_m) else "",
        zone=read.time_zone, columns=columns,
        notes=[r.tell(_in_words(note)) for note in ([got.note] if got.note else []) + list(filled.notes)],
        why_not=why_not, convention=got.convention or "FAO56", days=_days(filled, done.eto_mm, r),
        left_out=max(len(filled) - MOST_DAYS, 0), marks=[(MARKS[f], r.tell(FLAG_WORDS[f])) for f in used],
    )  # fmt: skip


def _in_words(note: str) -> str:
    """A note with what a column holds in the place of its name."""
    if isinstance(note, Said) and note.many is None and note.values.get("name") in COLUMN_WORDS:
        return say(note.template, **{**note.values, "name": COLUMN_WORDS[note.values["name"]]})
    return note


def _place(got: Given, read: WeatherSeries, r: Reader) -> str:
    from soakbook.weather.shown import is_placed

    if not is_placed(read):
        return ""
    spot = f"{r.number(read.lat_deg, 2)}°, {r.number(read.lon_deg, 2)}°"
    return f"{got.town} ({spot})" if got.town else spot


def _span(series: WeatherSeries, r: Reader) -> str:
    if len(series) == 0:
        return r.t("no days")
    return r.t(
        "{n} days from {first} to {last}",
        n=len(series), first=r.day(series.times[0].astype(date), "numeric"), last=r.day(series.times[-1].astype(date), "numeric"),
    )  # fmt: skip


def _days(series: WeatherSeries, eto_mm: FloatArray | None, r: Reader) -> list[Any]:
    from soakbook.weather.series import KIND_WORDS

    rows = []
    for i in range(max(len(series) - MOST_DAYS, 0), len(series)):
        cells = [
            (_cell(float(series.get(name)[i]), kind, digits, r), MARKS[int(series.flag(name)[i])])
            for name, kind, digits in _SHOWN
        ]
        demand = "" if eto_mm is None else _cell(float(eto_mm[i]), "depth", None, r)
        day = r.day(series.times[i].astype(date), "numeric")
        rows.append((day, cells, demand, r.tell(KIND_WORDS[int(series.kind[i])])))
    return rows


def _cell(value: float, kind: str, digits: int | None, r: Reader) -> str:
    if not np.isfinite(value):
        return "–"
    if kind == "depth":
        digits = 2 if r.units == "US" else 1
    return r.quantity(value, kind, digits) if kind else r.number(value, digits or 0)
