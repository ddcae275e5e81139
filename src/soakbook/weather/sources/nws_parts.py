"""What the readers of the National Weather Service's answers share: quantities, instants, places, hours to a series."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import numpy as np

from soakbook.errors import InputError
from soakbook.physics.air import wind_to_2m_ms
from soakbook.said import say
from soakbook.weather.regular import Rows, Where, regular_series
from soakbook.weather.series import REJECTED, FlagArray, FloatArray, WeatherSeries
from soakbook.weather.sources import jsons
from soakbook.weather.sources.unit_words import conversion

_WIND_HEIGHT_M = 10.0


def hour_of(at: datetime) -> int:
    """Whole hours since 1970 (UTC)."""
    try:
        return int(at.astimezone(UTC).timestamp() // 3600)
    except OverflowError:
        raise InputError(say("the time {at} is out of range.", at=str(at)), code="weather.date", field="time") from None


def quantity_value(quantity: dict[str, Any], column: str, path: str) -> float:
    """A quantity of the service (value and unit) in the unit of a column; NaN for null."""
    value = jsons.as_number(quantity.get("value"), f"{path}.value")
    if not np.isfinite(value):
        return float("nan")
    pair = unit_pair(column, quantity.get("unitCode"), f"{path}.unitCode")
    return value * pair[0] + pair[1]


def unit_pair(column: str, unit: Any, path: str) -> tuple[float, float]:
    """(factor, offset) of a unit for a column; InputError that names its path."""
    pair = conversion(column, unit, 3600.0) if isinstance(unit, str) else None
    if pair is None:
        raise InputError(
            say("{path} is {unit}; a unit that fits is expected.", path=path, unit=repr(str(unit)[:30])),
            code="weather.unit",
            field=path,
        )
    return pair


def instant(text: Any, path: str) -> datetime:
    """A time with zone; InputError that names its path."""
    try:
        at = datetime.fromisoformat(text)
        if at.tzinfo is None:
            raise ValueError(text)
    except (TypeError, ValueError):
        raise InputError(
            say("{path} is {text}; a time with zone is expected.", path=path, text=repr(str(text)[:40])),
            code="weather.date",
            field=path,
        ) from None
    return at


def place_of(data: dict[str, Any], properties: dict[str, Any]) -> Where:
    """Where an answer stands: the middle of its geometry, and its elevation."""
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


def hourly_series(
    hours: dict[str, dict[int, float]],
    kind: int,
    where: Where,
    source: str,
    notes: list[str],
    rejected: dict[str, set[int]] | None = None,
) -> WeatherSeries:
    """Values by column and hour as a series."""
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
