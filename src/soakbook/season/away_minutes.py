"""How long a planned setting runs each line, gone over with what is held of each place.

The plan of a timer knows a place by what it holds on average on the first morning. Here every member of the belief, wet or dry, lives through the days
away, so the minutes can be told finer; days and starts stay as planned.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soakbook.garden.timer import KeptTimer, Programme
from soakbook.season.away_days import NO_MATTER, litre_price
from soakbook.season.away_run import Leaving, live

if TYPE_CHECKING:
    from soakbook.delivery.timer_place import TimerPlace

FloatArray = NDArray[np.float64]

#: A line's minutes are tried at these parts of what they are, for as long as one of them is better.
PARTS = (0.8, 0.9, 1.1, 1.25, 1.5)
#: Times a line is gone over at most.
MOST_TIMES = 4


def brought(
    setting: Sequence[Programme], one: TimerPlace, days: int, shares: Mapping[str, FloatArray] | None = None
) -> tuple[FloatArray, float]:
    """What a setting brings into the soil of a place by day, (days,), and what of it runs off in all because a run pours more than the soil takes;
    ``shares`` as :func:`soakbook.delivery.timer_place.put_by` has them. [L]"""
    from soakbook.delivery.timer_place import put_by

    put_mm, off_mm = put_by(setting, one, shares)
    per_mm = one.litres_per_minute / one.depth_per_minute_mm
    by_day = put_mm.reshape(len(one.days.days), -1).sum(axis=1)[:days]
    return np.asarray(by_day * per_mm), float(off_mm[:days].sum() * per_mm)


def timed(place: Leaving, litres: FloatArray) -> Leaving:
    """The place with a timer that brings so much by day. [L]"""
    return replace(
        place, timer_mm=np.array([place.days.depth_mm(float(put), place.first + k) for k, put in enumerate(litres)])
    )


def gone_over(
    places: Sequence[Leaving], on_lines: Sequence[TimerPlace], kept: KeptTimer, setting: tuple[Programme, ...], flows_lph: Mapping[str, float],
    first: date,
) -> tuple[Programme, ...]:  # fmt: skip
    """The setting with each line's minutes such that its places lose least by living through, water at the advice's price; never out of the rules."""
    from soakbook.delivery.timer_model import problems

    held = {place.place.name: place for place in places}
    for line in dict.fromkeys(line for programme in setting for line, _ in programme.minutes):
        mine = [(held[one.name], one) for one in on_lines if one.line == line]
        cost = _cost(setting, mine)
        for _ in range(MOST_TIMES):
            tried = [(c, s) for s in _others(setting, line, kept) if (c := _cost(s, mine)) < cost - NO_MATTER]
            allowed = (
                (c, s) for c, s in sorted(tried, key=lambda one: one[0])
                if not problems(s, kept.timer, kept.rules, flows_lph, first, places[0].count)
            )  # fmt: skip
            better = next(allowed, None)
            if better is None:
                break
            cost, setting = better
    return setting


def _others(setting: tuple[Programme, ...], line: str, kept: KeptTimer) -> list[tuple[Programme, ...]]:
    """The setting with the line run for other times."""
    step, longest = kept.timer.step_minutes, kept.timer.longest_minutes
    found = []
    for part in PARTS:
        other = tuple(
            replace(p, minutes=tuple((name, _steps(part * m, step, longest) if name == line else m) for name, m in p.minutes))
            for p in setting
        )  # fmt: skip
        if other != setting and other not in found:
            found.append(other)
    return found


def _steps(minutes: float, step: int, longest: int) -> int:
    return min(max(round(minutes / step), 1) * step, longest // step * step)


def _cost(setting: Sequence[Programme], mine: Sequence[tuple[Leaving, TimerPlace]]) -> float:
    """Harvest lost in a line's places, and its water. [hundredths, summed over them]"""
    parts = []
    for place, one in mine:
        litres, off = brought(setting, one, place.count)
        parts += [live(timed(place, litres)).mean, litre_price(place) * (float(litres.sum()) + off)]
    return math.fsum(parts)
