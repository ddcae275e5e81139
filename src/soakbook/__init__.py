"""Soakbook: how much and how often to water each bed and pot.

What a notebook user imports from here loads on first use, so that ``import soakbook`` stays light.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.2.0"

_WHERE = {
    "reference_et_daily": "soakbook.physics.evapotranspiration",
    "reference_et_hourly": "soakbook.physics.evapotranspiration",
    "open_garden": "soakbook.advice.open",
    "read_weather": "soakbook.weather.read",
    "weather_for": "soakbook.advice.sky",
    "place_days": "soakbook.balance.place",
    "run_columns": "soakbook.balance.run",
    "soil_from_texture": "soakbook.physics.soil",
    "soil_from_particles": "soakbook.physics.soil",
    "today_round": "soakbook.advice.round",
}
__all__ = ["__version__", *_WHERE]


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module 'soakbook' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
