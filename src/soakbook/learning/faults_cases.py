"""Faults as changes to what happens to a place from some day on: the runs that are made, and the cases they stand for.

Sizes are drawn by member, evenly over a range, so that one run covers them all; a blocked emitter and a leak are two parts of one
run. How bad a fault is and how often it comes is judged: nothing published covers a garden.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.place import PlaceDays
from soakbook.weather.series import OWN_GAUGE, WeatherSeries

FloatArray = NDArray[np.float64]
Fault = Literal["blocked", "leak", "left on", "never opened", "gauge in rain shadow", "compacted", "repels"]

#: Kinds of watering that come out of something which can clog, leak, be left on or stay shut.
BY_TAP = ("sprinkler", "drip_line", "emitters", "soaker")
#: How likely a fault is to begin in a week, per place. Judged: one place in five has one of them in a season of twenty weeks;
#: oftenest a gauge that something has grown over.
BLOCKED_A_WEEK, LEAK_A_WEEK, LEFT_ON_A_WEEK, SHUT_A_WEEK, GAUGE_A_WEEK = 0.0020, 0.0015, 0.0015, 0.0015, 0.0030
#: How likely one is that was there from the start; a mix may come dry, or dry out in any week. Judged.
COMPACTED_EVER, REPELS_EVER, SHADOW_EVER = 0.03, 0.03, 0.03
REPELS_A_WEEK = 0.0015
#: What still arrives past blocked emitters, and past a leak, of what was meant. Judged.
BLOCKED, LEAKING = (0.05, 0.60), (0.40, 0.80)
#: What a line left on adds to the part it waters, and for how long it runs on. Judged: half an hour to a night. [mm], [h]
LEFT_ON_MM, LEFT_ON_H = (30.0, 90.0), (0.5, 12.0)
#: Days without the waterings that were written down. Judged: a short and a long while until somebody looks; a meter tells all between.
SHUT_DAYS, SHUT_LASTS = (6, 12), (3, 16)
#: Rain at the place over that counted: below a wall (a pot's own leaves may keep off half of it, which is no fault), and beside a
#: gauge that itself stands below something. Judged.
LESS_RAIN, LESS_IN_POT, MORE_RAIN = (0.2, 0.65), (0.05, 0.35), (1.5, 3.0)
#: Depths at which roots stop on a compacted layer [m], and what is left of its conductivity. Judged.
PANS_M, PAN_KS = (0.20, 0.30), 0.03
#: Part of the water that runs through a mix that repels it, once it has dried out and until it is soaked. Judged.
BYPASS = (0.5, 0.8)
#: Days after which the soil has forgotten a fault that is over: a bed, a pot. Judged.
BED_FORGETS, POT_FORGETS = 35, 10


@dataclass(frozen=True)
class Run:
    """A run beside the sound one: it leaves that on day ``first``, and is one with it again from the first stretch of days that begins on
    ``last`` or later.

    ``delivered`` (M,) is the part of what is put on that arrives; before day ``shut_until`` nothing is put on. ``extra`` (day, mm over
    the wetted part) is put on beside what was written down. ``rain`` (M,) is rain over that counted. ``pan_m`` is the depth of a compacted layer,
    ``bypass`` the part of the water that runs through a mix that repels.
    """

    first: int
    last: int
    delivered: FloatArray | None = None
    shut_until: int | None = None
    extra: tuple[int, float] | None = None
    rain: FloatArray | None = None
    pan_m: float | None = None
    bypass: float | None = None


@dataclass(frozen=True)
class Case:
    """A fault that began on day ``first`` (None: there from the start), by the run ``run`` and its members' weights ``of`` (M,), which
    add to 1; ``prior`` is its probability. ``flow`` is the least and the most that leaves the tap, of what was meant; ``may_begin`` are the
    days of a watering on which it may have begun."""

    fault: Fault
    first: int | None
    run: int
    prior: float
    of: FloatArray
    flow: tuple[float, float] = (1.0, 1.0)
    more: bool = False
    may_begin: tuple[int, ...] = ()


def sound(end: int) -> Run:
    """The place with nothing wrong."""
    return Run(0, end)


def runs_and_cases(
    days: PlaceDays, weather: WeatherSeries, starts: Sequence[int], end: int, rng: np.random.Generator
) -> tuple[list[Run], list[Case]]:
    """The sound run and those beside it, and every case that could be. Faults begin on one of ``starts``; days stop at ``end``."""
    runs, cases = [sound(end)], list[Case]()
    by_tap = days.place.line is not None or days.place.means in BY_TAP
    gauged = bool((weather.flag("rain_mm")[:end] == OWN_GAUGE).any())
    for first, following in zip(starts, [*starts[1:], end], strict=True):
        weeks = (following - first) / 7.0
        wet = [d for d in range(first, following) if _given(days, d) > 0.0]
        if by_tap and wet:
            _less_water(runs, cases, days, wet, first, end, weeks, rng)
            _shut(runs, cases, days, wet, first, end, weeks)
            _left_on(runs, cases, days, wet, first, end, weeks)
        if gauged:
            _gauge(runs, cases, days, first, end, GAUGE_A_WEEK * weeks, rng)
        if days.place.soil[0].route == "mix":
            _repels(runs, cases, days, first, end, REPELS_A_WEEK * weeks + (REPELS_EVER if first == starts[0] else 0.0))
    _standing(runs, cases, days, end, rng)
    return runs, cases


def _count(days: PlaceDays) -> int:
    return int(days.laid.columns.shape[2])


def _given(days: PlaceDays, day: int) -> float:
    n = days.steps_a_day
    return float(days.forcing.irrigation_mm[0, day * n : (day + 1) * n, 0].sum())


def _forgets(days: PlaceDays) -> int:
    return BED_FORGETS if days.steps_a_day == 1 else POT_FORGETS


def _even(count: int, low: float, high: float, rng: np.random.Generator) -> FloatArray:
    """One draw in each of equal slices of a range."""
    return np.asarray(low + (high - low) * (rng.permutation(count) + rng.random(count)) / count)


def _within(sizes: FloatArray, low: float, high: float) -> FloatArray:
    """Weights of the members whose size lies in a range."""
    inside = ((sizes >= low) & (sizes <= high)).astype(float)
    return np.asarray(inside / inside.sum())


def _less_water(
    runs: list[Run],
    cases: list[Case],
    days: PlaceDays,
    wet: list[int],
    first: int,
    end: int,
    weeks: float,
    rng: np.random.Generator,
) -> None:
    part = _even(_count(days), BLOCKED[0], LEAKING[1], rng)
    run = len(runs)
    runs.append(Run(first, end, delivered=part))
    cases.append(
        Case("blocked", first, run, BLOCKED_A_WEEK * weeks, _within(part, *BLOCKED), (0.05, 0.7), may_begin=tuple(wet))
    )
    cases.append(
        Case("leak", first, run, LEAK_A_WEEK * weeks, _within(part, *LEAKING), (1.05, 2.0), may_begin=tuple(wet))
    )


def _shut(
    runs: list[Run], cases: list[Case], days: PlaceDays, wet: list[int], first: int, end: int, weeks: float
) -> None:
    count = _count(days)
    for length in SHUT_DAYS:
        prior = SHUT_A_WEEK * weeks / len(SHUT_DAYS)
        cases.append(Case("never opened", first, len(runs), prior, np.full(count, 1.0 / count), may_begin=tuple(wet)))
        runs.append(Run(first, min(first + length + _forgets(days), end), shut_until=first + length))


def _left_on(
    runs: list[Run], cases: list[Case], days: PlaceDays, wet: list[int], first: int, end: int, weeks: float
) -> None:
    count, day = _count(days), wet[0]
    for depth in LEFT_ON_MM:
        prior = LEFT_ON_A_WEEK * weeks / len(LEFT_ON_MM)
        cases.append(Case("left on", day, len(runs), prior, np.full(count, 1.0 / count), may_begin=tuple(wet)))
        runs.append(Run(first, min(day + _forgets(days), end), extra=(day, depth)))


def _gauge(
    runs: list[Run], cases: list[Case], days: PlaceDays, first: int | None, end: int, prior: float,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Half of the members have less rain than counted, half have more."""
    count = _count(days)
    less = np.arange(count) % 2 == 0
    low = _even(count, *(LESS_RAIN if days.place.pot is None else LESS_IN_POT), rng)
    rain = np.where(less, low, np.exp(_even(count, math.log(MORE_RAIN[0]), math.log(MORE_RAIN[1]), rng)))
    for more in (False, True):
        of = (less != more).astype(float)
        cases.append(Case("gauge in rain shadow", first, len(runs), 0.5 * prior, of / of.sum(), more=more))
    runs.append(Run(first or 0, end, rain=rain))


def _standing(runs: list[Run], cases: list[Case], days: PlaceDays, end: int, rng: np.random.Generator) -> None:
    even = np.full(_count(days), 1.0 / _count(days))
    place = days.place
    _gauge(runs, cases, days, None, end, SHADOW_EVER, rng)
    pans = [p for p in PANS_M if place.pot is None and p < 0.6 * days.laid.edges_m[-1]]
    for pan in pans:
        cases.append(Case("compacted", None, len(runs), COMPACTED_EVER / len(pans), even))
        runs.append(Run(0, end, pan_m=pan))


def _repels(runs: list[Run], cases: list[Case], days: PlaceDays, first: int, end: int, prior: float) -> None:
    count = _count(days)
    for bypass in BYPASS:
        cases.append(Case("repels", first, len(runs), prior / len(BYPASS), np.full(count, 1.0 / count)))
        runs.append(Run(first, end, bypass=bypass))
