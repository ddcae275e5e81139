"""JSON of the United States National Weather Service (api.weather.gov; public domain).

Gridpoint layers, where each value holds over an ISO 8601 interval such as ``2022-02-04T06:00:00+00:00/PT6H``; the
hourly forecast; lists of station observations; and the answer that says which grid a point lies in.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.regular import Where
from soakbook.weather.series import FORECAST, WeatherSeries
from soakbook.weather.sources import jsons
from soakbook.weather.sources.nws_parts import hour_of, hourly_series, place_of, unit_pair
from soakbook.weather.sources.nws_reports import read_observations, read_periods
from soakbook.weather.zones import zone

_LAYERS = {
    "temperature": "t_mean_c",
    "dewpoint": "dew_point_c",
    "relativeHumidity": "rh_mean_pct",
    "windSpeed": "wind_2m_ms",
    "probabilityOfPrecipitation": "rain_chance_pct",
    "quantitativePrecipitation": "rain_mm",
}
_DURATION = re.compile(r"P(?:(\d{1,3})D)?(?:T(?:(\d{1,4})H)?(?:(\d{1,4})M)?)?")
_MOST_HOURS = 24 * 40


@dataclass(frozen=True)
class NwsPoint:
    """Where a spot lies in the service's grid."""

    office: str
    grid_x: int
    grid_y: int
    time_zone: str


def looks_like(head: str, path: str = "") -> bool:
    """Whether this is a JSON answer of the service."""
    start = head.removeprefix("\ufeff").lstrip()
    return start.startswith("{") and "weather.gov" in head


def parse_points(text: str, *, name: str = "point") -> NwsPoint:
    """The grid cell of a point."""
    properties = jsons.part(jsons.load(text, name), "properties", dict, "")
    office = jsons.part(properties, "gridId", str, "properties.")
    if not re.fullmatch(r"[A-Z]{3,4}", office):
        raise InputError(
            say("properties.gridId is {office}; three letters are expected.", office=repr(office[:10])),
            code="weather.json",
            field="gridId",
        )
    cell = []
    for key in ("gridX", "gridY"):
        value = jsons.finite(properties.get(key), f"properties.{key}")
        if value is None or value != int(value) or not 0 <= value <= 10_000:
            raise InputError(say("properties.{key} is not a cell number.", key=key), code="weather.json", field=key)
        cell.append(int(value))
    zone_name = jsons.part(properties, "timeZone", str, "properties.")
    zone(zone_name)
    return NwsPoint(office, cell[0], cell[1], zone_name)


def parse_stations(text: str, *, name: str = "stations") -> list[str]:
    """Station identifiers near a grid cell, the nearest first."""
    features = jsons.part(jsons.load(text, name), "features", list, "")
    found = []
    for feature in features:
        properties = feature.get("properties") if isinstance(feature, dict) else None
        identifier = properties.get("stationIdentifier") if isinstance(properties, dict) else None
        if isinstance(identifier, str) and re.fullmatch(r"[A-Z0-9]{3,8}", identifier):
            found.append(identifier)
    return found


def parse_nws(text: str, where: Where | None = None, *, name: str = "National Weather Service") -> WeatherSeries:
    """Read gridpoint layers, an hourly forecast or a list of observations.

    Rain of a longer interval is spread evenly over its hours; the other layers hold their value. Observations of an
    hour are averaged, those with a failed quality check rejected. The time zone is that of ``where``, else it is open.

    Raises
    ------
    InputError
        Another answer of the service, or values that cannot be read; the message names the path.
    """
    data = jsons.load(text, name)
    if isinstance(data.get("features"), list):
        return read_observations(data, where or Where(), name)
    properties = jsons.part(data, "properties", dict, "")
    if isinstance(properties.get("periods"), list):
        return read_periods(data, properties, where or Where(), name)
    if isinstance(properties.get("temperature"), dict) and "values" in properties["temperature"]:
        return _gridpoint(data, properties, where or Where(), name)
    if "gridId" in properties:
        raise InputError(
            say("{name} says where a point lies in the grid; it holds no weather.", name=name),
            code="weather.json",
            field="properties",
        )
    raise InputError(
        say("{name} holds no layer 'temperature'.", name=name),
        code="weather.temperature",
        field="properties.temperature",
    )


def _gridpoint(data: dict[str, Any], properties: dict[str, Any], where: Where, name: str) -> WeatherSeries:
    hours: dict[str, dict[int, float]] = {}
    notes: list[str] = []
    for layer, column in _LAYERS.items():
        block = properties.get(layer)
        if not isinstance(block, dict) or not block.get("values"):
            notes.append(say("{layer} is empty.", layer=layer))
            continue
        values = jsons.part(block, "values", list, f"properties.{layer}.")
        pair = unit_pair(column, block.get("uom"), f"properties.{layer}.uom")
        hours[column] = _expand(values, layer, pair, is_total=column == "rain_mm")
        notes.append(say("{layer} is {column}.", layer=layer, column=column))
    if not any(np.isfinite(list(hours.get("t_mean_c", {}).values()))):
        raise InputError(
            say("{name}: the layer temperature is empty.", name=name),
            code="weather.temperature",
            field="properties.temperature",
        )
    notes.append(say("Wind at 10 m is brought to 2 m; rain of an interval is spread evenly over its hours."))
    return hourly_series(
        hours, FORECAST, place_of(data, properties).or_else(where), "National Weather Service, gridpoint", notes
    )


def _expand(values: list[Any], layer: str, pair: tuple[float, float], *, is_total: bool) -> dict[int, float]:
    """Value by hour since 1970."""
    hours: dict[int, float] = {}
    for i, entry in enumerate(values):
        path = f"properties.{layer}.values[{i}]"
        if not isinstance(entry, dict):
            raise InputError(say("{path} is no object.", path=path), code="weather.json", field=path)
        first, n = _interval(entry.get("validTime"), path)
        value = jsons.as_number(entry.get("value"), f"{path}.value") * pair[0] + pair[1]
        for hour in range(first, first + n):
            hours[hour] = value / n if is_total else value
    return hours


def _interval(text: Any, path: str) -> tuple[int, int]:
    """First hour since 1970 and number of hours of ``start/duration``."""
    start, _, duration = text.partition("/") if isinstance(text, str) else ("", "", "")
    match = _DURATION.fullmatch(duration)
    try:
        at = datetime.fromisoformat(start)
        if at.tzinfo is None or match is None:
            raise ValueError(text)
    except ValueError:
        raise InputError(
            say(
                "{path}.validTime is {text}; a start with zone and a duration such as /PT6H are expected.",
                path=path,
                text=repr(str(text)[:50]),
            ),
            code="weather.date",
            field=f"{path}.validTime",
        ) from None
    days, hours, minutes = (int(g or 0) for g in match.groups())
    n = max(1, 24 * days + hours + (minutes >= 30))
    if n > _MOST_HOURS:
        raise InputError(
            say(
                "{path}.validTime lasts {n} hours; at most {most} are read.",
                path=path,
                n=n,
                most=_MOST_HOURS,
            ),
            code="weather.span",
            field=path,
        )
    return hour_of(at), n


def default_start(now_utc: datetime, days: int) -> str:
    """The start parameter of an observation query."""
    return (now_utc - timedelta(days=days)).strftime("%Y-%m-%dT%H:00:00+00:00")
