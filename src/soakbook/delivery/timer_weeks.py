"""On which weeks of a season to set a timer anew: the need of every line week by week, and the weeks at which it is cut.

Between two changes a line gets the same each week. So what a stretch of weeks costs is found from needs alone: what a week's need is
short of that is growth lost, what it is beyond is wasted. The cheapest cut into so many stretches is then found exactly.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from soakbook.delivery.timer_need import WASTE_PRICE, FloatArray
from soakbook.delivery.timer_place import TimerPlace, kept_full

#: Days of a week, and weeks that a setting is left at least. Judged: nobody likes to set a timer every week.
WEEK, LEAST_WEEKS = 7, 2
#: Amounts that are tried for a line: so many steps through the needs of its weeks.
AMOUNTS = 40


def weekly_need_minutes(one: TimerPlace, days: int) -> FloatArray:
    """Minutes of its line that a place needs each week, (weeks, M): what it uses kept moist less the rain it catches, on days on which
    something grows that has not passed its season. A last part of a week counts as the week it would be."""
    n, columns = one.days.steps_a_day, one.days.laid.columns
    rain = one.forcing.rain_mm[0, : days * n].reshape(days, n, -1).sum(axis=1) * columns.catch[0]
    need = np.where(one.grows[:days, None], kept_full(one, days) - rain, 0.0)
    begins = np.arange(0, days, WEEK)
    lengths = np.diff(np.append(begins, days))
    weekly = np.add.reduceat(need, begins, axis=0) * (WEEK / lengths)[:, None]
    return np.maximum(weekly, 0.0) / (one.depth_per_minute_mm * float(columns.delivery[0].mean()))


def stretch_costs(lines: Sequence[str], needs_minutes: Sequence[FloatArray]) -> FloatArray:
    """What stretches of weeks cost with one amount a week for each line, (W + 1, W + 1): from week i up to week j, infinite where too short.

    Parameters
    ----------
    lines
        The line of each place.
    needs_minutes
        Minutes that each place needs by week and member, (W, M).

    Returns
    -------
    FloatArray
        In hundredths of each place's need over all weeks, summed over the places: short 1 for each, too much :data:`WASTE_PRICE`.
    """
    weeks = len(needs_minutes[0])
    total = np.zeros((weeks + 1, weeks + 1))
    for line in dict.fromkeys(lines):
        mine = [need for name, need in zip(lines, needs_minutes, strict=True) if name == line]
        amounts = np.quantile(np.concatenate([need.ravel() for need in mine]), np.linspace(0.0, 1.0, AMOUNTS))
        cost = np.zeros((weeks, AMOUNTS))
        for need in mine:
            over = amounts[None, None] - need[:, :, None]
            price = np.where(over > 0.0, WASTE_PRICE * over, -over).mean(axis=1)
            cost += 100.0 * price / max(float(need.sum(axis=0).mean()), 1e-9)
        upto = np.concatenate([np.zeros((1, AMOUNTS)), np.cumsum(cost, axis=0)])
        total += (upto[None] - upto[:, None]).min(axis=2)
    length = np.arange(weeks + 1)[None] - np.arange(weeks + 1)[:, None]
    return np.where(length >= min(LEAST_WEEKS, weeks), total, np.inf)


def cut_at(costs: FloatArray, most: int) -> tuple[int, ...]:
    """Weeks at which stretches begin, 0 the first of them: the cheapest cut into at most so many (by the recursion of Bellman).

    Parameters
    ----------
    costs
        Of a stretch from week i up to week j, (W + 1, W + 1).
    most
        Stretches at most; fewer where more would not be cheaper or do not fit.
    """
    weeks = len(costs) - 1
    least = np.full((most + 1, weeks + 1), np.inf)
    least[0, 0] = 0.0
    came = np.zeros((most + 1, weeks + 1), dtype=int)
    for k in range(1, most + 1):
        through = least[k - 1][:, None] + np.where(np.isfinite(costs), costs, np.inf)
        came[k], least[k] = through.argmin(axis=0), through.min(axis=0)
    k = int(np.argmin(least[1:, weeks])) + 1
    begins, at = [], weeks
    while k:
        at = int(came[k, at])
        begins.append(at)
        k -= 1
    return tuple(reversed(begins))
