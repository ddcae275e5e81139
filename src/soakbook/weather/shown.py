"""What was made of a weather file, for whoever shows it: gaps filled, demand worked out, each column counted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from soakbook.errors import InputError
from soakbook.said import Said, join_said, say
from soakbook.weather.eto import Convention, series_eto
from soakbook.weather.fill import fill_gaps
from soakbook.weather.normals import normals_at
from soakbook.weather.series import COLUMNS, FLAG_WORDS, FloatArray, WeatherSeries


@dataclass(frozen=True)
class Reckoned:
    """A series with its gaps filled and its reference evapotranspiration [mm per step]; or the series as it was, and why."""

    series: WeatherSeries
    eto_mm: FloatArray | None
    why_not: str = ""


@dataclass(frozen=True)
class Column:
    """A quantity of a series: how many steps had it, of how many, and what became of the others."""

    name: str
    unit: str
    read: int
    of: int
    others: str


def is_placed(series: WeatherSeries) -> bool:
    """Whether it is known where a series was measured."""
    return bool(np.isfinite(series.lat_deg) and np.isfinite(series.lon_deg))


def reckoned(series: WeatherSeries, convention: Convention | None = None) -> Reckoned:
    """The series filled from the normals of its spot, with its demand. A height nobody gave is that of the stations around."""
    if not is_placed(series):
        return Reckoned(series, None)
    try:
        height = series.elevation_m if np.isfinite(series.elevation_m) else None
        normals = normals_at(series.lat_deg, series.lon_deg, height)
        filled = fill_gaps(replace(series, elevation_m=normals.elevation_m), normals)
        return Reckoned(filled, series_eto(filled, convention))
    except InputError as error:
        return Reckoned(series, None, join_said([error.message, error.hint]))


def columns_of(read: WeatherSeries, filled: WeatherSeries) -> list[Column]:
    """The columns of a filled series, in their usual order, beside what was read."""
    found = []
    for name, unit in COLUMNS.items():
        if name in filled.columns:
            good = np.isfinite(read.get(name)) & (read.flag(name) == 0)
            made = "" if name in read.columns else say("computed from the humidity")
            found.append(Column(name, unit, int(good.sum()), len(read), fills(filled, name) or made))
    return found


def fills(series: WeatherSeries, name: str) -> Said | str:
    """``12 filled by a rule …, 3 filled from the days around it``; empty when every step is as read."""
    counts = np.bincount(series.flag(name), minlength=len(FLAG_WORDS))
    parts = [say("{n} {what}", n=int(counts[f]), what=FLAG_WORDS[f]) for f in FLAG_WORDS if f and counts[f]]
    missing = int(np.sum(np.isnan(series.get(name)) & (series.flag(name) == 0)))
    if missing:
        parts.append(say("{n} missing", n=missing))
    return join_said(parts, ", ") if parts else ""
