"""One place for one season: what the grower knows of it, the weather it meets, and the truth drawn around it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.crops import stage_clock
from soakbook.balance.place import PlaceDays, place_days, resolve
from soakbook.balance.site import SURROUNDINGS, site_factor, weather_at
from soakbook.balance.spread import litres_sd
from soakbook.catalog import read as catalog
from soakbook.errors import InputError
from soakbook.garden.model import Garden, Place
from soakbook.said import say
from soakbook.season.truth.draw import Believed, Hidden, Probe, Spread, draw
from soakbook.weather.eto import series_eto
from soakbook.weather.series import WeatherSeries

FloatArray = NDArray[np.float64]

#: How far truth may stray from what is believed: no faults; three in four plants make up for dry roots with wet ones, as most crops do
#: to some degree (N. J. Jarvis, J. Hydrol. 107:57-72, 1989; the share judged); and stages of growth near to those the calendar has, for
#: the grower sees when plants spread and flower, and the garden file takes down what is seen.
SOUND = Spread(faults=0.0, compensating=0.75, stages=0.03)
#: Days a season must have before its weather ends, and the most that are lived through.
LEAST_DAYS, MOST_DAYS = 40, 170


@dataclass(frozen=True)
class Case:
    """A garden of one place, and a season of weather as it came.

    ``believed`` is the place as the truth is drawn around it; ``weather`` daily, gaps filled, from some days before ``first``, the
    day on which the place is planted (or its seedlings are up), to the end of what is known. ``key`` names the case in results.
    """

    key: str
    climate: str
    ground: str
    garden: Garden
    believed: Believed
    weather: WeatherSeries
    first: date
    seed: int
    spread: Spread = SOUND

    @property
    def place(self) -> Place:
        """The one place."""
        return self.garden.places[0]

    @cached_property
    def at(self) -> int:
        """Index of the first day in the weather."""
        return int((np.datetime64(self.first) - self.weather.times[0]) / np.timedelta64(1, "D"))

    @cached_property
    def laid(self) -> PlaceDays:
        """The place over the season as it came: for the stages of the crop, the grower's areas; never for a decision."""
        return place_days(self.garden, self.place, self.season)

    @property
    def season(self) -> WeatherSeries:
        """The weather from the first day on."""
        return self.weather.between(np.datetime64(self.first), self.weather.times[-1])

    @cached_property
    def at_spot(self) -> WeatherSeries:
        """The season's weather as it reaches the place: shade, shelter and cover act on the true place as the grower says they do."""
        return weather_at(self.place.exposure, self.season)

    @cached_property
    def eto_mm(self) -> FloatArray:
        """Reference evapotranspiration at the place from the first day on. Surroundings count by how far they are from a garden's; that a
        pot in a garden asks for more than the reference is believed by our balance only, as in the proof."""
        usual = SURROUNDINGS["pot" if self.place.kind == "pot" else "bed"]["garden"]
        return series_eto(self.at_spot) * (site_factor(self.place) / usual)

    @cached_property
    def rain_mm(self) -> FloatArray:
        """Rain that reaches the place from the first day on."""
        return self.at_spot.get("rain_mm")

    @cached_property
    def hidden(self) -> Hidden:
        """The true place."""
        return self.drawn(1, self.seed)

    def drawn(self, count: int, seed: int) -> Hidden:
        """So many places drawn around what is believed. Their crop ages with the warmth that came, and its leaves cover what the
        grower sees them cover: a sparse stand asks for less than a full one, a pot's leaves for more than its ground."""
        stages = stage_days(self)
        ratio = float(np.max(self.laid.crops.kcb)) / float(resolve(self.place)[0][1].kcb_mid)
        line = next((one for one in self.garden.lines if one.name == self.place.line), None)
        spread = replace(self.spread, flow=litres_sd(self.place, line))  # as far off as it is known
        made = draw(
            [replace(self.believed, canopy_ratio=ratio)] * count, seed, spread=spread, season_days=int(stages.sum())
        )
        table = np.array([_lengths(self)])
        stop_cm = np.inf if self.place.root_barrier_m is None else 100.0 * self.place.root_barrier_m
        return replace(
            made,
            stage_days=np.maximum(made.stage_days * stages / np.maximum(table, 1.0), 1.0),
            ground_factor=made.ground_factor * _left_by_mulch(self.place),
            root_stop_cm=np.minimum(made.root_stop_cm, stop_cm),
        )

    @cached_property
    def days(self) -> int:
        """Days lived through: to the true harvest, or as far as the weather goes."""
        ripe = int(np.ceil(self.hidden.stage_days.sum()))
        found = min(ripe, len(self.eto_mm), MOST_DAYS)
        if found < LEAST_DAYS:
            raise InputError(
                say("the weather goes on for only {n} days from {day}.", n=found, day=self.first),
                code="trial.weather",
                hint=say("At least {n} are needed.", n=LEAST_DAYS),
            )
        return found

    @cached_property
    def watered_in_mm(self) -> float:
        """What every way of watering gives on the first day, over the place. Common practice: water in. [mm]"""
        from soakbook.balance.place import WATERED_IN_MM

        found: float = WATERED_IN_MM * self.laid.area_wet(0)
        return found

    def day(self, index: int) -> date:
        """The date of a day of the season."""
        return self.first + timedelta(days=index)

    def litres(self, mm: float) -> float:
        """Litres for a depth over the whole place."""
        return mm * self.laid.laid.ground_m2


def _left_by_mulch(place: Place) -> float:
    """Part of the evaporation from the soil that a mulch lets through."""
    if place.mulch is None:
        return 1.0
    cut: float = catalog.mulches()[place.mulch.kind].evaporation_cut.value
    return 1.0 - cut * place.mulch.cover_fraction


def _lengths(case: Case) -> tuple[float, float, float, float]:
    plant = resolve(case.place)[0][1]
    return (float(plant.days_ini), float(plant.days_dev), float(plant.days_mid), float(plant.days_late))


def stage_days(case: Case) -> FloatArray:
    """Days each stage takes from the first day on in the warmth that came: the same calendar of heat as the balance goes by, for
    it is the crop that is seen, and how wide and high it stands."""
    planting, plant = resolve(case.place)[0]
    season = case.season
    mean = 0.5 * (season.get("t_max_c") + season.get("t_min_c"))
    clock, _, _ = stage_clock(planting, plant, season.times, mean, case.garden.lat_deg)
    a, b, c, d = _lengths(case)
    pace = max(float(np.mean(np.diff(clock[-20:]))), 0.2)

    def reached(at: float) -> float:
        if clock[-1] >= at:
            return float(np.interp(at, clock, np.arange(len(clock))))
        return float(len(clock) - 1.0 + (at - clock[-1]) / pace)

    ends = [0.0, reached(a), reached(a + b)]
    return np.array([max(ends[1], 1.0), max(ends[2] - ends[1], 1.0), max(c, 1.0), max(d, 1.0)])


def copies(hidden: Hidden, count: int) -> Hidden:
    """The one true place so many times over, so that many ways of watering it are lived through side by side."""

    def more(value: object) -> object:
        if isinstance(value, tuple):
            return value * count
        return np.repeat(value, count, axis=0) if isinstance(value, np.ndarray) else value

    made = {name: more(value) for name, value in vars(hidden).items() if name != "probe"}
    probe = Probe(*(np.repeat(v, count) for v in vars(hidden.probe).values()))
    return Hidden(probe=probe, **made)  # type: ignore[arg-type]
