"""Readings of volumetric sensors weighed together: the error that lasts at their spot is followed for each member and integrated out.

A sensor stays where it is, and is exact from one reading to the next. What it takes the soil at its own spot to be is its offset,
a number of the member; what the balance gets wrong there for weeks is :mod:`soakbook.learning.lasting`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.place import PlaceDays
from soakbook.learning import observe
from soakbook.learning.lasting import Followed, follow
from soakbook.learning.reading import layer_at, sensor_offset_sd, store_in

if TYPE_CHECKING:
    from soakbook.learning.filter import Group

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Sensors:
    """All readings of sensors by time: their places ``at`` among all readings, (R,), water between wilting point and field capacity
    where each was taken, (R, 1) [m³/m³], and the lasting error followed through them."""

    at: NDArray[np.int64]
    store: FloatArray
    followed: Followed


def follow_sensors(days: PlaceDays, numbers: FloatArray, groups: Sequence[Group], held: FloatArray) -> Sensors:
    """Follow the lasting error through the readings of sensors.

    Parameters
    ----------
    days
        The place with its members.
    numbers
        The members' numbers, (M, K).
    groups
        Readings of sensors, one group for each instrument and depth.
    held
        What members hold at each of all readings, (all readings, M). [m³/m³]
    """
    at = np.sort(np.concatenate([g.at for g in groups]))
    when, store, missed = np.empty(len(at)), np.empty((len(at), 1)), np.empty((len(at), len(numbers)))
    for group in groups:
        rows = np.searchsorted(at, group.at)
        when[rows] = [r.at.timestamp() / 86_400.0 for r, _ in group.sights]
        store[rows] = store_in(days, layer_at(days, group.sights[0][0].depth_m))
        missed[rows] = group.values - held[group.at] - sensor_offset_sd(days) * numbers[:, group.stays[0]]
    slip = observe.SLIP / (1.0 - observe.SLIP) * store[:, 0]
    return Sensors(at, store, follow(when, missed / store, observe.SENSOR_SD / store[:, 0], slip))


def weigh_sensors(
    days: PlaceDays, numbers: FloatArray, groups: Sequence[Group], seen: FloatArray, each: FloatArray
) -> None:
    """Fill in ``each``, the logarithm of how likely each reading is given those before it, and add to ``seen``, what members hold, the
    error expected there: both (all readings, M), changed in the rows of sensors."""
    found = follow_sensors(days, numbers, groups, seen)
    seen[found.at] += found.store * found.followed.mean
    sd = found.store * found.followed.sd
    for group in groups:
        rows = np.searchsorted(found.at, group.at)
        offset = numbers[:, group.stays[0]]
        each[group.at] = observe.sensor(group.values, seen[group.at], offset, sensor_offset_sd(days), sd[rows])
