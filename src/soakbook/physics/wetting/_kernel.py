"""The wetting solver compiled: one run of Richards' equation in the mixed form from one change of the supply to the next.

Cells stand in rows (downwards) and rings or strips (outwards), ``row * rings + ring``. Every face has an area over a distance, so that emitters
(rings) and drip lines (strips) are one code. Backward Euler; Newton on ``u`` (:mod:`soakbook.physics.wetting.curves`); linear systems by BiCGStab with
an incomplete factorisation of the five-point matrix (H. A. van der Vorst, SIAM J. Sci. Stat. Comput. 13:631-644, 1992).

Between cells the conductivity is the mean over head (the Kirchhoff integral), so that dry soil does not hold a front back by the size of the cells.
Water that a ring cannot take at the surface head runs on to the next within the same residual.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numba import njit

from soakbook.machine_code import use_cache

use_cache()

#: Places of the numbers that a run counts up, in ``count``.
STEPS, NEWTON, LINEAR, REJECTED, FAILED = range(5)
#: And of the volumes it adds up, in ``flow``. [cm³, or cm³ per cm of line]
TAKEN, RAN_OFF, BELOW, DRAWN, RAINED = range(5)

MOST_NEWTON, MOST_LINEAR = 12, 100
#: Change of ``u`` in one iteration at most, and heads from which cells count as alike. [cm]
MOST_U, ALIKE_CM = 0.4, 1e-4
#: Part of ``u`` that one iteration leaves at least, and of the move before by which a cell may swing back where roots draw from dry soil: there head runs away while water
#: content hardly moves, so that Newton's steps go to and fro between full uptake and none. Judged.
LEAST_LEFT, SWING = 0.5, 0.5

_njit: Callable[[Callable[..., Any]], Callable[..., Any]] = njit(
    cache=True, nogil=True, error_model="numpy", fastmath={"contract", "nsz", "reassoc"}
)


@_njit
def _look_up(
    u: Any, soil: Any, rows: int, rings: int, wide: int, cubic: Any, steps: Any, tops: Any, storage: float, now: Any
) -> None:
    """Water content, head, integral of conductivity, each with its slope over ``u``, conductivity and its slope, in each cell of the box."""
    last = cubic.shape[1]
    for r in range(rows):
        s = soil[r]
        inv, top = 1.0 / steps[s], last * steps[s]
        table, end = cubic[s], tops[s]
        for c in range(wide):
            i = r * rings + c
            x = u[i] * inv
            if x >= last:
                over = (u[i] - top) * end[3]
                now[0, i] = end[0] + storage * over
                now[1, i] = storage * end[3]
                now[2, i] = over
                now[3, i] = end[3]
                now[4, i] = end[1] + end[2] * over
                now[5, i] = end[2] * end[3]
                now[6, i] = end[2]
                now[7, i] = 0.0
            else:
                k = max(int(x), 0)
                f = x - k
                p = table[k]
                now[0, i] = p[0] + f * (p[1] + f * (p[2] + f * p[3]))
                now[1, i] = (p[1] + f * (2.0 * p[2] + 3.0 * f * p[3])) * inv
                by_head = p[5] + f * (2.0 * p[6] + 3.0 * f * p[7])
                now[2, i] = p[4] + f * (p[5] + f * (p[6] + f * p[7]))
                now[3, i] = by_head * inv
                by_phi = p[9] + f * (2.0 * p[10] + 3.0 * f * p[11])
                now[4, i] = p[8] + f * (p[9] + f * (p[10] + f * p[11]))
                now[5, i] = by_phi * inv
                k_now = by_phi / by_head
                now[6, i] = k_now
                now[7, i] = (2.0 * p[10] + 6.0 * f * p[11] - k_now * (2.0 * p[6] + 6.0 * f * p[7])) / by_head * inv


@_njit
def _integral(head: float, s: int, cubic: Any, tops: Any) -> tuple[float, float]:
    """Integral of a soil's conductivity up to a head, and the conductivity there."""
    if head >= 0.0:
        return tops[s, 1] + tops[s, 2] * head, tops[s, 2]
    table = cubic[s]
    low, high = 0, cubic.shape[1]
    while high - low > 1:
        middle = (low + high) // 2
        if table[middle, 4] <= head:
            low = middle
        else:
            high = middle
    p = table[low]
    a, b, f = 0.0, 1.0, 0.5
    for _ in range(60):
        off = p[4] + f * (p[5] + f * (p[6] + f * p[7])) - head
        if off > 0.0:
            b = f
        else:
            a = f
        slope = p[5] + f * (2.0 * p[6] + 3.0 * f * p[7])
        new = f - off / slope
        if not a <= new <= b:
            new = 0.5 * (a + b)
        if abs(new - f) < 1e-14:
            break
        f = new
    k = (p[9] + f * (2.0 * p[10] + 3.0 * f * p[11])) / (p[5] + f * (2.0 * p[6] + 3.0 * f * p[7]))
    return p[8] + f * (p[9] + f * (p[10] + f * p[11])), k


