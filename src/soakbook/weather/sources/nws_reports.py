"""Hourly forecasts and lists of station observations of the National Weather Service."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import numpy as np

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.regular import Where
from soakbook.weather.series import FORECAST, OBSERVED, WeatherSeries
from soakbook.weather.sources import jsons
from soakbook.weather.sources.nws_parts import hour_of, hourly_series, instant, place_of, quantity_value, unit_pair
from soakbook.weather.sources.unit_words import conversion

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
_WIND_TEXT = re.compile(r"(\d+(?:\.\d+)?)(?:\s*to\s*(\d+(?:\.\d+)?))?\s*(\S+)")


def read_periods(data: dict[str, Any], properties: dict[str, Any], where: Where, name: str) -> WeatherSeries:
    """An hourly forecast."""
    hours: dict[str, dict[int, float]] = {
        c: {} for c in ("t_mean_c", "dew_point_c", "rh_mean_pct", "rain_chance_pct", "wind_2m_ms")
    }
    for i, period in enumerate(properties["periods"]):
        path = f"properties.periods[{i}]"
        if not isinstance(period, dict):
            raise InputError(say("{path} is no object.", path=path), code="weather.json", field=path)
        hour = hour_of(instant(period.get("startTime"), f"{path}.startTime"))
        temperature = period.get("temperature")
        if isinstance(temperature, dict):
            hours["t_mean_c"][hour] = quantity_value(temperature, "t_mean_c", f"{path}.temperature")
        else:
            pair = unit_pair("t_mean_c", period.get("temperatureUnit"), f"{path}.temperatureUnit")
            hours["t_mean_c"][hour] = jsons.as_number(temperature, f"{path}.temperature") * pair[0] + pair[1]
        for key, column in (("dewpoint", "dew_point_c"), ("relativeHumidity", "rh_mean_pct"),
                            ("probabilityOfPrecipitation", "rain_chance_pct")):  # fmt: skip
            if isinstance(period.get(key), dict):
                hours[column][hour] = quantity_value(period[key], column, f"{path}.{key}")
        hours["wind_2m_ms"][hour] = _wind_text(period.get("windSpeed"), f"{path}.windSpeed")
    if not any(np.isfinite(list(hours["t_mean_c"].values()))):
        raise InputError(
            say("{name}: no period has a temperature.", name=name),
            code="weather.temperature",
            field="properties.periods",
        )
    notes: list[str] = [say("The hourly forecast has no amount of rain. Wind at 10 m is brought to 2 m.")]
    return hourly_series(
        hours, FORECAST, place_of(data, properties).or_else(where), "National Weather Service, hourly forecast", notes
    )


def _wind_text(text: Any, path: str) -> float:
    """``"10 km/h"`` or ``"5 to 10 mph"`` (the middle) in m/s."""
    if text is None:
        return float("nan")
    match = _WIND_TEXT.fullmatch(text) if isinstance(text, str) else None
    pair = conversion("wind_2m_ms", match[3], 3600.0) if match else None
    if match is None or pair is None:
        raise InputError(
            say("{path} is {text}; a speed is expected.", path=path, text=repr(str(text)[:30])),
            code="weather.number",
            field=path,
        )
    low = float(match[1])
    return 0.5 * (low + float(match[2] or low)) * pair[0]


def read_observations(data: dict[str, Any], where: Where, name: str) -> WeatherSeries:
    """A list of observations of one station."""
    sums: dict[str, dict[int, list[float]]] = {c: {} for c in _OBSERVED.values()}
    rejected: dict[str, set[int]] = {c: set() for c in _OBSERVED.values()}
    place = Where()
    for path, feature in _features(data["features"]):
        properties = jsons.part(feature, "properties", dict, f"{path}.")
        if not isinstance(properties.get("timestamp"), str):
            raise InputError(
                say("{name} is a list, but not of observations.", name=name),
                code="weather.json",
                field=f"{path}.properties.timestamp",
            )
        hour = hour_of(instant(properties["timestamp"], f"{path}.properties.timestamp"))
        place = place.or_else(place_of(feature, properties))
        for key, column in _OBSERVED.items():
            quantity = properties.get(key)
            if not isinstance(quantity, dict):
                continue
            if str(quantity.get("qualityControl"))[-1:] in _BAD_QUALITY:
                rejected[column].add(hour)
                continue
            value = quantity_value(quantity, column, f"{path}.properties.{key}")
            if np.isfinite(value):
                sums[column].setdefault(hour, []).append(value)
    if not sums["t_mean_c"]:
        raise InputError(
            say("{name}: no observation has a temperature.", name=name), code="weather.temperature", field="features"
        )
    # Special reports within the hour give the rain since the last full one: the largest is the hour's.
    hours = {
        c: {h: max(v) if c == "rain_mm" else sum(v) / len(v) for h, v in by_hour.items()} for c, by_hour in sums.items()
    }
    notes: list[str] = [say("Observations of an hour are averaged. Wind at 10 m is brought to 2 m.")]
    if not hours["rain_mm"]:
        notes.append(say("No observation gives the rain of its hour."))
    bad = {c: {h for h in at if h not in hours[c]} for c, at in rejected.items()}
    return hourly_series(hours, OBSERVED, place.or_else(where), "National Weather Service, station", notes, bad)


def _features(features: list[Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for i, feature in enumerate(features):
        path = f"features[{i}]"
        if not isinstance(feature, dict):
            raise InputError(say("{path} is no object.", path=path), code="weather.json", field=path)
        yield path, feature
