"""What no parameter of a place explains: single days on which demand or rain at the spot are off, by member and date.

Each member follows one of :data:`PATHS` paths of day-to-day errors. A path is fixed by its number and the date alone: not by where a
run begins, nor by what was asked before. So a day in the past is off in the same way however often it is run, and readings can
tell paths apart. Path 0 is never off.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Paths there are; more members than that share them.
PATHS = 1024
#: Error of a day's demand (standard deviation of its logarithm), and how much of it is left the next day. Judged: cloud, wind and
#: damp at the spot against the source's, and a crop coefficient that follows no day's weather.
DEMAND_SD, DEMAND_LAG = 0.17, 0.6
#: What lasts for weeks: a crop larger or smaller than the book has it at that age, soil that gives off more or less. Judged.
SLOW_SD, SLOW_LAG = 0.20, 0.97
#: Error of one day's rain at the spot beside that which stays. Judged: showers a few kilometres apart.
RAIN_SD = 0.25
#: What a pot holds on the first day that is told of it, of what it can: mix comes moist from the bag and is watered in by hand. Judged. What is
#: put beneath that counts for long where a pot is weighed, for its weight is told by what it is thought to hold.
LEAST_BEGUN = 0.5
#: Steps round the unit circle that fill it evenly, however many are taken: the golden section.
_EVENLY = 0.5 * (5.0**0.5 - 1.0)
#: Days of the year before over which the past of an error counts: what is left of it beyond is below 1 %.
MEMORY = 150
_SALT = 20_931


def demand_factor(days: NDArray[np.datetime64], paths: IntArray) -> FloatArray:
    """By how much each day's demand is off in each member: log-normal, mean 1. (T, M)"""
    return _factors(days, paths, 0)


def rain_factor(days: NDArray[np.datetime64], paths: IntArray) -> FloatArray:
    """By how much each day's rain is off in each member: log-normal, mean 1, each day for itself. (T, M)"""
    return _factors(days, paths, 1)


def begun(paths: IntArray) -> FloatArray:
    """What a pot held on its first day on each path, of what it can: evenly from :data:`LEAST_BEGUN` to full; on path 0 halfway. (M,)"""
    even = np.where(paths == 0, 0.5, paths * _EVENLY % 1.0)
    return np.asarray(LEAST_BEGUN + (1.0 - LEAST_BEGUN) * even)


def draw_paths(count: int, rng: np.random.Generator) -> IntArray:
    """Paths of members: none for the first, the best guess; the others differ as long as there are enough."""
    few = [rng.permutation(PATHS - 1) + 1 for _ in range(-(-count // (PATHS - 1)))]
    return np.concatenate([[0], *few])[:count].astype(np.int64)


def _factors(days: NDArray[np.datetime64], paths: IntArray, what: int) -> FloatArray:
    years = days.astype("datetime64[Y]")
    at = (days.astype("datetime64[D]") - years.astype("datetime64[D]")).astype(int)
    out = np.empty((len(days), len(paths)))
    for year in np.unique(years):
        here = years == year
        out[here] = np.take(np.take(_year(int(year.astype(int)) + 1970, what), at[here], axis=0), paths, axis=1)
    return out


@lru_cache(maxsize=12)
def _year(year: int, what: int) -> FloatArray:
    """Factors of a year's days by path, (366, PATHS); 1 for path 0."""
    if what == 1:
        made = np.exp(RAIN_SD * _chance(year, what) - 0.5 * RAIN_SD**2)
    else:
        off = DEMAND_SD * _lasting(year, what, DEMAND_LAG) + SLOW_SD * _lasting(year, 2, SLOW_LAG)
        made = np.exp(off - 0.5 * (DEMAND_SD**2 + SLOW_SD**2))
    made[:, 0] = 1.0
    return made


def _lasting(year: int, what: int, lag: float) -> FloatArray:
    """Standard normal numbers by day and path of which a part ``lag`` is left the next day, whatever the day one looks at first."""
    begun, before = (np.datetime64(y, "Y").astype("datetime64[D]") for y in (year - 1970, year - 1971))
    length = int((begun - before).astype(int))
    drawn = np.concatenate([_chance(year - 1, what)[length - MEMORY : length], _chance(year, what)])
    left = drawn[0]
    out = np.empty((366, PATHS))
    for day, fresh in enumerate(drawn[1:], 1):
        left = lag * left + np.sqrt(1.0 - lag**2) * fresh
        if day >= MEMORY:
            out[day - MEMORY] = left
    return out


def _chance(year: int, what: int) -> FloatArray:
    """Standard normal numbers of a year's days by path."""
    return np.random.default_rng([_SALT, what, year]).standard_normal((366, PATHS))
