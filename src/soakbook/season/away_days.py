"""On which days somebody should come by, and what a programme left running should give."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.costs import WATER_MM
from soakbook.season.away_run import Leaving, Outcome, counting, live, mornings, rest_of

FloatArray = NDArray[np.float64]

#: No more than so many days are looked at as days of a visit; of a longer absence every second or third.
MOST_LOOKED_AT = 21
#: Up to so many visits, and of those asked for at last, each is also tried earlier and later by so many days, over and over until none is better.
MOST_MOVED, MOVES = 4, (-3, -1, 1, 3)
#: No more days than so many are lived through to move the visits of one number: a page waits for them.
MOST_TRIED_DAYS = 840
#: Differences below this are none: they hang on the order in which numbers are added. [hundredths of the harvest]
NO_MATTER = 1e-6
#: A programme's depth each time, as parts of what the place uses between two of its days.
PROGRAMME_PARTS = (0.0, 0.2, 0.35, 0.5, 0.65, 0.8, 1.0, 1.25, 1.5)


@dataclass(frozen=True)
class Round:
    """Days away on which somebody comes (0 is the first day away), and what becomes of each place. ``cost`` is the mean of their losses."""

    days: tuple[int, ...]
    outcomes: tuple[Outcome, ...]

    @property
    def cost(self) -> float:
        """Harvest lost, places counting alike. [hundredths]"""
        return cost_of(self.outcomes)


def cost_of(outcomes: Sequence[Outcome]) -> float:
    """Harvest lost, places counting alike. [hundredths]"""
    counted = counting(outcomes)
    return math.fsum(o.mean for o in counted) / len(counted)


@dataclass(frozen=True)
class Kept:
    """What places were lived through already, by place and days of visits, and by place the losses of its stretches: most are the same with a timer and
    without."""

    outcomes: dict[tuple[Leaving, tuple[int, ...]], Outcome] = field(default_factory=dict)
    stretches: dict[Leaving, list[list[float]]] = field(default_factory=dict)


def best_visits(places: Sequence[Leaving], count: int, kept: Kept | None = None) -> Round:
    """The days on which up to ``count`` visits save most, over all places together.

    A place that was topped up is taken to go on alike whatever was before: then the best days follow from the cost of every stretch between
    two visits, by dynamic programming. That counts plants lost in one stretch again in the next; so days evenly apart, and the best with one visit less and one
    more in their longest gap, are lived through beside them, and the best of these moved to and fro. With one visit more
    the days of one visit less are kept where no others are better, so that it never costs more. Places that are not watered by hand are lived
    through but choose no days. ``kept`` is filled, and spares what is in it already.
    """
    kept = kept if kept is not None else Kept()
    best = round_on(places, (), kept)
    by_hand = [place for place in places if place.by_hand]
    if count == 0 or places[0].count < 2 or not by_hand:
        return best
    table = stretches(by_hand, kept)
    for n in range(1, min(count, places[0].count - 1) + 1):
        starts = {_by_stretches(table, n), _evenly(places[0].count, n), _in_gap(places[0].count, best.days)}
        tried = min((round_on(places, days, kept) for days in sorted(starts)), key=lambda one: one.cost)
        if n in (*range(MOST_MOVED + 1), count):
            tried = _moved(places, tried, kept)
        if tried.cost < best.cost - NO_MATTER:
            best = tried
    return best


def round_on(places: Sequence[Leaving], days: Sequence[int], kept: Kept | None = None) -> Round:
    """Somebody comes on these days."""
    outcomes = (kept if kept is not None else Kept()).outcomes
    out = []
    for place in places:
        key = (place, tuple(days) if place.by_hand else ())
        if key not in outcomes:
            outcomes[key] = live(place, visits=days)
        out.append(outcomes[key])
    return Round(tuple(days), tuple(out))


def stretches(places: Sequence[Leaving], kept: Kept | None = None) -> FloatArray:
    """Harvest lost from a visit on day ``i`` until just before one on day ``j``, over all places: (days, days + 1); row 0 is from leaving on
    without a visit. Days not looked at cost infinitely much. [hundredths]"""
    count, known = places[0].count, (kept if kept is not None else Kept()).stretches
    table = np.full((count, count + 1), np.inf)
    for place in places:
        if place not in known:
            known[place] = _stretches_of(place)
    for k, i in enumerate(_looked_at(count)):
        table[i, i + 1 :] = [math.fsum(day) for day in zip(*(known[place][k] for place in places), strict=True)]
    return table


def _looked_at(count: int) -> range:
    """Days away that are looked at as days of a visit, and the first."""
    return range(0, count, math.ceil(count / MOST_LOOKED_AT))


def _stretches_of(place: Leaving) -> list[list[float]]:
    """Harvest of a place lost by the end of each day from a visit on, for every day looked at; the first is without a visit. [hundredths]"""
    states = mornings(place)
    lived = (live(rest_of(place, i, states[i]), visits=(0,) if i else ()) for i in _looked_at(place.count))
    return [outcome.by_day.mean(axis=1).tolist() for outcome in lived]


def _by_stretches(table: FloatArray, visits: int) -> tuple[int, ...]:
    """The days of so many visits that cost least by a table of stretches."""
    count = len(table)
    cost, came_from = table[0].copy(), []
    for _ in range(visits):
        via = cost[:count, None] + table  # the stretch up to i, then from a visit on i
        via[0] = np.inf
        came_from.append(via.argmin(axis=0))
        cost = via.min(axis=0)
    days = [count]
    for step in reversed(came_from):
        days.append(int(step[days[-1]]))
    return tuple(sorted(set(days[1:]) - {0}))


def _evenly(count: int, visits: int) -> tuple[int, ...]:
    """Days of so many visits that part the days away alike."""
    return tuple(sorted({max(1, round(count * k / (visits + 1))) for k in range(1, visits + 1)}))


def _in_gap(count: int, days: Sequence[int]) -> tuple[int, ...]:
    """One day more, in the middle of the longest time without a visit."""
    edges = (0, *days, count)
    k = max(range(len(edges) - 1), key=lambda k: edges[k + 1] - edges[k])
    return tuple(sorted({*days, max(1, (edges[k] + edges[k + 1]) // 2)}))


def _moved(places: Sequence[Leaving], tried: Round, kept: Kept) -> Round:
    """The same visits, each some days earlier or later where that is better."""
    left, last = MOST_TRIED_DAYS // places[0].count, None
    while last is not tried:
        last = tried
        for k in range(len(tried.days)):
            for by in MOVES:
                days = sorted({*tried.days[:k], tried.days[k] + by, *tried.days[k + 1 :]})
                if left == 0 or len(days) < len(tried.days) or not 0 < days[0] <= days[-1] < places[0].count:
                    continue
                other, left = round_on(places, days, kept), left - 1
                if other.cost < tried.cost - NO_MATTER:
                    tried = other
    return tried


def programme_days(count: int, every: int) -> range:
    """Days away on which a programme runs: the first, and every so many after it."""
    return range(0, count, every)


def run_programme(leaving: Leaving, every: int, litres: float) -> Outcome:
    """So many litres on the first day away and every so many days after it, whatever the weather."""
    days = leaving.days
    puts = {k: days.depth_mm(litres, leaving.first + k) for k in programme_days(leaving.count, every)}
    return live(leaving, puts)


def litre_price(leaving: Leaving) -> float:
    """Price of a litre at a place, as in the advice: a canopy that hangs over a pot stands for more ground. [hundredths of the harvest per L]"""
    days = leaving.days
    return 1.0 / (WATER_MM * days.laid.ground_m2 * max(float(days.crops.base[leaving.first]), 1.0))


def best_programme(leaving: Leaving, every: int) -> tuple[float, Outcome]:
    """The litres each time that cost least of those looked at, in harvest and in water at the advice's price, and what comes of them; 0 where
    none are best."""
    days, span = leaving.days, slice(leaving.first, leaving.first + leaving.count)
    demand = leaving.eto_mm.reshape(leaving.count, -1, leaving.eto_mm.shape[1]).sum(axis=1).mean()
    usual = (
        float(days.crops.kcb[span].mean() * demand)
        * every
        * days.laid.ground_m2
        / float(days.laid.columns.delivery[0, 0])
    )
    per_litre = litre_price(leaving)
    found = []
    for part in PROGRAMME_PARTS:
        outcome = run_programme(leaving, every, part * usual)
        found.append((outcome.mean + per_litre * float(outcome.litres.sum()), part * usual, outcome))
    least = found[0]
    for one in found[1:]:
        if one[0] < least[0] - NO_MATTER:
            least = one
    return least[1], least[2]
