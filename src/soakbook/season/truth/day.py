"""What a day brings to true places and what is told of it afterwards."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.season.truth.curves import FloatArray

#: The intervals a day is solved in [h]: by the hour, finer when the morning's watering starts.
HOURS = np.array([1.0] * 6 + [0.05, 0.15, 0.3, 0.5] + [1.0] * 17)
_EDGES = np.append(0.0, np.cumsum(HOURS))
_WATERING_FROM = 6.0
#: When leaves and soil lose water: a sine from 6 to 19 o'clock; shares of the day that sum to 1.
LIGHT = np.diff(-np.cos(np.pi * np.clip((_EDGES - 6.0) / 13.0, 0.0, 1.0))) / 2.0


@dataclass(frozen=True)
class DayWeather:
    """A day of weather: one number for the garden or one a place. [mm]"""

    eto_mm: ArrayLike
    rain_mm: ArrayLike


@dataclass(frozen=True)
class Seen:
    """What anyone could see at the end of the day, by place."""

    drained_below: NDArray[np.bool_]
    ran_off: NDArray[np.bool_]
    gauge_mm: FloatArray


@dataclass(frozen=True)
class DayTruth:
    """What happened on a day, by place. [mm], hidden from any policy but the oracle."""

    put_on: FloatArray
    reached: FloatArray
    rain: FloatArray
    runoff: FloatArray
    evaporation: FloatArray
    transpiration: FloatArray
    wanted: FloatArray
    drainage: FloatArray
    stored: FloatArray
    air: FloatArray
    balance_error: FloatArray


@dataclass(frozen=True)
class Account:
    """The season up to now, by place: amounts in mm, days as counts, the harvest lost as a share."""

    put_on_mm: FloatArray
    runoff_mm: FloatArray
    drainage_mm: FloatArray
    evaporation_mm: FloatArray
    transpiration_mm: FloatArray
    wanted_mm: FloatArray
    stress_days: FloatArray
    wet_days: FloatArray
    yield_loss: FloatArray
    waterings: FloatArray


def watered(amount_mm: FloatArray, rate_mm_h: FloatArray) -> FloatArray:
    """A morning's watering by interval, at the rate of its means, or as fast as gets it done by midnight. [mm]"""
    rate = np.maximum(rate_mm_h, amount_mm / (24.0 - _WATERING_FROM))
    since = np.maximum(_EDGES - _WATERING_FROM, 0.0)
    return np.diff(np.minimum(rate[:, None] * since, amount_mm[:, None]), axis=1)


def storm(rain_mm: float, chance: np.random.Generator) -> FloatArray:
    """Share of the day's rain in each interval: one storm, longer the more it brings. Judged: 1 mm 2 h, 20 mm 6 h."""
    length = float(np.clip(2.0 * max(rain_mm, 1.0) ** 0.37 * np.exp(0.5 * chance.standard_normal()), 0.5, 24.0))
    begin = chance.uniform(0.0, 24.0 - length)
    return np.diff(np.clip((_EDGES - begin) / length, 0.0, 1.0))
