"""``soakbook weather fetch`` and ``soakbook weather show``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from soakbook.cli.app import weather_app
from soakbook.cli.terminal import UnitSystem, echo_json, paragraph, table, units_from_locale, working

if TYPE_CHECKING:
    from soakbook.weather.gazetteer import Spot
    from soakbook.weather.series import FloatArray, WeatherSeries

Json = Annotated[bool, typer.Option("--json", help="Print one JSON object (docs/json.md).")]
Units = Annotated[str, typer.Option("--units", help="metric or US; by default as your locale has it.")]
#: Columns of the daily table: name in the series, heading and unit by system.
_SHOWN = (
    ("t_max_c", {"metric": "max °C", "US": "max °F"}),
    ("t_min_c", {"metric": "min °C", "US": "min °F"}),
    ("rain_mm", {"metric": "rain mm", "US": "rain in"}),
    ("wind_2m_ms", {"metric": "wind m/s", "US": "wind mph"}),
    ("solar_mj_m2", {"metric": "sun MJ", "US": "sun MJ"}),
)
_MARK = {0: "", 1: "r", 2: "n", 3: "m", 4: "g", 5: "x"}


@weather_app.command("fetch")
def fetch(
    where: Annotated[str, typer.Argument(help='A town ("Town, Country") or latitude and longitude ("48.1, 11.6").')],
    days: Annotated[int, typer.Option("--days", min=0, max=92, help="Days to reach back.")] = 30,
    out: Annotated[Path | None, typer.Option("--out", help="Write the days to this file as CSV.")] = None,
    as_json: Json = False,
    units: Units = "",
) -> None:
    """Fetch the last days and the forecast for a place from a weather service."""
    from soakbook.weather.fetch import fetch_weather
    from soakbook.weather.gazetteer import find_place

    system = _system(units)
    spot = find_place(where)
    with working("asking the weather service"):
        series = fetch_weather(spot.lat_deg, spot.lon_deg, spot.elevation_m, spot.time_zone, past_days=days)
    if out is not None:
        _write(out, series)
    if as_json:
        echo_json("weather_series", 1, _payload(series, spot))
        return
    if spot.note:
        typer.echo(paragraph(spot.note))
    _show(series, system)
    if out is not None:
        typer.echo(f"Written to {out}.")


@weather_app.command("show")
def show(
    file: Annotated[Path, typer.Argument(help="A weather file: table, USCRN, TMY3, EPW or JSON of a service.")],
    at: Annotated[str, typer.Option("--at", help="Where it was measured, if the file does not say it.")] = "",
    as_json: Json = False,
    units: Units = "",
) -> None:
    """Say what was made of a weather file, what is missing in it, and show its days."""
    from soakbook.weather.daily import hourly_to_daily
    from soakbook.weather.gazetteer import find_place
    from soakbook.weather.read import read_weather

    system = _system(units)
    spot = find_place(at) if at else None
    place: dict[str, Any] = {}
    if spot is not None:
        place = {"lat_deg": spot.lat_deg, "lon_deg": spot.lon_deg, "time_zone": spot.time_zone}
    series = read_weather(file, **place)
    if series.step == "hour":
        series = hourly_to_daily(series)
    if as_json:
        echo_json("weather_series", 1, _payload(series, spot))
        return
    _show(series, system)


def _system(units: str) -> UnitSystem:
    from soakbook.errors import InputError

    if not units:
        return units_from_locale()
    for system in ("metric", "US"):
        if units.lower() == system.lower():
            return system
    raise InputError(f"units must be metric or US (got {units!r}).", code="cli.units", field="units")


def _write(out: Path, series: WeatherSeries) -> None:
    from soakbook.errors import InputError
    from soakbook.weather.write import weather_csv

    try:
        out.write_text(weather_csv(series), encoding="utf-8")
    except OSError as exc:
        raise InputError(f"{out} cannot be written: {exc.strerror}.", code="cli.out", field="out") from exc


def _with_eto(series: WeatherSeries) -> tuple[WeatherSeries, FloatArray | None, str]:
    """The series with gaps filled, its reference evapotranspiration, and why there is none."""
    from soakbook.weather.shown import is_placed, reckoned

    made = reckoned(series)
    why = f"No reference evapotranspiration: {made.why_not}" if made.why_not else ""
    if not is_placed(series):
        why = "Give --at PLACE for reference evapotranspiration (ETo)."
    return made.series, made.eto_mm, why


def _show(series: WeatherSeries, system: UnitSystem) -> None:
    from soakbook.weather.series import FLAG_WORDS
    from soakbook.weather.shown import columns_of

    filled, eto, why = _with_eto(series)
    typer.echo(paragraph(f"{series.source}: {_span(series)}."))
    for note in filled.notes:
        typer.echo(paragraph(note, "  "))
    rows = [[c.name, c.unit, f"{c.read} of {c.of}", c.others] for c in columns_of(series, filled)]
    typer.echo("\n" + table(["column", "unit", "days read", "the others"], rows, right=[2]) + "\n")
    headings = ["day", *(words[system] for _, words in _SHOWN), "ETo mm" if system == "metric" else "ETo in", "kind"]
    typer.echo(table(headings, _day_rows(filled, eto, system), right=list(range(1, 7))))
    used = sorted({int(f) for name, _ in _SHOWN for f in filled.flag(name)} - {0})
    if used:
        typer.echo("\n" + paragraph("; ".join(f"{_MARK[f]}: {FLAG_WORDS[f]}" for f in used) + "."))
    if why:
        typer.echo(paragraph(why))


def _span(series: WeatherSeries) -> str:
    if len(series) == 0:
        return "no days"
    return f"{len(series)} days from {series.times[0]} to {series.times[-1]}"


def _day_rows(series: WeatherSeries, eto: FloatArray | None, system: UnitSystem) -> list[list[str]]:
    from soakbook.weather.series import KIND_WORDS

    rows = []
    for i, day in enumerate(series.times):
        cells = [str(day)]
        for name, _ in _SHOWN:
            cells.append(_cell(name, float(series.get(name)[i]), system) + _MARK[int(series.flag(name)[i])])
        cells.append("" if eto is None else _cell("eto_mm", float(eto[i]), system))
        cells.append(KIND_WORDS[int(series.kind[i])].split(" ")[0])
        rows.append(cells)
    return rows


def _cell(name: str, value: float, system: UnitSystem) -> str:
    if value != value:
        return "-"
    if system == "US":
        if name.endswith("_c"):
            value = value * 1.8 + 32.0
        elif name.endswith("_mm"):
            return f"{value / 25.4:.2f}"
        elif name == "wind_2m_ms":
            value *= 3600.0 / 1609.344
    return f"{value:.1f}"


def _payload(series: WeatherSeries, spot: Spot | None) -> dict[str, Any]:
    """The series as JSON: values as read, ETo from the filled series, flags of the filled series."""
    import math

    from soakbook.weather.series import COLUMNS, FLAG_WORDS, KIND_WORDS

    filled, eto, why = _with_eto(series)

    def numbers(values: FloatArray) -> list[float | None]:
        return [round(float(v), 4) if math.isfinite(v) else None for v in values]

    def fact(value: float) -> float | None:
        return value if math.isfinite(value) else None

    return {
        "source": series.source,
        "place": spot.name if spot else "",
        "latitude": fact(series.lat_deg),
        "longitude": fact(series.lon_deg),
        "elevation_m": fact(filled.elevation_m),
        "time_zone": series.time_zone,
        "notes": [*([spot.note] if spot and spot.note else []), *filled.notes, *([why] if why else [])],
        "units": {name: COLUMNS[name] for name in filled.columns},
        "days": [str(day) for day in series.times],
        "day_kind": [KIND_WORDS[int(k)] for k in series.kind],
        "columns": {name: numbers(values) for name, values in filled.columns.items()},
        "flags": {name: [int(f) for f in flags] for name, flags in filled.flags.items()},
        "flag_words": {str(k): v for k, v in FLAG_WORDS.items()},
        "reference_evapotranspiration_mm": None if eto is None else numbers(eto),
    }
