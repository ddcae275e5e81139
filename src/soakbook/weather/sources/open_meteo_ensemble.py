"""JSON of the Open-Meteo ensemble service (open-meteo.com; data CC BY 4.0), hourly.

The answer is that of the forecast service with every quantity repeated: ``temperature_2m`` is the control run and
``temperature_2m_member01`` and so on are the others (the service's documentation of /v1/ensemble). One model is read at a time.
"""

from __future__ import annotations

import json
import re
from typing import Any

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.regular import Where
from soakbook.weather.series import WeatherSeries
from soakbook.weather.sources import jsons
from soakbook.weather.sources.open_meteo import parse_open_meteo

_MEMBER = re.compile(r"(?P<quantity>.+)_member(?P<number>\d{2,3})")


def parse_ensemble(
    text: str, where: Where | None = None, *, name: str = "Open-Meteo ensemble"
) -> tuple[WeatherSeries, ...]:
    """Read an answer of the service.

    Parameters
    ----------
    text
        The JSON.
    where
        Used where the answer lacks a fact of the place.

    Returns
    -------
    tuple of WeatherSeries
        One hourly forecast for each run, the control first. Runs without any temperature are left out.

    Raises
    ------
    InputError
        Anything but such an answer, with at least one run besides the control.
    """
    data = jsons.load(text, name)
    if data.get("error"):
        raise InputError(
            say("{name}: the service answered with an error.", name=name), code="weather.json", field="reason"
        )
    hourly = jsons.part(data, "hourly", dict, "")
    units = jsons.part(data, "hourly_units", dict, "")
    runs = _runs(hourly)
    if set(runs) <= {0}:
        raise InputError(
            say("{name}: hourly holds no run besides the control (such as temperature_2m_member01).", name=name),
            code="weather.members",
            field="hourly",
        )
    shared = {
        key: value for key, value in data.items() if key not in ("hourly", "hourly_units", "daily", "daily_units")
    }
    found = []
    for number in sorted(runs):
        own = {"time": hourly.get("time"), **{quantity: hourly[key] for quantity, key in runs[number].items()}}
        if not _has_temperature(own):
            continue
        own_units = {"time": units.get("time")}
        own_units |= {quantity: units.get(key, units.get(quantity)) for quantity, key in runs[number].items()}
        answer = json.dumps({**shared, "hourly": own, "hourly_units": own_units})
        found.append(parse_open_meteo(answer, where, name=f"{name}, run {number}"))
    if not found:
        raise InputError(
            say("{name}: {path} has no values.", name=name, path="hourly.temperature_2m"),
            code="weather.temperature",
            field="hourly.temperature_2m",
        )
    return tuple(found)


def _runs(hourly: dict[str, Any]) -> dict[int, dict[str, str]]:
    """By run, the key that holds each quantity; 0 is the control."""
    runs: dict[int, dict[str, str]] = {}
    for key in hourly:
        if key == "time":
            continue
        match = _MEMBER.fullmatch(key)
        number, quantity = (int(match["number"]), match["quantity"]) if match else (0, key)
        runs.setdefault(number, {})[quantity] = key
    return runs


def _has_temperature(block: dict[str, Any]) -> bool:
    values = block.get("temperature_2m")
    return isinstance(values, list) and any(value is not None for value in values)