@_njit
def _sideways(wide: int, by: Any, phi: Any, slope: Any, residual: Any, diag: Any, west: Any, east: Any) -> None:
    """Flow along one row, added to both cells of each face; ``by`` is area over distance. Loops over one row each, so that they run in vectors."""
    for c in range(wide - 1):
        residual[c] += by[c] * (phi[c] - phi[c + 1])
        diag[c] += by[c] * slope[c]
        east[c] = -by[c] * slope[c + 1]
    for c in range(1, wide):
        residual[c] -= by[c - 1] * (phi[c - 1] - phi[c])
        diag[c] += by[c - 1] * slope[c]
        west[c] = -by[c - 1] * slope[c - 1]


@_njit
def _down(
    wide: int, top: Any, inv_length: float, upper: Any, lower: Any, res_i: Any, res_j: Any, diag_i: Any, diag_j: Any, south: Any, north: Any
) -> None:  # fmt: skip
    """Flow down from each cell of a row to that below it in one soil, added to both."""
    head_i, by_head_i, phi_i, by_phi_i, k_i, by_k_i = upper[2], upper[3], upper[4], upper[5], upper[6], upper[7]
    head_j, by_head_j, phi_j, by_phi_j, k_j, by_k_j = lower[2], lower[3], lower[4], lower[5], lower[6], lower[7]
    for c in range(wide):
        dphi, dh = phi_i[c] - phi_j[c], head_i[c] - head_j[c]
        differs = abs(dh) > ALIKE_CM
        inv = 1.0 / (dh if differs else 1.0)
        mean = dphi * inv if differs else 0.5 * (k_i[c] + k_j[c])
        by_i = (by_phi_i[c] - mean * by_head_i[c]) * inv if differs else 0.5 * by_k_i[c]
        by_j = (mean * by_head_j[c] - by_phi_j[c]) * inv if differs else 0.5 * by_k_j[c]
        flow = top[c] * (dphi * inv_length + mean)
        di, dj = top[c] * (by_phi_i[c] * inv_length + by_i), top[c] * (by_j - by_phi_j[c] * inv_length)
        res_i[c] += flow
        res_j[c] -= flow
        diag_i[c] += di
        south[c] = dj
        diag_j[c] -= dj
        north[c] = -di


@_njit
def _across(
    i: int, j: int, a: int, b: int, length: float, now: Any, cubic: Any, tops: Any
) -> tuple[float, float, float]:
    """Likewise from soil ``a`` into soil ``b``: the mean of what either would conduct between the two heads."""
    hi, hj = now[2, i], now[2, j]
    dh = hi - hj
    if abs(dh) > ALIKE_CM:
        ai, kai = _integral(hi, a, cubic, tops)
        aj, kaj = _integral(hj, a, cubic, tops)
        bi, kbi = _integral(hi, b, cubic, tops)
        bj, kbj = _integral(hj, b, cubic, tops)
        mean = 0.5 * (ai - aj + bi - bj) / dh
        by_hi = (0.5 * (kai + kbi) - mean) / dh
        by_hj = (mean - 0.5 * (kaj + kbj)) / dh
    else:
        _, ka = _integral(hi, a, cubic, tops)
        _, kb = _integral(hi, b, cubic, tops)
        mean, by_hi, by_hj = 0.5 * (ka + kb), 0.0, 0.0
    drop = dh / length + 1.0
    return mean * drop, (by_hi * drop + mean / length) * now[3, i], (by_hj * drop - mean / length) * now[3, j]


