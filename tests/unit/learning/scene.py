"""A bed under real weather, a truth drawn from its own prior, and the readings somebody would take of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.sky import weather_for
from soakbook.balance.columns import Result
from soakbook.balance.layout import Members
from soakbook.balance.place import PlaceDays, place_days
from soakbook.demo import DAY, demo_garden
from soakbook.garden.model import Garden, LogEntry, Place, Planting, PotShape, SoilLayer
from soakbook.learning import observe
from soakbook.learning.reading import Kind, Reading, layer_at, moment_of, water_at, wetness_of
from soakbook.weather.series import WeatherSeries

FloatArray = NDArray[np.float64]
TODAY = DAY
BED = Place(
    "loam bed", "bed", (SoilLayer("texture", texture="loam"),), 4.0, wetted_fraction=1.0,
    plantings=(Planting("tomato_tall", planted_out=date(2017, 5, 12), count=6),),
)  # fmt: skip
POT = Place(
    "tomato pot", "pot", (SoilLayer("mix", mix="multipurpose"),), 0.07, pot=PotShape(0.3, 0.07, 0.05),
    plantings=(Planting("tomato_tall", planted_out=date(2017, 6, 20), count=1),),
)  # fmt: skip


@cache
def garden() -> Garden:
    return replace(demo_garden()[0], places=(BED, POT))


@cache
def weather() -> WeatherSeries:
    return weather_for(demo_garden()[0], TODAY, [], folder=demo_garden()[2])


def at(day: date, hour: float = 8.0) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(garden().time_zone)) + timedelta(hours=hour)


@cache
def log() -> tuple[LogEntry, ...]:
    """The bed is given 60 litres every sixth morning, the pot 2 litres every morning."""
    first = date(2017, 5, 15)
    bed = [LogEntry(f"w{k}", at(first + timedelta(6 * k)), "water", BED.name, litres=60.0) for k in range(9)]
    pot = [LogEntry(f"p{k}", at(date(2017, 6, 20) + timedelta(k)), "water", POT.name, litres=1.0) for k in range(18)]
    return (*bed, *pot)


def reading(name: str, day: date, kind: Kind, value: float, depth_m: float = 0.15, by: str = "") -> Reading:
    return Reading(name, at(day, 18.0), kind, value, depth_m, by)


@dataclass(frozen=True)
class Truth:
    """All truths of a draw, run over all days."""

    days: PlaceDays
    run: Result

    def used(self, ahead: Sequence[int]) -> FloatArray:
        """Used fraction at the end of so many days ahead, (leads, M)."""
        index = self.days.index(TODAY)
        return self.days.used_by_day(self.run, 0)[[index + a - 1 for a in ahead]]

    def wetness(self, day: date, depth_m: float) -> FloatArray:
        moment = moment_of(self.days, at(day, 18.0), log())
        return np.asarray(wetness_of(self.days, water_at(self.days, self.run, moment))[layer_at(self.days, depth_m)])


def truths(place: Place, members: Members) -> Truth:
    days = place_days(garden(), place, weather(), log(), members, until=TODAY)
    return Truth(days, days.run(days.start(), 0, len(days.days)))


def taken(truth: Truth, which: int, rng: np.random.Generator, dates: Sequence[date]) -> list[Reading]:
    """A dial probe and a hand, each with its own bias, on each of these evenings; a pot is weighed and lifted. The spot they look
    at is off from the balance as the observation model has it: all season, and for some days."""
    is_pot = truth.days.place.kind == "pot"
    off = spot(rng, dates, observe.MODEL_SD if is_pot else observe.BED_MODEL_SD)
    if is_pot:
        return _pot_taken(truth, which, rng, dates, off)
    offset, slope, bias = rng.standard_normal(3)
    found: list[Reading] = []
    for k, day in enumerate(dates):
        wetness = truth.wetness(day, 0.15)[which : which + 1] + off[k]
        shown = float(observe.dial_shown(wetness, np.array([offset]), np.array([slope]))[0])
        marks = shown + observe.DIAL_SD * rng.standard_normal()
        while not 0.0 <= marks <= 10.0:
            marks = shown + observe.DIAL_SD * rng.standard_normal()
        felt = float(observe.felt(wetness, bias)[0]) + observe.feel_sd("medium") * rng.standard_normal()
        found.append(reading(f"d{k}", day, "dial", marks, by="one"))
        found.append(reading(f"f{k}", day, "feel", float(np.searchsorted(observe.FEEL_CUTS, felt))))
    return found


def spot(rng: np.random.Generator, dates: Sequence[date], model_sd: float) -> list[float]:
    """How much wetter a spot is than the balance has it, on each of these days."""
    days = [(d - TODAY).days for d in dates]
    lasting = rng.standard_normal(max(days) - min(days) + 1) if days else np.empty(0)
    left = np.exp(-1.0 / observe.MODEL_DAYS)
    for k in range(1, len(lasting)):
        lasting[k] = left * lasting[k - 1] + np.sqrt(1.0 - left**2) * lasting[k]
    stays = observe.SPOT_SD * rng.standard_normal()
    return [float(stays + model_sd * lasting[d - min(days)]) for d in days]


def _pot_taken(
    truth: Truth, which: int, rng: np.random.Generator, dates: Sequence[date], off: Sequence[float]
) -> list[Reading]:
    tare, bias = rng.standard_normal(2)
    days, volume = truth.days, POT.pot.volume_l if POT.pot is not None else 0.0
    full, dry = days.laid.columns.fc_mm[0, :, which].sum(), days.laid.columns.wp_mm[0, :, which].sum()
    found: list[Reading] = []
    for k, day in enumerate(dates):
        water = water_at(days, truth.run, moment_of(days, at(day, 18.0), log()))[:, which].sum()
        litres = (float(water) + off[k] * (full - dry)) * days.laid.ground_m2
        kg = (litres + float(observe.tare_kg(volume, np.array([tare]))[0])) * np.exp(
            observe.WEIGHT_SD * rng.standard_normal()
        )
        wetness = (float(water) - dry) / (full - dry) + off[k]
        felt = wetness + observe.LIFT_BIAS_SD * bias + observe.LIFT_SD * rng.standard_normal()
        found.append(reading(f"k{k}", day, "weight", float(kg)))
        found.append(reading(f"l{k}", day, "lift", float(np.searchsorted(observe.LIFT_CUTS, felt))))
    return found
