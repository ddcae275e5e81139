"""Reference evapotranspiration of a weather series as a table: each step with what of it was not measured."""

from __future__ import annotations

import csv
import io

from soakbook.said import Said, join_said, say
from soakbook.weather.eto import Convention, series_eto_uncut
from soakbook.weather.fill import fill_gaps
from soakbook.weather.normals import normals_at
from soakbook.weather.series import FLAG_WORDS, KIND_WORDS, MEASURED, OBSERVED, FloatArray, WeatherSeries

DEW = say("below zero (dew), set to 0")


def demand_of(read: WeatherSeries, convention: Convention | None = None) -> tuple[WeatherSeries, FloatArray]:
    """A series of a known place with its gaps filled, and its demand with values below zero left in. [mm per step]"""
    series = fill_gaps(read, normals_at(read.lat_deg, read.lon_deg, read.elevation_m))
    return series, series_eto_uncut(series, convention)


def step_flags(series: WeatherSeries, values: FloatArray) -> list[Said | str]:
    """For each step what was not measured, in words; empty where all was."""
    words: list[list[Said | str]] = [[] if kind == OBSERVED else [KIND_WORDS[int(kind)]] for kind in series.kind]
    for name in series.columns:
        if name in ("eto_mm", "rain_mm", "rain_chance_pct"):
            continue
        for i, flag in enumerate(series.flag(name)):
            if flag != MEASURED:
                words[i].append(say("{column} {what}", column=name, what=FLAG_WORDS[int(flag)]))
    for i, value in enumerate(values):
        if value < 0.0:
            words[i].append(DEW)
    return [join_said(w, "; ") if w else "" for w in words]


def steps(series: WeatherSeries, values: FloatArray) -> list[tuple[str, float | None, Said | str]]:
    """Time, millimetres (None where an input is missing) and flags of each step."""
    digits = 2 if series.step == "day" else 3
    ending = "" if series.step == "day" else "Z"
    rows: list[tuple[str, float | None, Said | str]] = []
    for time, value, flags in zip(series.times, values, step_flags(series, values), strict=True):
        shown = None if value != value else round(max(float(value), 0.0), digits)
        rows.append((f"{time}{ending}", shown, flags))
    return rows


def as_csv(series: WeatherSeries, values: FloatArray) -> str:
    """Lines of date (or UTC start of the hour), eto_mm and flags, under a heading."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("date" if series.step == "day" else "start_utc", "eto_mm", "flags"))
    for time, value, flags in steps(series, values):
        writer.writerow((time, "" if value is None else value, flags))
    return text.getvalue()


def as_payload(series: WeatherSeries, values: FloatArray, convention: Convention | None) -> dict[str, object]:
    """The same with the place and the notes, as plain data."""
    usual = "FAO56" if series.step == "day" else "ASCE2005"
    return {
        "step": series.step,
        "convention": convention or usual,
        "lat_deg": series.lat_deg,
        "lon_deg": series.lon_deg,
        "elevation_m": series.elevation_m,
        "source": series.source,
        "notes": list(series.notes),
        "steps": [{"time": t, "eto_mm": v, "flags": f} for t, v, f in steps(series, values)],
    }