@_njit
def _suits(head: float, limits: Any) -> tuple[float, float]:
    """How well roots draw at a head (R. A. Feddes et al., 1978), and its slope: limits are the heads at which uptake begins when too wet, is full, begins to fall when dry, and ends."""
    if head >= limits[0] or head <= limits[3]:
        return 0.0, 0.0
    if head > limits[1]:
        return (limits[0] - head) / (limits[0] - limits[1]), -1.0 / (limits[0] - limits[1])
    if head >= limits[2]:
        return 1.0, 0.0
    return (head - limits[3]) / (limits[2] - limits[3]), 1.0 / (limits[2] - limits[3])


@_njit
def _assemble(
    dt: float, rows: int, wide: int, rings: int, soil: Any, volume: Any, side: Any, top: Any, gap_z: Any, cubic: Any, tops: Any,
    now: Any, before: Any, fixed: Any, roots: Any, wants: float, limits: Any, supply: float, most_rings: int, top_head: Any, surface: Any, bottom: int, rate: Any,
    diag: Any, west: Any, east: Any, north: Any, south: Any, residual: Any, full: Any, by_full: Any,
) -> None:  # fmt: skip
    """Residual (flow that does not add up, in cm³/h) and the matrix of its slopes; ``full`` marks rings that take all they can at the surface (1), take the rest (0), or lie out of
    its reach (2)."""
    inv_dt = 1.0 / dt
    for r in range(rows):
        a, b = r * rings, r * rings + wide
        size, res, mid, water, slope = volume[a:b], residual[a:b], diag[a:b], now[0, a:b], now[1, a:b]
        was, given = before[a:b], fixed[a:b]
        for c in range(wide):
            res[c] = size[c] * (water[c] - was[c]) * inv_dt - given[c]
            mid[c] = size[c] * slope[c] * inv_dt
        west[a:b], east[a:b], north[a:b], south[a:b] = 0.0, 0.0, 0.0, 0.0
    if wants > 0.0:
        for r in range(rows):
            for c in range(wide):
                i = r * rings + c
                if roots[i] > 0.0:
                    good, slope = _suits(now[2, i], limits)
                    residual[i] += wants * roots[i] * good
                    diag[i] += wants * roots[i] * slope * now[3, i]
    for r in range(rows):
        a = r * rings
        _sideways(wide, side[a : a + rings], now[4, a : a + rings], now[5, a : a + rings], residual[a : a + rings], diag[a : a + rings],
                  west[a : a + rings], east[a : a + rings])  # fmt: skip
    for r in range(rows - 1):
        a, b = r * rings, (r + 1) * rings
        if soil[r] == soil[r + 1]:
            _down(wide, top, 1.0 / gap_z[r], now[:, a:b], now[:, b : b + rings], residual[a:b], residual[b : b + rings], diag[a:b], diag[b : b + rings],
                  south[a:b], north[b : b + rings])  # fmt: skip
            continue
        for c in range(wide):
            i, j, area = a + c, b + c, top[c]
            flow, di, dj = _across(i, j, soil[r], soil[r + 1], gap_z[r], now, cubic, tops)
            residual[i] += area * flow
            residual[j] -= area * flow
            diag[i] += area * di
            south[i] += area * dj
            diag[j] -= area * dj
            north[j] -= area * di
    if bottom == 1:  # gravity alone
        for c in range(wide):
            i = (rows - 1) * rings + c
            rate[BELOW] += top[c] * now[6, i]
            residual[i] += top[c] * now[6, i]
            diag[i] += top[c] * now[7, i]
    elif bottom == 2:  # a head given at the bottom
        s = soil[rows - 1]
        phi, k_end = _integral(top_head[1], s, cubic, tops)
        half = gap_z[rows - 1]
        for c in range(wide):
            i = (rows - 1) * rings + c
            dh = now[2, i] - top_head[1]
            mean = (now[4, i] - phi) / dh if abs(dh) > ALIKE_CM else 0.5 * (now[6, i] + k_end)
            by = (now[5, i] - mean * now[3, i]) / dh if abs(dh) > ALIKE_CM else 0.5 * now[7, i]
            flow = top[c] * ((now[4, i] - phi) / half + mean)
            rate[BELOW] += flow
            residual[i] += flow
            diag[i] += top[c] * (now[5, i] / half + by)
    s = soil[0]
    phi, k_top = _integral(top_head[0], s, cubic, tops)
    half = gap_z[rows]
    left = supply
    for c in range(wide):
        full[c] = 0
        surface[c] = 0.0
        by_full[c] = 0.0
        if c >= most_rings:
            full[c] = 2  # out of the water's reach
            continue
        i = c
        dh = top_head[0] - now[2, i]
        mean = (phi - now[4, i]) / dh if abs(dh) > ALIKE_CM else 0.5 * (now[6, i] + k_top)
        by = (mean * now[3, i] - now[5, i]) / dh if abs(dh) > ALIKE_CM else 0.5 * now[7, i]
        takes = top[c] * ((phi - now[4, i]) / half + mean)
        if left >= takes:
            full[c] = 1
            slope = top[c] * (by - now[5, i] / half)
            by_full[c] = slope
            diag[i] -= slope
            residual[i] -= takes
            surface[c] = takes
            left -= takes
        else:
            residual[i] -= left
            surface[c] = left
            left = 0.0
    rate[RAN_OFF] = left


