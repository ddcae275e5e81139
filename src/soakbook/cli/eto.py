"""``soakbook eto``: reference evapotranspiration of a weather file, as CSV or JSON."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from soakbook.cli.app import app
from soakbook.cli.show import echo_json

if TYPE_CHECKING:
    from soakbook.weather.eto import Convention
    from soakbook.weather.series import FloatArray, WeatherSeries

DEW = "below zero (dew), set to 0"


@app.command("eto")
def eto(
    file: Annotated[Path, typer.Argument(help="Weather by the day or by the hour.")],
    convention: Annotated[
        Literal["FAO56", "ASCE2005"] | None,
        typer.Option("--convention", help="FAO56 for days and ASCE2005 for hours when left out."),
    ] = None,
    lat: Annotated[float | None, typer.Option("--lat", help="Degrees north, if the file has none.")] = None,
    lon: Annotated[float | None, typer.Option("--lon", help="Degrees east, if the file has none.")] = None,
    elevation: Annotated[float | None, typer.Option("--elevation", help="Metres, if the file has none.")] = None,
    zone: Annotated[str | None, typer.Option("--time-zone", help="Such as Europe/Rome, if the file has none.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Compute reference evapotranspiration (the demand of well-watered grass) from a weather file.

    Gaps are filled by the rules of FAO-56 chapter 3; the flags say what was filled.
    """
    from soakbook.weather.eto import series_eto_uncut
    from soakbook.weather.fill import fill_gaps
    from soakbook.weather.normals import normals_at
    from soakbook.weather.read import read_weather

    read = read_weather(file, lat_deg=lat, lon_deg=lon, elevation_m=elevation, time_zone=zone)
    _require_place(read)
    series = fill_gaps(read, normals_at(read.lat_deg, read.lon_deg, read.elevation_m))
    values = series_eto_uncut(series, convention)
    if as_json:
        echo_json("eto", 1, as_payload(series, values, convention))
    else:
        typer.echo(as_csv(series, values), nl=False)


def _require_place(series: WeatherSeries) -> None:
    from math import isnan

    from soakbook.errors import InputError

    place = {"--lat": series.lat_deg, "--lon": series.lon_deg, "--elevation": series.elevation_m}
    missing = [option for option, value in place.items() if isnan(value)]
    if missing:
        raise InputError(
            f"{series.source} does not say where it was measured.",
            code="weather.place",
            field=missing[0].lstrip("-"),
            hint=f"Give {', '.join(missing)}.",
        )


def step_flags(series: WeatherSeries, values: FloatArray) -> list[str]:
    """For each step what was not measured, in words; empty where all was."""
    from soakbook.weather.series import FLAG_WORDS, KIND_WORDS, MEASURED, OBSERVED

    words: list[list[str]] = [[] if kind == OBSERVED else [KIND_WORDS[int(kind)]] for kind in series.kind]
    for name in series.columns:
        if name in ("eto_mm", "rain_mm", "rain_chance_pct"):
            continue
        for i, flag in enumerate(series.flag(name)):
            if flag != MEASURED:
                words[i].append(f"{name} {FLAG_WORDS[int(flag)]}")
    for i, value in enumerate(values):
        if value < 0.0:
            words[i].append(DEW)
    return ["; ".join(w) for w in words]


def _rows(series: WeatherSeries, values: FloatArray) -> list[tuple[str, float | None, str]]:
    """Time, millimetres (None where an input is missing) and flags of each step."""
    digits = 2 if series.step == "day" else 3
    ending = "" if series.step == "day" else "Z"
    rows: list[tuple[str, float | None, str]] = []
    for time, value, flags in zip(series.times, values, step_flags(series, values), strict=True):
        shown = None if value != value else round(max(float(value), 0.0), digits)
        rows.append((f"{time}{ending}", shown, flags))
    return rows


def as_csv(series: WeatherSeries, values: FloatArray) -> str:
    """Lines of date (or UTC start of the hour), eto_mm and flags, under a heading."""
    import csv
    import io

    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("date" if series.step == "day" else "start_utc", "eto_mm", "flags"))
    for time, value, flags in _rows(series, values):
        writer.writerow((time, "" if value is None else value, flags))
    return text.getvalue()


def as_payload(series: WeatherSeries, values: FloatArray, convention: Convention | None) -> dict[str, object]:
    """What ``--json`` prints."""
    usual = "FAO56" if series.step == "day" else "ASCE2005"
    return {
        "step": series.step,
        "convention": convention or usual,
        "lat_deg": series.lat_deg,
        "lon_deg": series.lon_deg,
        "elevation_m": series.elevation_m,
        "source": series.source,
        "notes": list(series.notes),
        "steps": [{"time": t, "eto_mm": v, "flags": f} for t, v, f in _rows(series, values)],
    }
