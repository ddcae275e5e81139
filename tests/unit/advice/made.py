"""Invented places in the middle of a season, believed to hold so much, and weather that may come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.belief import Belief
from soakbook.advice.costs import Weights
from soakbook.advice.plan import Plan, plan_round
from soakbook.balance.columns import AREA_WET, state_at
from soakbook.balance.place import PlaceDays, place_days
from soakbook.balance.spread import draw_members
from soakbook.garden.model import Garden, Place
from soakbook.weather.members import WeatherMembers
from tests.practice.sites import START, WEATHER, steady

NONE: NDArray[np.float64] = np.empty(0)


@dataclass(frozen=True)
class Scene:
    """A garden of one or more places on a day, and what may come."""

    garden: Garden
    beliefs: tuple[Belief, ...]
    ahead: WeatherMembers
    on: date

    def plans(self, weights: Weights | None = None, **more: object) -> tuple[Plan, ...]:
        return plan_round(self.garden, self.beliefs, self.ahead, self.on, weights, **more)  # type: ignore[arg-type]


def garden_of(*places: Place, **more: object) -> Garden:
    return Garden("test", 40.0, 0.0, 100.0, "UTC", places, **more)  # type: ignore[arg-type]


def laid_out(garden: Garden, place: Place, kind: str = "warm", members: int = 50, seed: int = 1) -> PlaceDays:
    drawn = draw_members(place, members, np.random.default_rng(seed))
    return place_days(garden, place, steady(kind), (), drawn)


def believed(days: PlaceDays, at: int, used: float, spread: float = 0.05, seed: int = 2) -> Belief:
    """A place of which about so much is used on a day, the same in every layer."""
    members = days.laid.columns.demand.shape[1]
    share = np.clip(1.0 - np.random.default_rng(seed).normal(used, spread, members), 0.02, 1.0)
    area = days.forcing.crop[:, at * days.steps_a_day, AREA_WET]
    now = state_at(days.laid.columns, area, share[None, None, None])
    return Belief(days, at, now, NONE, NONE, NONE, None)


def coming(
    kind: str = "warm", at: int = 60, members: int = 50, chance: float = 0.15, mean_mm: float = 8.0, seed: int = 3,
    rain_on: dict[int, float] | None = None,
) -> WeatherMembers:  # fmt: skip
    """Steady weather with showers by chance, and given rain on given days for all members."""
    rng = np.random.default_rng(seed)
    w = WEATHER[kind]
    shape = (members, 17)
    rain = rng.exponential(mean_mm, shape) * (rng.random(shape) < chance)
    for day, depth in (rain_on or {}).items():
        rain[:, day] = depth
    vapour = 0.9 * 0.6108 * np.exp(17.27 * w["t_min_c"] / (w["t_min_c"] + 237.3))
    columns = {
        "t_max_c": np.full(shape, w["t_max_c"]),
        "t_min_c": np.full(shape, w["t_min_c"]),
        "vapour_pressure_kpa": np.full(shape, vapour),
        "solar_mj_m2": w["solar_mj_m2"] * rng.uniform(0.8, 1.05, shape),
        "wind_2m_ms": np.full(shape, w["wind_2m_ms"]),
        "rain_mm": rain,
    }
    times = np.datetime64(START) + at + np.arange(17)
    return WeatherMembers(times, columns, 40.0, 0.0, 100.0, "made for a test")


def scene(
    *places: Place, used: float, at: int = 60, kind: str = "warm", spread: float = 0.05, members: int = 50,
    ahead: WeatherMembers | None = None, **garden: object,
) -> Scene:  # fmt: skip
    made = garden_of(*places, **garden)
    beliefs = tuple(believed(laid_out(made, p, kind, members), at, used, spread) for p in places)
    return Scene(made, beliefs, ahead or coming(kind, at, members), START + timedelta(days=at))
