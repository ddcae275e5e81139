"""The simple store under many schedules at once, compiled: all that it needs stands in this file, so that its cache is stale only when it
changes. The equations are those of :func:`soakbook.delivery.timer_need.costs_of`."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numpy as np
from numba import njit

from soakbook.machine_code import use_cache

use_cache()

F = TypeVar("F", bound=Callable[..., Any])


def _compiled(function: F) -> F:
    return cast(F, njit(nogil=True, cache=True, error_model="numpy")(function))


@_compiled
def lost_and_missing(
    use: Any, rain: Any, easy: Any, start: Any, goes: Any, enters: Any, lost: Any, missing: Any
) -> None:
    """Growth lost and depth missing in the end, means over the pictures, (N, K); schedules are looked at side by side.

    Parameters
    ----------
    use, rain
        By place, picture and step, (N, S, T). [mm]
    easy, start
        Depth drawn on at ease and missing at first, (N,). [mm]
    goes
        Starts of each schedule in each step, (T, K).
    enters
        What goes in at each start, (N, K). [mm]
    lost, missing
        Taken up here. [mm², mm]
    """
    places, pictures, steps = use.shape
    schedules = goes.shape[1]
    depth, gone = np.empty(schedules), np.empty(schedules)
    for n in range(places):
        gone[:] = 0.0
        missing[n] = 0.0
        for s in range(pictures):
            depth[:] = start[n]
            for t in range(steps):
                u = use[n, s, t]
                net, at_ease = u - rain[n, s, t], 0.5 * u - easy[n]
                for k in range(schedules):
                    d = depth[k] - goes[t, k] * enters[n, k]
                    d = d if d > 0.0 else 0.0
                    dry = d + at_ease
                    gone[k] += u * (dry if dry > 0.0 else 0.0)
                    d += net
                    depth[k] = d if d > 0.0 else 0.0
            for k in range(schedules):
                missing[n, k] += depth[k]
        for k in range(schedules):
            lost[n, k] = gone[k] / pictures
            missing[n, k] /= pictures
