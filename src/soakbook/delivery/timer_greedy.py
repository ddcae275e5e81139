"""A good setting at once: pattern by pattern the one that helps most."""

from __future__ import annotations

import numpy as np

from soakbook.delivery.timer_cost import Best, best_of
from soakbook.delivery.timer_need import FloatArray
from soakbook.delivery.timer_tables import CLOSE, Choice, Tables

#: Prices of run time tried where it is short.
PRICES_TRIED = 10


def greedy_choice(tables: Tables) -> Choice:
    """Pattern by pattern the one that helps most. Where hours or tank are too short for that, run time is given a price, the least one at
    which all fits; or all run times are cut alike, whichever costs less."""
    free = _greedy(tables, tables.best)
    if tables.fits(free):
        return free
    found = [_cut_to_fit(tables, free)]
    low, high = 0.0, float(tables.best.dry.sum())
    for _ in range(PRICES_TRIED):
        price = 0.5 * (low + high) * _share_per_step(tables)
        best = best_of(tables.by_line, tables.patterns, tables.asked.timer, price)
        chosen = _greedy(tables, best)
        if tables.fits(chosen):
            found.append(chosen)
            high = 0.5 * (low + high)
        else:
            low = 0.5 * (low + high)
    return min(found, key=tables.cost)


def _share_per_step(tables: Tables) -> FloatArray:
    """What part of all hours and, with a tank, of all its water a step of run time takes, (L, J)."""
    asked, step = tables.asked, tables.asked.timer.step_minutes
    hours = sum(b - a for a, b in asked.span.windows)
    of_hours = np.array([p.count for p in tables.patterns]) * step / hours
    shares = np.broadcast_to(of_hours, tables.best.cost.shape)
    if asked.rules.tank_l is None:
        return shares
    litres = np.array([asked.flows_lph[line] * step / 60.0 for line in tables.by_line])
    goes = np.array([p.goes.sum() for p in tables.patterns])
    return np.asarray(shares + np.outer(litres, goes) / max(tables.tank_l(), 1.0))


def _greedy(tables: Tables, best: Best) -> Choice:
    cost = np.minimum(best.cost, best.dry[:, None])
    now, used = best.dry.copy(), []
    for _ in range(tables.asked.timer.programmes):
        with_each = np.minimum(now[:, None], cost).sum(axis=0)
        j = int(np.argmin(with_each))
        if with_each[j] >= now.sum() - CLOSE:
            break
        used.append(j)
        now = np.minimum(now, cost[:, j])
    made: list[tuple[int, int] | None] = []
    for i in range(len(best.dry)):
        j = min(used, key=lambda k: float(best.cost[i, k]), default=-1)
        helps = j >= 0 and best.steps[i, j] > 0 and best.cost[i, j] < best.dry[i]
        made.append((j, int(best.steps[i, j])) if helps else None)
    return tuple(made)


def _cut_to_fit(tables: Tables, chosen: Choice) -> Choice:
    share, cut = 1.0, chosen
    while not tables.fits(cut) and any(cut):  # with nothing left to cut no shorter run time helps
        share *= 0.92
        cut = tuple(
            (one[0], int(one[1] * share)) if one is not None and int(one[1] * share) > 0 else None for one in chosen
        )
    return cut
