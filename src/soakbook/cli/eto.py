"""``soakbook eto``: reference evapotranspiration of a weather file, as CSV or JSON."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from soakbook.cli.app import app
from soakbook.cli.terminal import echo_json

if TYPE_CHECKING:
    from soakbook.weather.series import WeatherSeries


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
    from soakbook.weather.eto_table import as_csv, as_payload, demand_of
    from soakbook.weather.read import read_weather

    read = read_weather(file, lat_deg=lat, lon_deg=lon, elevation_m=elevation, time_zone=zone)
    _require_place(read)
    series, values = demand_of(read, convention)
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
