"""A place reduced to what a decision needs, and candidate acts rolled forward over it.

The full balance has seven layers, two footprints and, for pots, hours. For comparing acts over two weeks a place is lumped to
three layers under its watered part and one beneath the rest; pots run in two steps a day, the morning up to
:data:`soakbook.balance.rollout_days.PARTING_HOUR` and the rest, beds in one. What does not depend on the act (rain that goes in,
what the dry remainder loses to the air) is taken from one run of the full balance without water. How far the two differ is in
``tests/unit/advice/test_rollout.py``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soakbook.balance import rollout_names as names
from soakbook.balance.columns import State
from soakbook.balance.compiled import roll as kernel
from soakbook.balance.compiled import vector_lanes
from soakbook.balance.place import PlaceDays
from soakbook.balance.rollout_days import Ahead, day_table, sky_of, with_rain_by_night
from soakbook.balance.rollout_place import LEAST_MM, fixed, groups_of, lanes, layers, start_held, start_water

__all__ = ["HORIZON", "LEAST_MM", "Ahead", "Reduced", "reduce", "roll", "warm_up", "with_rain_by_night"]

FloatArray = NDArray[np.float64]

#: Days looked ahead.
HORIZON = 16
#: Stands for the mean over the members of what is missing.
_THEIR_MEAN = np.empty(0)


@dataclass(frozen=True)
class Reduced:
    """A place and its members as :func:`soakbook.balance.rollout_kernel.roll` takes them.

    ``groups`` are the layers of the full column lumped together. The arrays' axes are those of :mod:`soakbook.balance.rollout_names`.
    """

    feet: int
    steps_a_day: int
    groups: tuple[tuple[int, ...], ...]
    fix: FloatArray
    lane: FloatArray
    layer: FloatArray
    sky: FloatArray
    day: FloatArray
    water: FloatArray
    held: FloatArray

    @property
    def members(self) -> int:
        """What-ifs of the place."""
        return int(self.water.shape[1])

    @property
    def days(self) -> int:
        """Days looked ahead."""
        return len(self.day) // self.steps_a_day

    def missing_mm(self) -> FloatArray:
        """What the watered part lacks at the start within the rooting depth, per member. (M,) [mm]"""
        reach = self.day[0, names.REACH_0 : names.REACH_2 + 1]
        short = np.maximum(self.layer[names.FULL] - self.water, 0.0)
        return np.asarray(reach @ short)

    def store_mm(self) -> FloatArray:
        """Available water of the rooting depth at the start when full, per member. (M,) [mm]"""
        return np.asarray(self.sky[names.STORE, 0])


def reduce(days: PlaceDays, today: int, now: State, ahead: Ahead, *, horizon: int = HORIZON) -> Reduced:
    """Lump a place for rolling acts forward.

    Parameters
    ----------
    days
        The place with its members, laid out to at least ``today`` plus ``horizon`` days.
    today
        Index of the day of the act.
    now
        What each member holds this morning.
    ahead
        Weather from today on, with as many members.
    horizon
        Days looked ahead; fewer where the place or the weather ends before.
    """
    n = days.steps_a_day
    horizon = min(horizon, len(days.days) - today, len(ahead.eto_mm) // n)
    last = today + horizon
    groups = groups_of(days, today, last)
    sub = 1 if n == 1 else 2
    weather = sky_of(days, today, last, now, ahead, groups, sub)
    return Reduced(
        feet=days.laid.columns.footprints,
        steps_a_day=sub,
        groups=groups,
        fix=fixed(days, today, groups, sub),
        lane=lanes(days, groups),
        layer=layers(days, groups, 24.0 / sub),
        sky=weather,
        day=day_table(days, today, last, groups, sub, weather[names.ETO]),
        water=start_water(days, now, groups),
        held=start_held(days, today, now, groups),
    )


def roll(
    reduced: Reduced,
    first_mm: FloatArray,
    patience: FloatArray,
    fill: FloatArray,
    *,
    seen_mm: FloatArray | float | None = None,
) -> FloatArray:
    """Candidates rolled forward: sums by candidate, kind (:data:`soakbook.balance.rollout_names.SUMS`) and member, (C, ·, M).

    Parameters
    ----------
    reduced
        The place.
    first_mm, patience, fill
        (C,) what is put on today over the watered part [mm], the multiple of its limit at which the rule waters afterwards, and
        the share of what is missing that it fills.
    seen_mm
        What the place is thought to lack at the start, one number or per member; the mean over the members when not given. [mm]
    """
    seen = _THEIR_MEAN if seen_mm is None else np.full(reduced.members, seen_mm)
    sums = np.empty((len(first_mm), len(names.SUMS), reduced.members))
    kernel()(
        vector_lanes(), first_mm, patience, fill, reduced.feet, reduced.fix, reduced.lane, reduced.layer, reduced.sky, reduced.day,
        reduced.water, reduced.held, seen, sums,
    )  # fmt: skip
    return sums


def warm_up() -> None:
    """Roll one tiny column, so that the kernel is compiled and its cache written."""
    one = np.ones(1)
    fix = np.ones(len(names.FIX))
    lane, held = np.ones((len(names.LANE), 1)), np.zeros((len(names.HELD), 1))
    layer, water = np.ones((len(names.LAYER), names.LUMPS, 1)), np.ones((names.LUMPS, 1))
    sky, day = np.ones((len(names.SKY), 1, 1)), np.full((1, len(names.DAY)), 0.5)
    sums = np.empty((1, len(names.SUMS), 1))
    kernel()(vector_lanes(), one, one, one, 1, fix, lane, layer, sky, day, water, held, one, sums)
