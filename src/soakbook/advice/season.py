"""A season watered by the rule: how often and how much in each month, in the weather the place usually has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.decide import LEAST_MM, by_tonight, limits, soak_and_run
from soakbook.balance.columns import DRAINAGE, EVAPORATION, RUNOFF, TRANSPIRATION, Result, State
from soakbook.balance.crops import growing
from soakbook.balance.place import PlaceDays

FloatArray = NDArray[np.float64]

#: Most days run at once in search of the next watering.
LOOK_AHEAD = {"bed": 8, "pot": 3, "tray": 2}


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


@dataclass(frozen=True)
class _Rule:
    """The rule day by day: whether anything grows, whether the evening counts, and how much may be used."""

    growing: NDArray[np.bool_]
    late: NDArray[np.bool_]
    limit: FloatArray


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
    state = days.start()
    rule = _Rule(growing(days.crops.phase), by_tonight(days), limits(days))
    soaks: list[Soak] = []
    totals = np.zeros(4)
    d, ahead = first, LOOK_AHEAD[days.place.kind]
    while d < last:
        due, end, result = _dry_until(days, rule, state, d, min(d + ahead, last), last)
        if due == d:
            if soaks:  # about as long as the last one lasted
                lasted = (days.days[d].astype(date) - soaks[-1].on).days
                ahead = min(max(lasted, 1), LOOK_AHEAD[days.place.kind])
            depth, result = soak_and_run(days, state, d, result)
            day: date = days.days[d].astype(date)
            soaks.append(Soak(day, days.litres(depth, d), depth))
            d += 1
        else:  # nothing falls due before
            result = result if due == end else days.run(state, d, due, logged=False)
            d = due
        state = result.end
        totals += result.totals[0, [DRAINAGE, EVAPORATION, TRANSPIRATION, RUNOFF], 0]
    litres = [float(t) * days.laid.ground_m2 for t in totals]
    return Season(tuple(soaks), _months(days, soaks, first, last), litres[0], litres[1], litres[2], litres[3])


def _dry_until(days: PlaceDays, rule: _Rule, state: State, d: int, end: int, last: int) -> tuple[int, int, Result]:
    """The first day from ``d`` on that is to be watered, or the end of the stretch looked at; that end; the run over it.

    A stretch is all days on which nothing grows, or those up to ``end`` on which something does.
    """
    growing = rule.growing
    if not growing[d]:
        end = d + int(np.argmax(growing[d:last])) if bool(growing[d:last].any()) else last
        return end, end, days.run(state, d, end, logged=False)
    if not bool(growing[d:end].all()):
        end = d + int(np.argmin(growing[d:end]))
    result = days.run(state, d, end, logged=False)
    nights_mm = result.water_mm[0, days.steps_a_day - 1 :: days.steps_a_day, 0]
    mornings_mm = np.concatenate([state.water_mm[0, :1], nights_mm[:-1]])
    stretch = slice(d, end)
    missing = np.einsum("tl,tlm->tm", days.reach[stretch], np.maximum(days.laid.columns.fc_mm[0] - mornings_mm, 0.0))
    mornings = np.minimum(missing / days.stores_mm[stretch], 1.0)
    nights = days.used_by_day(result, d)
    used = np.where(rule.late[stretch], nights[:, 0], 0.5 * (mornings[:, 0] + nights[:, 0]))
    due = (used >= rule.limit[stretch]) & (missing[:, 0] >= LEAST_MM)
    return (d + int(np.argmax(due)) if bool(due.any()) else end), end, result


def _months(days: PlaceDays, soaks: Sequence[Soak], first: int, last: int) -> tuple[Month, ...]:
    grows = growing(days.crops.phase[first:last])
    which = days.days[first:last].astype("datetime64[M]")
    out = []
    for month in np.unique(which[grows]):
        here = (which == month) & grows
        mine = [s for s in soaks if np.datetime64(s.on, "M") == month]
        n, litres = int(here.sum()), sum(s.litres for s in mine)
        start: date = month.astype("datetime64[D]").astype(date)
        litres_each = litres / len(mine) if mine else 0.0
        every = n / len(mine) if mine else float("nan")
        eto, rain = float(days.eto_mm[first:last][here].mean()), float(days.rain_mm[first:last][here].sum())
        out.append(Month(start, n, len(mine), every, litres_each, litres, eto, rain))
    return tuple(out)