@_njit
def _times(
    rows: int,
    wide: int,
    rings: int,
    diag: Any,
    west: Any,
    east: Any,
    north: Any,
    south: Any,
    full: Any,
    by_full: Any,
    is_chained: bool,
    x: Any,
    y: Any,
) -> None:
    """The matrix times a vector, the rings' run-on included. Neighbour by neighbour along a row, which runs in vectors."""
    for r in range(rows):
        a, b = r * rings, r * rings + wide
        mid, left, right, up, down = diag[a:b], west[a:b], east[a:b], north[a:b], south[a:b]
        here, out = x[a:b], y[a:b]
        for c in range(wide):
            out[c] = mid[c] * here[c]
        for c in range(1, wide):
            out[c] += left[c] * here[c - 1]
        for c in range(wide - 1):
            out[c] += right[c] * here[c + 1]
        if r > 0:
            above = x[a - rings : b - rings]
            for c in range(wide):
                out[c] += up[c] * above[c]
        if r < rows - 1:
            below = x[a + rings : b + rings]
            for c in range(wide):
                out[c] += down[c] * below[c]
    if is_chained:
        run = 0.0
        for c in range(wide):
            if full[c] == 1:
                run += by_full[c] * x[c]
            elif full[c] == 0:
                y[c] += run
                run = 0.0


@_njit
def _factor(
    rows: int, wide: int, rings: int, diag: Any, west: Any, east: Any, north: Any, south: Any, inv: Any, parts: Any
) -> None:
    """Diagonal of the incomplete factors, and the neighbours' slopes over it: with these each cell of a sweep waits for one product of the cell before."""
    for r in range(rows):
        for c in range(wide):
            i = r * rings + c
            d = diag[i]
            if c > 0:
                d -= west[i] * east[i - 1] * inv[i - 1]
            if r > 0:
                d -= north[i] * south[i - rings] * inv[i - rings]
            inv[i] = 1.0 / d
        a, b = r * rings, r * rings + wide
        for part, of in ((0, west), (1, east), (2, north), (3, south)):
            whole, over, to = of[a:b], inv[a:b], parts[part, a:b]
            for c in range(wide):
                to[c] = whole[c] * over[c]


