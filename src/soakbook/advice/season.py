"""A season watered by the rule: how often and how much in each month, in the weather the place usually has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.decide import LEAST_MM, judged_use, limits, soak_mm
from soakbook.balance.columns import DRAINAGE, EVAPORATION, RUNOFF, TRANSPIRATION
from soakbook.balance.crops import NONE, OVER
from soakbook.balance.place import PlaceDays

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Soak:
    """One watering of the season: the day, litres for the whole place, depth over the wetted part put on."""

    on: date
    litres: float
    depth_mm: float


@dataclass(frozen=True)
class Month:
    """A month of the season: ``every_days`` is its days per watering (NaN without any)."""

    month: date
    days: int
    soaks: int
    every_days: float
    litres_each_time: float
    litres: float
    eto_mm_day: float
    rain_mm: float


@dataclass(frozen=True)
class Season:
    """Waterings and months from the first growing day to the last; totals are litres for the whole place."""

    soaks: tuple[Soak, ...]
    months: tuple[Month, ...]
    drained_litres: float
    evaporated_litres: float
    transpired_litres: float
    ran_off_litres: float


def water_by_rule(days: PlaceDays, first: int = 0, last: int | None = None) -> Season:
    """Run a place from full soil with a soak on every day on which the rule asks for one (best guess only).

    Parameters
    ----------
    days
        The place over its weather; what its log says is left out.
    first, last
        Days to run, ``last`` not included.

    Returns
    -------
    Season
    """
    last = len(days.days) if last is None else last
    state = days.full()
    limit = limits(days)
    soaks: list[Soak] = []
    totals = np.zeros(4)
    for d in range(first, last):
        growing = days.crops.phase[d] not in (NONE, OVER)
        result = days.run(state, d, d + 1, logged=False)
        used = judged_use(
            days, days.used_fraction(state.water_mm[0], d), days.used_fraction(result.water_mm[0, -1], d)[None], d
        )
        missing = float(days.missing_mm(state.water_mm[0], d)[0])
        if growing and used[0, 0] >= limit[d] and missing >= LEAST_MM:
            depth = soak_mm(days, state, d, result)
            result = days.run(state, d, d + 1, [(d, depth)], logged=False)
            day: date = days.days[d].astype(date)
            soaks.append(Soak(day, days.litres(depth, d), depth))
        state = result.end
        totals += result.totals[0, [DRAINAGE, EVAPORATION, TRANSPIRATION, RUNOFF], 0]
    litres = [float(t) * days.laid.ground_m2 for t in totals]
    return Season(tuple(soaks), _months(days, soaks, first, last), litres[0], litres[1], litres[2], litres[3])


def _months(days: PlaceDays, soaks: Sequence[Soak], first: int, last: int) -> tuple[Month, ...]:
    growing = np.isin(days.crops.phase[first:last], (NONE, OVER), invert=True)
    which = days.days[first:last].astype("datetime64[M]")
    out = []
    for month in np.unique(which[growing]):
        here = (which == month) & growing
        mine = [s for s in soaks if np.datetime64(s.on, "M") == month]
        n, litres = int(here.sum()), sum(s.litres for s in mine)
        start: date = month.astype("datetime64[D]").astype(date)
        litres_each = litres / len(mine) if mine else 0.0
        every = n / len(mine) if mine else float("nan")
        eto, rain = float(days.eto_mm[first:last][here].mean()), float(days.rain_mm[first:last][here].sum())
        out.append(Month(start, n, len(mine), every, litres_each, litres, eto, rain))
    return tuple(out)
