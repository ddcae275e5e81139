"""The days ahead of a place as a fan: between what it will lie if nothing is put on, and if it is soaked today."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from soakbook.advice.belief import Belief
    from soakbook.weather.members import WeatherMembers

FloatArray = NDArray[np.float64]
#: Ends of the wide band, of the narrow one, and the middle, as shares of what may come.
WIDE, NARROW, MIDDLE = (0.1, 0.9), (0.25, 0.75), 0.5


@dataclass(frozen=True)
class Fan:
    """The used fraction this morning and at the end of each day from today on, each (1 + days,): ``wide`` and ``narrow`` are
    low and high, ``middle`` the middle line; ``soaked`` the middle line with today's soak, None without one."""

    wide: tuple[FloatArray, FloatArray]
    narrow: tuple[FloatArray, FloatArray]
    middle: FloatArray
    soaked: FloatArray | None


def fan_of(belief: Belief, ahead: WeatherMembers, days: int, given_mm: float, soak_mm: float = 0.0) -> Fan:
    """The fan of a place.

    Parameters
    ----------
    belief
        The place's members this morning.
    ahead
        Weather that may come, from today on.
    days
        Days wanted; fewer where belief or weather end before.
    given_mm, soak_mm
        What was put on today already, over the wetted part, and what a soak would add (0: none is asked for). [mm]
    """
    from soakbook.learning.bands import fan

    today = belief.today
    now = belief.days.used_fraction(belief.now.water_mm[0], today)
    put = [(today, given_mm)] if given_mm > 0.0 else []
    without = _from(now, fan(belief.days, belief.now, ahead, put)[:days])
    soaked = None
    if soak_mm > 0.0:
        soaked = np.median(
            _from(now, fan(belief.days, belief.now, ahead, [(today, given_mm + soak_mm)])[:days]), axis=1
        )
    low, low_mid, middle, high_mid, high = np.quantile(
        without, (WIDE[0], NARROW[0], MIDDLE, NARROW[1], WIDE[1]), axis=1
    )  # fmt: skip
    return Fan((low, high), (low_mid, high_mid), middle, soaked)


def _from(now: FloatArray, days: FloatArray) -> FloatArray:
    """This morning before the days, (1 + days, M)."""
    return np.concatenate([now[None], days])
