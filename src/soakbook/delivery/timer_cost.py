"""What each line costs under each pattern and run time: the table a plan chooses from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soakbook.delivery.timer_model import Timer
from soakbook.delivery.timer_need import FloatArray, Need, costs_of
from soakbook.delivery.timer_pattern import Pattern


@dataclass(frozen=True)
class Best:
    """By line (L,) and pattern (J,): the best run time in steps of the timer (L, J), its cost (L, J), and the cost of no water (L,)."""

    lines: tuple[str, ...]
    steps: NDArray[np.int64]
    cost: FloatArray
    dry: FloatArray


def line_costs(by_line: Mapping[str, Sequence[Need]], patterns: Sequence[Pattern], minutes: FloatArray) -> FloatArray:
    """Costs of all places on each line, (L, J, N), for run times ``minutes`` (L, J, N) at every start of each pattern."""
    needs = [need for mine in by_line.values() for need in mine]
    lines = [i for i, mine in enumerate(by_line.values()) for _ in mine]
    goes = np.array([p.goes for p in patterns]).T[:, None, :, None]  # (T, 1, J, 1)
    poured = minutes[lines] * np.array([need.per_minute_mm for need in needs])[:, None, None]
    enters = np.minimum(poured, np.array([need.takes_mm for need in needs])[:, None, None])
    shape = (len(needs), -1)
    cost = costs_of(needs, (goes * enters).reshape(len(goes), *shape), (goes.sum(axis=0) * poured).reshape(shape))
    total = np.zeros((len(by_line), cost.shape[1]))
    np.add.at(total, lines, cost)
    return total.reshape(minutes.shape)


def best_of(
    by_line: Mapping[str, Sequence[Need]], patterns: Sequence[Pattern], timer: Timer, price: FloatArray | float = 0.0
) -> Best:
    """The best run time of every line under every pattern (of equals the shortest): costs are convex in it, so halving finds it.

    ``price`` (L, J): what a step of run time costs besides, where hours or water are short.
    """
    step, shape = float(timer.step_minutes), (len(by_line), len(patterns))
    low = np.zeros(shape, dtype=np.int64)
    most = [min(timer.longest_minutes // timer.step_minutes, _enough(needs, step)) for needs in by_line.values()]
    high = np.broadcast_to(np.array(most)[:, None], shape).copy()
    while bool(np.any(low < high)):
        middle = (low + high) // 2
        both: FloatArray = step * np.stack([middle, middle + 1], axis=2).astype(float)
        cost = line_costs(by_line, patterns, both)
        falls = cost[..., 1] + price < cost[..., 0]
        low, high = np.where(falls, np.minimum(middle + 1, high), low), np.where(falls, high, middle)
    cost = line_costs(by_line, patterns, step * low[..., None].astype(float))[..., 0] + price * low
    dry = line_costs(by_line, patterns[:1], np.zeros((len(by_line), 1, 1)))[:, 0, 0]
    return Best(tuple(by_line), low, cost, dry)


def _enough(needs: Sequence[Need], step: float) -> int:
    """Steps beyond which every place is full after one run whatever went before: more is only wasted."""
    full = max(
        min(need.missing_mm + float(need.use_mm.sum(axis=1).max()), need.takes_mm) / need.per_minute_mm
        for need in needs
    )
    return int(np.ceil(full / step)) + 1
