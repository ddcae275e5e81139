"""Water in a column of soil: the Richards equation, solved for many columns: what numba compiles.

Mixed form (M. A. Celia, E. T. Bouloutas and R. L. Zarba, Water Resour. Res. 26:1483-1496, 1990), so that what a step says went in
and out is what the column holds: cell-centred volumes, backward Euler, Newton with the water content as unknown where the soil is
dry and the head where it is wet (P. A. Forsyth, Y. S. Wu and K. Pruess, Adv. Water Resour. 18:25-38, 1995), steps sized
by the change of the rate from one to the next (D. Kavetski, P. Binning and S. W. Sloan, Adv. Water Resour. 24:595-605,
2001). Roots take up water as in R. A. Feddes, P. J. Kowalik and H. Zaradny, Simulation of Field Water Use and Crop Yield, 1978.

Depth counts downwards, flow downwards is positive; cm and hours. Soils come as the tables of
:mod:`soakbook.season.truth.curves`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from soakbook.season.truth.curves import (
    ALPHA,
    DRIEST_CM,
    EXPONENTIAL,
    SPECIFIC_STORAGE,
    THETA_R,
    THETA_S,
    U_STEP,
    X0_CM,
    N,
)
from soakbook.season.truth.kinds import (
    AFTER,
    AIR_HOURS,
    BEFORE,
    CLOSED,
    DRAINAGE,
    EVAPORATION,
    FAILED,
    FREE,
    INFLOW,
    ITERATIONS,
    RUNOFF,
    SEEPAGE,
    STEPS,
    TRANSPIRATION,
    WET_HOURS,
)

#: What the compiler may do with sums; not-a-number stays what it is.
_FAST = {"contract", "arcp", "nsz", "reassoc"}

#: A step is solved when no cell's balance is off by more than this [cm].
_SOLVED_CM = 5e-11
_MOST_ITERATIONS = 14
_SHORTEST_H = 1e-9
#: Steps are not cut below this for accuracy alone, only where the solution does not come [h].
_FINE_ENOUGH_H = 2e-4
_WET, _JUST_WET, _JUST_DRY = 0.95, 0.97, 0.90


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _look(table: Any, head: float) -> tuple[float, float, float, float]:
    """Water content, its slope with head, flux potential, conductivity."""
    if head >= 0.0:
        ks = -table[0, 3] / (U_STEP * X0_CM)
        return table[0, 0] + SPECIFIC_STORAGE * head, SPECIFIC_STORAGE, table[0, 2] + ks * head, ks
    x = min(-head, 0.999 * DRIEST_CM)
    s = np.log1p(x / X0_CM) / U_STEP
    i = int(s)
    f = s - i
    g = 1.0 - f
    per_head = -1.0 / ((X0_CM + x) * U_STEP)
    a, b, c, d = (1.0 + 2.0 * f) * g * g, f * g * g, f * f * (3.0 - 2.0 * f), -f * f * g
    da, db, dd = -6.0 * f * g, g * (1.0 - 3.0 * f), f * (3.0 * f - 2.0)
    theta = a * table[i, 0] + b * table[i, 1] + c * table[i + 1, 0] + d * table[i + 1, 1]
    slope = da * (table[i, 0] - table[i + 1, 0]) + db * table[i, 1] + dd * table[i + 1, 1]
    phi = a * table[i, 2] + b * table[i, 3] + c * table[i + 1, 2] + d * table[i + 1, 3]
    k = da * (table[i, 2] - table[i + 1, 2]) + db * table[i, 3] + dd * table[i + 1, 3]
    return theta, slope * per_head, phi, k * per_head


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _between(phi_a: float, k_a: float, a: float, phi_b: float, k_b: float, b: float) -> tuple[float, float, float]:
    """Mean conductivity between two heads of one soil, and its slopes with either."""
    gap = a - b
    if abs(gap) > 1e-4 * (1.0 + abs(a)):
        k = (phi_a - phi_b) / gap
        return k, (k_a - k) / gap, (k - k_b) / gap
    tilt = 0.5 * (k_a - k_b) / gap if gap != 0.0 else 0.0
    return 0.5 * (k_a + k_b), tilt, tilt


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _suction(row: Any, s: float) -> float:
    """The suction at an effective saturation between 0 and 1."""
    if row[EXPONENTIAL] > 0.0:
        return float(-np.log(s) / row[ALPHA])
    return float((s ** (-1.0 / (1.0 - 1.0 / row[N])) - 1.0) ** (1.0 / row[N]) / row[ALPHA])


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _moved(row: Any, theta: float, slope: float, head: float, change: float) -> float:
    """The head after a Newton step: by water content where the soil is dry, by head where it is wet, neither too far."""
    s = (theta - row[THETA_R]) / (row[THETA_S] - row[THETA_R])
    if head < 0.0 and s < _WET:
        ds = slope * change / (row[THETA_S] - row[THETA_R])
        if abs(ds) < 0.01 * s and abs(change) < 0.3 * (1.0 - head):
            return float(head + change)
        s = min(_JUST_WET, max(s + ds, 0.4 * s))
        return float(max(-_suction(row, s), -0.99 * DRIEST_CM))
    moved = min(head + change, 1e4)
    if moved < 0.0:
        moved = max(moved, -_suction(row, _JUST_DRY))
    return float(moved)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _surface(
    table: Any,
    phi: float,
    k: float,
    head: float,
    half: float,
    dt: float,
    pond: float,
    arriving: float,
    leaving: float,
    pond_most: float,
    driest: float,
    held: float,
) -> tuple[float, float, float, float, float]:
    """Flow into the soil at its surface and its slope with the head of the top cell; evaporation, pond, run-off rate.

    As much goes in as arrives (standing water counts) unless the soil takes less under the pond that leaves; as much
    evaporates as is asked for unless the soil brings up less to a surface at ``driest``.
    """
    if not np.isnan(held):
        phi_h, k_h = _look(table, held)[2:]
        kb, _, d_k = _between(phi_h, k_h, held, phi, k, head)
        pull = (held - head) / half + 1.0
        return kb * pull, d_k * pull - kb / half, 0.0, 0.0, 0.0
    net = pond / dt + arriving - leaving
    evaporation, d_net = leaving, 0.0
    if net < 0.0:
        phi_d, k_d = _look(table, driest)[2:]
        kb, d_k, _ = _between(phi, k, head, phi_d, k_d, driest)
        lift = max((head - driest) / half - 1.0, 0.0)
        if kb * lift < -net:
            evaporation = leaving + net + kb * lift
            net = -kb * lift
            d_net = -(d_k * lift + kb / half) if lift > 0.0 else 0.0
    phi_0, ks = _look(table, 0.0)[2:]
    kb, _, d_k = _between(phi_0, ks, 0.0, phi, k, head)
    most = kb * (1.0 - head / half)
    d_most = d_k * (1.0 - head / half) - kb / half
    give = ks / half  # what a cm of pond adds
    flow = (most + give * dt * net) / (1.0 + give * dt)
    if flow >= net:
        return net, d_net, evaporation, 0.0, 0.0
    left = dt * (net - flow)
    if left <= pond_most:
        return flow, (d_most + give * dt * d_net) / (1.0 + give * dt), evaporation, left, 0.0
    flow = most + give * pond_most
    return flow, d_most, evaporation, pond_most, net - flow - pond_most / dt


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _base(table: Any, kind: int, below: float, phi: float, k: float, head: float, half: float) -> tuple[float, float]:
    """Flow out at the bottom, and its slope with the head of the last cell."""
    if kind == CLOSED:
        return 0.0, 0.0
    if kind == FREE:
        step = 1e-4 * (1.0 + abs(head))
        return k, (_look(table, head + step)[3] - k) / step
    if kind == SEEPAGE:
        if head <= -half:
            return 0.0, 0.0
        below = 0.0
    phi_b, k_b = _look(table, below)[2:]
    kb, d_k, _ = _between(phi, k, head, phi_b, k_b, below)
    pull = (head - below) / half + 1.0
    return kb * pull, d_k * pull + kb / half


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def feddes(head: float, h1: float, h2: float, h3: float, h4: float) -> tuple[float, float]:
    """Share of the demand a root draws at a head, and its slope: none above ``h1``, all from ``h2`` down to ``h3``, none
    below ``h4``. Heads in cm, each lower than the one before."""
    if head >= h1 or head <= h4:
        return 0.0, 0.0
    if head > h2:
        return (h1 - head) / (h1 - h2), -1.0 / (h1 - h2)
    if head >= h3:
        return 1.0, 0.0
    return (head - h4) / (h3 - h4), 1.0 / (h3 - h4)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _residual(
    cells: int,
    dt: float,
    head: Any,
    held: Any,
    thick: Any,
    soil: Any,
    tables: Any,
    roots: Any,
    draws: Any,
    pond: float,
    arriving: float,
    leaving: float,
    demand: float,
    pond_most: float,
    driest: float,
    top: float,
    kind: int,
    below: float,
    w: Any,
) -> tuple[float, float, float, float, float, float]:
    """Fills the equations; the worst balance of a cell [cm], then flow in, evaporation, pond, run-off rate, uptake rate.

    Rows of ``w``: water content, slope, potential, conductivity, flow into the cell, its slopes with the head above and with the
    cell's own, residual.
    """
    for i in range(cells):
        w[0, i], w[1, i], w[2, i], w[3, i] = _look(tables[soil[i]], head[i])
    inflow, d_in, evaporation, pond_new, runoff = _surface(
        tables[soil[0]], w[2, 0], w[3, 0], head[0], 0.5 * thick[0], dt, pond, arriving, leaving, pond_most, driest, top
    )
    w[4, 0], w[5, 0], w[6, 0] = inflow, 0.0, d_in
    for i in range(1, cells):
        a, b = head[i - 1], head[i]
        apart = 0.5 * (thick[i - 1] + thick[i])
        k, d_a, d_b = _between(w[2, i - 1], w[3, i - 1], a, w[2, i], w[3, i], b)
        if soil[i] != soil[i - 1]:
            _, _, phi, kk = _look(tables[soil[i - 1]], b)
            ka, ka_a, ka_b = _between(w[2, i - 1], w[3, i - 1], a, phi, kk, b)
            _, _, phi, kk = _look(tables[soil[i]], a)
            kb, kb_a, kb_b = _between(phi, kk, a, w[2, i], w[3, i], b)
            share = 0.5 * thick[i - 1] / apart
            if ka > 1e-60 and kb > 1e-60:
                k = 1.0 / (share / ka + (1.0 - share) / kb)
                pa, pb = share * (k / ka) ** 2, (1.0 - share) * (k / kb) ** 2
                d_a, d_b = pa * ka_a + pb * kb_a, pa * ka_b + pb * kb_b
            else:
                k, d_a, d_b = 0.0, 0.0, 0.0
        pull = (a - b) / apart + 1.0
        w[4, i], w[5, i], w[6, i] = k * pull, d_a * pull + k / apart, d_b * pull - k / apart
    last = cells - 1
    w[4, cells], w[5, cells] = _base(
        tables[soil[last]], kind, below, w[2, last], w[3, last], head[last], 0.5 * thick[last]
    )
    w[6, cells] = 0.0
    worst, uptake = 0.0, 0.0
    for i in range(cells):
        drawn, d_drawn = 0.0, 0.0
        if demand > 0.0 and roots[i] > 0.0:
            share, d_share = feddes(head[i], draws[0], draws[1], draws[2], draws[3])
            drawn, d_drawn = demand * roots[i] * share, demand * roots[i] * d_share
        uptake += drawn
        w[7, i] = (w[0, i] - held[i]) * thick[i] / dt - w[4, i] + w[4, i + 1] + drawn
        w[8, i] = max(w[1, i], 1e-12) * thick[i] / dt - w[6, i] + w[5, i + 1] + d_drawn
        off = abs(w[7, i]) * dt
        if not off <= worst:  # also where it is not a number
            worst = off
    return worst, inflow, evaporation, pond_new, runoff, uptake


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _newton(cells: int, head: Any, soil: Any, rows: Any, w: Any) -> None:
    """Solve the tridiagonal equations in ``w`` and move the heads."""
    for i in range(1, cells):
        ratio = -w[5, i] / w[8, i - 1]  # slope of the balance of i with the head above, over the pivot
        w[8, i] -= ratio * w[6, i]
        w[7, i] -= ratio * w[7, i - 1]
    change = 0.0
    for i in range(cells - 1, -1, -1):
        above = w[6, i + 1] * change if i < cells - 1 else 0.0
        change = (-w[7, i] - above) / w[8, i]
        head[i] = _moved(rows[soil[i]], w[0, i], w[1, i], head[i], change)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _column(
    cells: int,
    head: Any,
    rate: Any,
    pond: float,
    dt: float,
    thick: Any,
    soil: Any,
    tables: Any,
    rows: Any,
    hours: Any,
    arriving: Any,
    leaving: Any,
    demand: Any,
    roots: Any,
    draws: Any,
    omega: float,
    kind: int,
    below: float,
    top: float,
    pond_most: float,
    driest: float,
    air_least: float,
    tolerance: float,
    w: Any,
    sums: Any,
    taken: Any,
) -> tuple[float, float]:
    """One column over all intervals; the pond left and the step to go on with."""
    old, held, slope = w[9], w[10], w[11]
    for i in range(cells):
        held[i], slope[i], _, _ = _look(tables[soil[i]], head[i])
        sums[BEFORE] += held[i] * thick[i]
    sums[BEFORE] += pond
    s = 0
    while s < len(hours):
        left = hours[s]
        rain, dry, want = arriving[s], leaving[s], demand[s]
        s += 1
        while s < len(hours) and arriving[s] == rain and leaving[s] == dry and demand[s] == want:
            left += hours[s]
            s += 1
        whole = left
        while left > 1e-12 * whole:
            step = left if dt > 0.9 * left else min(dt, 0.5 * left)
            asked = want
            if omega < 1.0 and want > 0.0:
                drawn = 0.0
                for i in range(cells):
                    drawn += roots[i] * feddes(head[i], draws[0], draws[1], draws[2], draws[3])[0]
                asked = want / max(drawn, omega)
            old[:cells] = head[:cells]
            for i in range(cells):  # a first guess: going on as before
                if slope[i] > 1e-7 and rate[i] != 0.0:
                    head[i] = _moved(rows[soil[i]], held[i], slope[i], head[i], rate[i] * step / slope[i])
            done = False
            for n in range(_MOST_ITERATIONS + 1):
                worst, inflow, evaporation, pond_new, runoff, uptake = _residual(
                    cells,
                    step,
                    head,
                    held,
                    thick,
                    soil,
                    tables,
                    roots,
                    draws,
                    pond,
                    rain,
                    dry,
                    asked,
                    pond_most,
                    driest,
                    top,
                    kind,
                    below,
                    w,
                )
                sums[ITERATIONS] += 1.0
                done = worst <= _SOLVED_CM * (1.0 + 100.0 * abs(inflow) * step)
                if done and omega < 1.0 and uptake > want * (1.0 + 1e-9):
                    asked *= want / uptake  # roots that got wet within the step need less making up for
                    done = False
                    continue
                if done or n == _MOST_ITERATIONS or np.isnan(worst):
                    break
                _newton(cells, head, soil, rows, w)
            err = 0.0
            if done:
                for i in range(cells):
                    err = max(err, 0.5 * step * abs((w[0, i] - held[i]) / step - rate[i]))
            if not done or (err > 1.5 * tolerance and step > _FINE_ENOUGH_H):
                head[:cells] = old[:cells]
                if not done and step < _SHORTEST_H:
                    sums[FAILED] = 1.0
                    return pond, dt
                dt = 0.2 * step if not done else step * max(0.1, 0.8 * (tolerance / err) ** 0.5)
                continue
            air, share = 0.0, 0.0
            for i in range(cells):
                rate[i] = (w[0, i] - held[i]) / step
                held[i], slope[i] = w[0, i], w[1, i]
                air += roots[i] * (rows[soil[i], THETA_S] - held[i])
                share += roots[i]
                if asked > 0.0 and roots[i] > 0.0:
                    got = feddes(head[i], draws[0], draws[1], draws[2], draws[3])[0]
                    taken[i] += asked * roots[i] * got * step
            if share > 0.0:
                sums[AIR_HOURS] += step * air / share
                if air < air_least * share:
                    sums[WET_HOURS] += step
            pond = pond_new
            sums[INFLOW] += step * inflow
            sums[RUNOFF] += step * runoff
            sums[EVAPORATION] += step * evaporation
            sums[TRANSPIRATION] += step * uptake
            sums[DRAINAGE] += step * w[4, cells]
            sums[STEPS] += 1.0
            left -= step
            grown = step * min(2.5, 0.85 * (tolerance / max(err, 1e-12)) ** 0.5)
            if n > 8:
                grown = min(grown, 0.7 * step)
            dt = grown if grown < step or step >= dt else max(dt, grown)
    for i in range(cells):
        sums[AFTER] += held[i] * thick[i]
    sums[AFTER] += pond
    return pond, dt


@njit(cache=True, nogil=True, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def run_columns(
    cells: Any,
    head: Any,
    rate: Any,
    pond: Any,
    dt: Any,
    thick: Any,
    soil: Any,
    tables: Any,
    rows: Any,
    hours: Any,
    arriving: Any,
    leaving: Any,
    demand: Any,
    roots: Any,
    draws: Any,
    omega: Any,
    kind: Any,
    below: Any,
    top: Any,
    pond_most: Any,
    driest: Any,
    air_least: Any,
    tolerance: float,
    sums: Any,
    taken: Any,
) -> None:
    """All columns over all intervals, in place; see :func:`soakbook.season.truth.columns.advance`."""
    w = np.empty((12, head.shape[1] + 1))
    for c in range(len(cells)):
        pond[c], dt[c] = _column(
            cells[c], head[c], rate[c], pond[c], dt[c], thick[c], soil[c], tables, rows, hours, arriving[c], leaving[c],
            demand[c], roots[c], draws[c], omega[c], kind[c], below[c], top[c], pond_most[c], driest[c], air_least[c],
            tolerance, w, sums[c], taken[c],
        )  # fmt: skip
