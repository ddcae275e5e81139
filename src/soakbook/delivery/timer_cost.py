"""What each line costs under each pattern and run time: the table a plan chooses from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soakbook.delivery.timer_model import Days, Timer
from soakbook.delivery.timer_need import OWED_PRICE, WASTE_PRICE, FloatArray, Need
from soakbook.delivery.timer_pattern import Pattern


@dataclass(frozen=True)
class Best:
    """By line (L,) and pattern (J,): the best run time in steps of the timer (L, J), its cost (L, J), and the cost of no water (L,)."""

    lines: tuple[str, ...]
    steps: NDArray[np.int64]
    cost: FloatArray
    dry: FloatArray


def line_costs(by_line: Mapping[str, Sequence[Need]], patterns: Sequence[Pattern], minutes: FloatArray) -> FloatArray:
    """Costs of all places on each line, (L, J, N), for run times ``minutes`` (L, J, N) at every start of each pattern.

    The same as :func:`soakbook.delivery.timer_need.costs_of`, by a compiled loop.
    """
    from soakbook.delivery._timer_kernel import lost_and_missing

    needs = [need for mine in by_line.values() for need in mine]
    lines = [i for i, mine in enumerate(by_line.values()) for _ in mine]
    goes = np.repeat(np.array([p.goes for p in patterns]).T, minutes.shape[2], axis=1)  # (T, J N)
    poured = (minutes[lines] * np.array([need.per_minute_mm for need in needs])[:, None, None]).reshape(len(needs), -1)
    enters = np.minimum(poured, np.array([need.takes_mm for need in needs])[:, None])
    use, rain = np.array([need.use_mm for need in needs]), np.array([need.rain_mm for need in needs])
    easy, start, store, price, scale = np.array(
        [(n.easy_mm, n.missing_mm, n.store_mm, WASTE_PRICE * n.waste_times, n.scale) for n in needs]
    ).T.copy()
    lost, missing = np.empty_like(poured), np.empty_like(poured)
    lost_and_missing(use, rain, easy, start, goes, enters, lost, missing)
    bare = np.array([need.bare_mm for need in needs])
    wasted = goes.sum(axis=0) * poured - bare[:, None]
    cost = lost / (store - easy)[:, None] + (price + OWED_PRICE)[:, None] * missing + price[:, None] * wasted
    cost *= scale[:, None]
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


def warm_up() -> None:
    """Cost one place under one pattern, so that the loop is compiled and its cache written."""
    one = np.ones((1, 1))
    need = Need("", "", one, one, store_mm=2.0, easy_mm=1.0, missing_mm=0.0, per_minute_mm=1.0, litres_per_minute=1.0)
    line_costs({"": [need]}, [Pattern(Days(), (1,), np.ones(1))], np.ones((1, 1, 1)))
