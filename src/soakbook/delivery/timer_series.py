"""A series of settings through a season, and what it does: judged by running the whole season through the balance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property

import numpy as np

from soakbook.delivery.timer_judge import Judge, Judged
from soakbook.delivery.timer_model import Programme, Rules, Timer, drawn_by_day_l, problems, tank_levels_l
from soakbook.delivery.timer_need import FloatArray
from soakbook.delivery.timer_place import put_by
from soakbook.said import Said


@dataclass(frozen=True)
class Stretch:
    """From day ``first`` of the season on (0 the first) these programmes are set; none: the timer is off."""

    first: int
    setting: tuple[Programme, ...]


#: Stretches one after another; each lasts until the next begins, the last to the end of the season.
Series = tuple[Stretch, ...]


@dataclass(frozen=True)
class Times:
    """What setting the timer so many times does: the cost in hundredths of growth and the part of the growth lost, means over the places;
    litres given and wasted, sums."""

    series: Series
    cost: float
    lost: float
    given_l: float
    wasted_l: float

    @property
    def count(self) -> int:
        """How often the timer is set to something else, the first time among them."""
        return len(self.series)


@dataclass(frozen=True)
class SeasonJudge:
    """Series judged by running the whole season through the balance."""

    judge: Judge
    timer: Timer
    rules: Rules
    flows_lph: Mapping[str, float]
    _water: dict[tuple[int, tuple[Programme, ...]], tuple[FloatArray, FloatArray]] = field(default_factory=dict)

    @property
    def days(self) -> int:
        """Days of the season."""
        return self.judge.days

    @cached_property
    def first(self) -> date:
        """The first of them."""
        found: date = self.judge.places[0].days.days[0].astype(date)
        return found

    def judged(self, series: Series) -> tuple[Judged, ...]:
        """Every place under a series."""
        return tuple(self.judge.of_water(k, *self.water(k, series)) for k in range(len(self.judge.places)))

    def cost(self, series: Series) -> float:
        """Mean cost over the places. [hundredths of growth]"""
        return float(np.mean([one.cost for one in self.judged(series)]))

    def times(self, series: Series) -> Times:
        """What a series does in few figures."""
        judged = self.judged(series)
        lost = float(np.mean([one.lost_dry + one.lost_wet for one in judged]))
        cost = float(np.mean([one.cost for one in judged]))
        return Times(series, cost, lost, sum(one.given_l for one in judged), sum(one.wasted_l for one in judged))

    def water(self, k: int, series: Series) -> tuple[FloatArray, float]:
        """What a series brings into the soil of a place by step, and what runs off in all. [mm over the watered part]"""
        n = self.judge.places[k].days.steps_a_day
        put, off = np.zeros(self.days * n), 0.0
        for stretch, end in zip(series, ends(series, self.days), strict=True):
            key = (k, stretch.setting)
            if key not in self._water:
                self._water[key] = put_by(stretch.setting, self.judge.places[k])
            into, over = self._water[key]
            put[stretch.first * n : end * n] = into[stretch.first * n : end * n]
            off += float(over[stretch.first : end].sum())
        return put, off

    def problems(self, series: Series) -> tuple[Said, ...]:
        """What a series breaks, in plain words; the tank goes on from one stretch to the next."""
        rules, found = self.rules, list[Said]()
        for stretch, end in zip(series, ends(series, self.days), strict=True):
            begins, length = self.first + timedelta(days=stretch.first), end - stretch.first
            found += problems(stretch.setting, self.timer, rules, self.flows_lph, begins, length)
            rules = tank_after(rules, stretch.setting, self.flows_lph, begins, length)
        return tuple(found)


def ends(series: Series, days: int) -> tuple[int, ...]:
    """The day on which each stretch is over."""
    return (*(one.first for one in series[1:]), days)


def tank_after(
    rules: Rules, setting: Sequence[Programme], flows_lph: Mapping[str, float], first: date, days: int
) -> Rules:
    """The rules with what the tank holds when a stretch is over, no more than when it is full; without a tank as they are."""
    if rules.tank_l is None:
        return rules
    drawn_l = drawn_by_day_l(setting, flows_lph, first, days)
    return replace(rules, tank_l=tank_levels_l(rules, [*drawn_l, 0.0])[-1])