@_njit
def _precondition(rows: int, wide: int, rings: int, inv: Any, parts: Any, x: Any, y: Any) -> None:
    """The incomplete factors' system solved."""
    for r in range(rows):
        a, b = r * rings, r * rings + wide
        out, here, over, left = y[a:b], x[a:b], inv[a:b], parts[0, a:b]
        for c in range(wide):
            out[c] = here[c] * over[c]
        if r > 0:
            above, up = y[a - rings : b - rings], parts[2, a:b]
            for c in range(wide):
                out[c] -= up[c] * above[c]
        last = out[0]
        for c in range(1, wide):
            last = out[c] - left[c] * last
            out[c] = last
    for r in range(rows - 1, -1, -1):
        a, b = r * rings, r * rings + wide
        out, right = y[a:b], parts[1, a:b]
        if r < rows - 1:
            below, down = y[a + rings : b + rings], parts[3, a:b]
            for c in range(wide):
                out[c] -= down[c] * below[c]
        last = out[wide - 1]
        for k in range(1, wide):
            c = wide - 1 - k
            last = out[c] - right[c] * last
            out[c] = last


@_njit
def _dot(rows: int, wide: int, rings: int, x: Any, y: Any) -> float:
    s = 0.0
    for r in range(rows):
        a, b = x[r * rings : r * rings + wide], y[r * rings : r * rings + wide]
        for c in range(wide):
            s += a[c] * b[c]
    return s


@_njit
def _add(rows: int, wide: int, rings: int, times: float, x: Any, y: Any) -> None:
    """``y`` with so many times ``x`` added."""
    for r in range(rows):
        a, b = x[r * rings : r * rings + wide], y[r * rings : r * rings + wide]
        for c in range(wide):
            b[c] += times * a[c]


@_njit
def _solve(
    rows: int, wide: int, rings: int, diag: Any, west: Any, east: Any, north: Any, south: Any, full: Any, by_full: Any, is_chained: bool, inv: Any, parts: Any,
    b: Any, x: Any, work: Any, wanted: float, count: Any,
) -> None:  # fmt: skip
    """BiCGStab from nothing to ``wanted`` of the right side; ``x`` is the solution."""
    res, shadow, p, v, ph, sh, t = work[0], work[1], work[2], work[3], work[4], work[5], work[6]
    for r in range(rows):
        for c in range(wide):
            i = r * rings + c
            x[i], res[i], shadow[i], p[i], v[i] = 0.0, b[i], b[i], 0.0, 0.0
    rho, alpha, omega = 1.0, 1.0, 1.0
    limit = wanted * wanted * _dot(rows, wide, rings, b, b)
    for _ in range(MOST_LINEAR):
        count[LINEAR] += 1
        new = _dot(rows, wide, rings, shadow, res)
        if new == 0.0:
            return
        beta = new / rho * (alpha / omega)
        rho = new
        for r in range(rows):
            a, b = r * rings, r * rings + wide
            way, left, old = p[a:b], res[a:b], v[a:b]
            for c in range(wide):
                way[c] = left[c] + beta * (way[c] - omega * old[c])
        _precondition(rows, wide, rings, inv, parts, p, ph)
        _times(rows, wide, rings, diag, west, east, north, south, full, by_full, is_chained, ph, v)
        alpha = rho / _dot(rows, wide, rings, shadow, v)
        _add(rows, wide, rings, alpha, ph, x)
        _add(rows, wide, rings, -alpha, v, res)
        if _dot(rows, wide, rings, res, res) <= limit:
            return
        _precondition(rows, wide, rings, inv, parts, res, sh)
        _times(rows, wide, rings, diag, west, east, north, south, full, by_full, is_chained, sh, t)
        tt = _dot(rows, wide, rings, t, t)
        if tt == 0.0:
            return
        omega = _dot(rows, wide, rings, t, res) / tt
        _add(rows, wide, rings, omega, sh, x)
        _add(rows, wide, rings, -omega, t, res)
        if omega == 0.0 or _dot(rows, wide, rings, res, res) <= limit:
            return


@njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def run(
    hours: float, dt_first: float, tolerance: float, exact: float, allowed: float, rings: int, soil: Any, volume: Any, side: Any, top: Any, gap_z: Any,
    cubic: Any, steps: Any, tops: Any, storage: float, fixed: Any, roots: Any, wants: float, limits: Any, supply: float, most_rings: int,
    heads: Any, bottom: int, is_boxed: bool, stirs: float, box: Any, pond: Any, u: Any, surface: Any, flow: Any, count: Any,
) -> float:  # fmt: skip
    """Run ``hours`` on from ``u``, which is changed; the step to go on with is returned. [h]

    ``fixed`` (N,) is what flows into each cell from outside, ``surface`` (rings,) what each ring takes at the end; ``box`` (2,) rows and rings that are
    not at rest, ``pond`` (2,) the water that stands on the rings within reach and the most that does before it runs off [cm³]: in each step all of it may go in. The box is grown where ``is_boxed`` as water content at its rim moves by ``stirs``. No cell may gain or lose more than ``exact`` of its volume in a step that nothing
    accounts for, nor all together more than ``allowed`` cm³/h. ``flow`` and ``count`` are added to. FAILED is set where a step could not be made.
    """
    n = len(u)
    all_rows = n // rings
    now, work = np.empty((8, n)), np.empty((7, n))
    diag, west, east, north, south = np.empty(n), np.empty(n), np.empty(n), np.empty(n), np.empty(n)
    residual, inv, change, before, start = np.empty(n), np.empty(n), np.zeros(n), np.empty(n), np.empty(n)
    parts = np.empty((4, n))
    full, by_full, rate = np.zeros(rings, np.int64), np.zeros(rings), np.zeros(5)
    moved, begun, drift, swung = np.zeros(n), np.empty(n), np.zeros(n), np.empty(n)
    t, dt, last = 0.0, dt_first, 0.0
    rows, wide = (int(box[0]), int(box[1])) if is_boxed else (all_rows, rings)
    _look_up(u, soil, all_rows, rings, rings, cubic, steps, tops, storage, now)
    for i in range(n):
        begun[i] = now[0, i]
        before[i] = now[0, i]
    put = 0.0
    for i in range(n):
        put += fixed[i]
    while t < hours * (1.0 - 1e-12):
        dt = min(dt, hours - t)
        if hours - t - dt < 1e-9 * hours:
            dt = hours - t
        for r in range(rows):
            full_at = cubic.shape[1] * steps[soil[r]]
            for c in range(wide):
                i = r * rings + c
                start[i] = u[i]
                u[i] = min(max(min(LEAST_LEFT * u[i], full_at), u[i] + drift[i] * dt), max(u[i], full_at))
        _look_up(u, soil, rows, rings, wide, cubic, steps, tops, storage, now)
        done = False
        tries = 0
        for k in range(MOST_NEWTON):
            count[NEWTON] += 1
            tries = k
            rate[BELOW] = 0.0
            _assemble(
                dt, rows, wide, rings, soil, volume, side, top, gap_z, cubic, tops, now, before, fixed, roots, wants, limits, supply + pond[0] / dt,
                min(most_rings, wide), heads, surface, bottom, rate, diag, west, east, north, south, residual, full, by_full,
            )  # fmt: skip
            worst, total, fine = 0.0, 0.0, True
            for r in range(rows):
                for c in range(wide):
                    i = r * rings + c
                    worst = max(worst, abs(residual[i]) * dt / volume[i])
                    total += residual[i]
                    fine = fine and np.isfinite(residual[i])
                    residual[i] = -residual[i]
            if not fine:
                break
            if worst <= exact and (abs(total) <= allowed or t + dt < hours) and k > 0:
                done = True
                break
            chained = False
            for c in range(wide):
                chained = chained or full[c] == 1
            _factor(rows, wide, rings, diag, west, east, north, south, inv, parts)
            _solve(
                rows, wide, rings, diag, west, east, north, south, full, by_full, chained, inv, parts, residual, change, work,
                1e-2 if k == 0 else 1e-3, count,
            )  # fmt: skip
            for r in range(rows):
                full_at = cubic.shape[1] * steps[soil[r]]
                for c in range(wide):
                    i = r * rings + c
                    far = max(MOST_U, u[i] - full_at)  # under pressure all is straight: as far as to none at once
                    by = min(far, max(-far, change[i]))
                    if k > 0 and by * swung[i] < 0.0 and wants * roots[i] > 0.0 and now[2, i] < limits[2]:
                        most = SWING * abs(swung[i])
                        by = min(most, max(-most, by))
                    swung[i] = by
                    new = max(min(LEAST_LEFT * u[i], full_at), u[i] + by)
                    new = min(new, full_at - steps[soil[r]]) if u[i] < full_at - steps[soil[r]] else new
                    u[i] = full_at if u[i] < full_at < new else new
            _look_up(u, soil, rows, rings, wide, cubic, steps, tops, storage, now)
        error, deeper, wider = 0.0, False, False
        if done:
            for r in range(rows):
                for c in range(wide):
                    i = r * rings + c
                    error = max(error, abs(now[0, i] - before[i] - moved[i] * dt))
            error *= dt / (dt + last)
            if is_boxed:
                if wide < rings:
                    for r in range(rows):
                        i = r * rings + wide - 2
                        wider = wider or abs(now[0, i] - begun[i]) > stirs
                if rows < all_rows:
                    for c in range(wide):
                        i = (rows - 2) * rings + c
                        deeper = deeper or abs(now[0, i] - begun[i]) > stirs
        too_far = error > 2.0 * tolerance and dt > 1e-7
        if not done or too_far or deeper or wider:
            for r in range(rows):
                for c in range(wide):
                    i = r * rings + c
                    u[i] = start[i]
            count[REJECTED] += 1
            if deeper or wider:
                rows = min(all_rows, rows + 3 + rows // 5) if deeper else rows
                wide = min(rings, wide + 3 + wide // 5) if wider else wide
                box[0], box[1] = rows, wide
            elif too_far:
                dt *= max(0.3, 0.9 * np.sqrt(tolerance / error))
            else:
                dt *= 0.3
            if dt < 1e-9:
                count[FAILED] += 1
                return dt
            continue
        drawn = 0.0
        if wants > 0.0:
            for r in range(rows):
                for c in range(wide):
                    i = r * rings + c
                    if roots[i] > 0.0:
                        good, _ = _suits(now[2, i], limits)
                        drawn += wants * roots[i] * good
        taken = 0.0
        for c in range(wide):
            taken += surface[c]
        flow[TAKEN] += taken * dt
        stays = min(rate[RAN_OFF] * dt, pond[1])
        flow[RAN_OFF] += rate[RAN_OFF] * dt - stays
        pond[0] = stays
        flow[BELOW] += rate[BELOW] * dt
        flow[DRAWN] += drawn * dt
        flow[RAINED] += put * dt
        for r in range(rows):
            for c in range(wide):
                i = r * rings + c
                moved[i] = (now[0, i] - before[i]) / dt
                drift[i] = (u[i] - start[i]) / dt
                before[i] = (
                    now[0, i] + residual[i] * dt / volume[i]
                )  # what it holds too much is taken back in the next step
        count[STEPS] += 1
        t += dt
        last = dt
        grow = 0.9 * np.sqrt(tolerance / max(error, 1e-12))
        if tries > 6:
            grow = min(grow, 0.8)
        dt *= min(2.0, max(0.5, grow))
    return dt
