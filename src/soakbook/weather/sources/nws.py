"""JSON of the United States National Weather Service (api.weather.gov; public domain).

Gridpoint layers, where each value holds over an ISO 8601 interval such as ``2022-02-04T06:00:00+00:00/PT6H``; the
hourly forecast; lists of station observations; and the answer that says which grid a point lies in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from soakbook.errors import InputError
from soakbook.physics.air import wind_to_2m_ms
from soakbook.weather.regular import Rows, Where, regular_series
from soakbook.weather.series import FORECAST, OBSERVED, REJECTED, FlagArray, FloatArray, WeatherSeries
from soakbook.weather.sources import jsons
from soakbook.weather.sources.unit_words import conversion
from soakbook.weather.zones import zone

_LAYERS = {
    "temperature": "t_mean_c",
    "dewpoint": "dew_point_c",
    "relativeHumidity": "rh_mean_pct",
    "windSpeed": "wind_2m_ms",
    "probabilityOfPrecipitation": "rain_chance_pct",
    "quantitativePrecipitation": "rain_mm",
}
_OBSERVED = {
    "temperature": "t_mean_c",
    "dewpoint": "dew_point_c",
    "relativeHumidity": "rh_mean_pct",
    "windSpeed": "wind_2m_ms",
    "barometricPressure": "pressure_kpa",
    "precipitationLastHour": "rain_mm",
}
#: Quality codes of the service's observations that mean failed, questioned or judged bad (MADIS quality control).
_BAD_QUALITY = {"X", "Q", "B"}
_WIND_HEIGHT_M = 10.0
_DURATION = re.compile(r"P(?:(\d{1,3})D)?(?:T(?:(\d{1,4})H)?(?:(\d{1,4})M)?)?")
_MOST_HOURS = 24 * 40
_WIND_TEXT = re.compile(r"(\d+(?:\.\d+)?)(?:\s*to\s*(\d+(?:\.\d+)?))?\s*(\S+)")


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
            f"properties.gridId is {office[:10]!r}; three letters are expected.", code="weather.json", field="gridId"
        )
    cell = []
    for key in ("gridX", "gridY"):
        value = jsons.finite(properties.get(key), f"properties.{key}")
        if value is None or value != int(value) or not 0 <= value <= 10_000:
            raise InputError(f"properties.{key} is not a cell number.", code="weather.json", field=key)
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
        return _observations(data, where or Where(), name)
    properties = jsons.part(data, "properties", dict, "")
    if isinstance(properties.get("periods"), list):
        return _periods(data, properties, where or Where(), name)
    if isinstance(properties.get("temperature"), dict) and "values" in properties["temperature"]:
        return _gridpoint(data, properties, where or Where(), name)
    if "gridId" in properties:
        raise InputError(
            f"{name} says where a point lies in the grid; it holds no weather.", code="weather.json", field="properties"
        )
    raise InputError(
        f"{name} holds no layer 'temperature'.", code="weather.temperature", field="properties.temperature"
    )


def _gridpoint(data: dict[str, Any], properties: dict[str, Any], where: Where, name: str) -> WeatherSeries:
    hours: dict[str, dict[int, float]] = {}
    notes = []
    for layer, column in _LAYERS.items():
        block = properties.get(layer)
        if not isinstance(block, dict) or not block.get("values"):
            notes.append(f"{layer} is empty.")
            continue
        values = jsons.part(block, "values", list, f"properties.{layer}.")
        pair = _unit(column, block.get("uom"), f"properties.{layer}.uom")
        hours[column] = _expand(values, layer, pair, is_total=column == "rain_mm")
        notes.append(f"{layer} is {column}.")
    if not any(np.isfinite(list(hours.get("t_mean_c", {}).values()))):
        raise InputError(
            f"{name}: the layer temperature is empty.", code="weather.temperature", field="properties.temperature"
        )
    notes.append("Wind at 10 m is brought to 2 m; rain of an interval is spread evenly over its hours.")
    return _series(
        hours, FORECAST, _place(data, properties).or_else(where), "National Weather Service, gridpoint", notes
    )


def _expand(values: list[Any], layer: str, pair: tuple[float, float], *, is_total: bool) -> dict[int, float]:
    """Value by hour since 1970."""
    hours: dict[int, float] = {}
    for i, entry in enumerate(values):
        path = f"properties.{layer}.values[{i}]"
        if not isinstance(entry, dict):
            raise InputError(f"{path} is no object.", code="weather.json", field=path)
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
            f"{path}.validTime is {str(text)[:50]!r}; a start with zone and a duration such as /PT6H are expected.",
            code="weather.date",
            field=f"{path}.validTime",
        ) from None
    days, hours, minutes = (int(g or 0) for g in match.groups())
    n = max(1, 24 * days + hours + (minutes >= 30))
    if n > _MOST_HOURS:
        raise InputError(
            f"{path}.validTime lasts {n} hours; at most {_MOST_HOURS} are read.", code="weather.span", field=path
        )
    return _hour(at), n


def _hour(at: datetime) -> int:
    try:
        return int(at.astimezone(UTC).timestamp() // 3600)
    except OverflowError:
        raise InputError(f"the time {at} is out of range.", code="weather.date", field="time") from None


def _periods(data: dict[str, Any], properties: dict[str, Any], where: Where, name: str) -> WeatherSeries:
    hours: dict[str, dict[int, float]] = {
        c: {} for c in ("t_mean_c", "dew_point_c", "rh_mean_pct", "rain_chance_pct", "wind_2m_ms")
    }
    for i, period in enumerate(properties["periods"]):
        path = f"properties.periods[{i}]"
        if not isinstance(period, dict):
            raise InputError(f"{path} is no object.", code="weather.json", field=path)
        hour = _hour(_instant(period.get("startTime"), f"{path}.startTime"))
        temperature = period.get("temperature")
        if isinstance(temperature, dict):
            hours["t_mean_c"][hour] = _quantity(temperature, "t_mean_c", f"{path}.temperature")
        else:
            pair = _unit("t_mean_c", period.get("temperatureUnit"), f"{path}.temperatureUnit")
            hours["t_mean_c"][hour] = jsons.as_number(temperature, f"{path}.temperature") * pair[0] + pair[1]
        for key, column in (("dewpoint", "dew_point_c"), ("relativeHumidity", "rh_mean_pct"),
                            ("probabilityOfPrecipitation", "rain_chance_pct")):  # fmt: skip
            if isinstance(period.get(key), dict):
                hours[column][hour] = _quantity(period[key], column, f"{path}.{key}")
        hours["wind_2m_ms"][hour] = _wind_text(period.get("windSpeed"), f"{path}.windSpeed")
    if not any(np.isfinite(list(hours["t_mean_c"].values()))):
        raise InputError(
            f"{name}: no period has a temperature.", code="weather.temperature", field="properties.periods"
        )
    notes = ["The hourly forecast has no amount of rain. Wind at 10 m is brought to 2 m."]
    return _series(
        hours, FORECAST, _place(data, properties).or_else(where), "National Weather Service, hourly forecast", notes
    )


def _wind_text(text: Any, path: str) -> float:
    """``"10 km/h"`` or ``"5 to 10 mph"`` (the middle) in m/s."""
    if text is None:
        return float("nan")
    match = _WIND_TEXT.fullmatch(text) if isinstance(text, str) else None
    pair = conversion("wind_2m_ms", match[3], 3600.0) if match else None
    if match is None or pair is None:
        raise InputError(f"{path} is {str(text)[:30]!r}; a speed is expected.", code="weather.number", field=path)
    low = float(match[1])
    return 0.5 * (low + float(match[2] or low)) * pair[0]


def _observations(data: dict[str, Any], where: Where, name: str) -> WeatherSeries:
    sums: dict[str, dict[int, list[float]]] = {c: {} for c in _OBSERVED.values()}
    rejected: dict[str, set[int]] = {c: set() for c in _OBSERVED.values()}
    place = Where()
    for path, feature in _features(data["features"]):
        properties = jsons.part(feature, "properties", dict, f"{path}.")
        if not isinstance(properties.get("timestamp"), str):
            raise InputError(
                f"{name} is a list, but not of observations.", code="weather.json", field=f"{path}.properties.timestamp"
            )
        hour = _hour(_instant(properties["timestamp"], f"{path}.properties.timestamp"))
        place = place.or_else(_place(feature, properties))
        for key, column in _OBSERVED.items():
            quantity = properties.get(key)
            if not isinstance(quantity, dict):
                continue
            if str(quantity.get("qualityControl"))[-1:] in _BAD_QUALITY:
                rejected[column].add(hour)
                continue
            value = _quantity(quantity, column, f"{path}.properties.{key}")
            if np.isfinite(value):
                sums[column].setdefault(hour, []).append(value)
    if not sums["t_mean_c"]:
        raise InputError(f"{name}: no observation has a temperature.", code="weather.temperature", field="features")
    # Special reports within the hour give the rain since the last full one: the largest is the hour's.
    hours = {
        c: {h: max(v) if c == "rain_mm" else sum(v) / len(v) for h, v in by_hour.items()} for c, by_hour in sums.items()
    }
    notes = ["Observations of an hour are averaged. Wind at 10 m is brought to 2 m."]
    if not hours["rain_mm"]:
        notes.append("No observation gives the rain of its hour.")
    bad = {c: {h for h in at if h not in hours[c]} for c, at in rejected.items()}
    return _series(hours, OBSERVED, place.or_else(where), "National Weather Service, station", notes, bad)


def _features(features: list[Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for i, feature in enumerate(features):
        path = f"features[{i}]"
        if not isinstance(feature, dict):
            raise InputError(f"{path} is no object.", code="weather.json", field=path)
        yield path, feature


def _quantity(quantity: dict[str, Any], column: str, path: str) -> float:
    value = jsons.as_number(quantity.get("value"), f"{path}.value")
    if not np.isfinite(value):
        return float("nan")
    pair = _unit(column, quantity.get("unitCode"), f"{path}.unitCode")
    return value * pair[0] + pair[1]


def _unit(column: str, unit: Any, path: str) -> tuple[float, float]:
    pair = conversion(column, unit, 3600.0) if isinstance(unit, str) else None
    if pair is None:
        raise InputError(
            f"{path} is {str(unit)[:30]!r}; a unit that fits is expected.", code="weather.unit", field=path
        )
    return pair


def _instant(text: Any, path: str) -> datetime:
    try:
        at = datetime.fromisoformat(text)
        if at.tzinfo is None:
            raise ValueError(text)
    except (TypeError, ValueError):
        raise InputError(
            f"{path} is {str(text)[:40]!r}; a time with zone is expected.", code="weather.date", field=path
        ) from None
    return at


def _place(data: dict[str, Any], properties: dict[str, Any]) -> Where:
    geometry = data.get("geometry")
    points = list(_pairs(geometry, 0)) if isinstance(geometry, dict) else []
    lon = sum(p[0] for p in points) / len(points) if points else None
    lat = sum(p[1] for p in points) / len(points) if points else None
    elevation = properties.get("elevation")
    height = jsons.finite(elevation.get("value"), "elevation") if isinstance(elevation, dict) else None
    return Where(lat, lon, height)


def _pairs(value: Any, depth: int) -> Iterator[tuple[float, float]]:
    """Coordinate pairs anywhere in a GeoJSON geometry; the first geometry of a collection."""
    if depth > 6:
        return
    if isinstance(value, dict):
        inner = value.get("coordinates") or (value.get("geometries") or [None])[:1]
        yield from _pairs(inner, depth + 1)
    elif (
        isinstance(value, list)
        and len(value) >= 2
        and all(isinstance(v, int | float) and not isinstance(v, bool) for v in value[:2])
    ):
        yield float(value[0]), float(value[1])
    elif isinstance(value, list):
        for item in value[:200]:
            yield from _pairs(item, depth + 1)


def _series(
    hours: dict[str, dict[int, float]],
    kind: int,
    where: Where,
    source: str,
    notes: list[str],
    rejected: dict[str, set[int]] | None = None,
) -> WeatherSeries:
    every = sorted({h for by_hour in hours.values() for h in by_hour})
    columns: dict[str, FloatArray] = {}
    flags: dict[str, FlagArray] = {}
    for column, by_hour in hours.items():
        if not by_hour:
            continue
        columns[column] = np.array([by_hour.get(h, np.nan) for h in every])
        bad = (rejected or {}).get(column, set())
        if bad:
            flags[column] = np.array([REJECTED if h in bad else 0 for h in every], dtype=np.uint8)
    if "wind_2m_ms" in columns:
        columns["wind_2m_ms"] = wind_to_2m_ms(columns["wind_2m_ms"], _WIND_HEIGHT_M)
    rows = Rows(
        step="hour",
        times=np.array([h * 3600 for h in every], dtype="datetime64[s]"),
        columns=columns,
        source=source,
        kind=np.full(len(every), kind, dtype=np.uint8),
        flags=flags,
        notes=notes,
    )
    return regular_series(rows, where)


def default_start(now_utc: datetime, days: int) -> str:
    """The start parameter of an observation query."""
    return (now_utc - timedelta(days=days)).strftime("%Y-%m-%dT%H:00:00+00:00")
