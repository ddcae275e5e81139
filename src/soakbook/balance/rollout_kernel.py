"""Acts rolled forward over reduced columns, compiled: what the costs of a decision are made of, and nothing else.

A reduced column has three layers under the watered part (the drying surface, upper roots, lower roots to the reach) and one
under the rest, all counted from the wilting point. The order within a step is that of :mod:`soakbook.balance.kernel`: water
arrives and drains, soil evaporates, roots draw. After the first act the rule goes on: it waters a member when what is thought
missing passes the limit, and fills up what is thought missing, less the rain of that day. What is *thought* missing (``seen``) starts with what the place
as a whole is thought to lack and goes by the weather; a share ``known`` of the difference to what the member really lacks is
taken to be noticed by whoever tends the place.

Loops over members are innermost and free of branches; candidates are outside. Axes and names are in
:mod:`soakbook.balance.rollout_names`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from soakbook.balance.kernel import _FAST, _NoAlias
from soakbook.balance.rollout_names import (
    A_DAY,
    AIRLESS,
    AREA,
    BARE_REST,
    BYPASS,
    DELIVERY,
    DRAIN,
    DRY_FROM,
    EFFICIENCY,
    ETO,
    EXPECTED_USE,
    FEW,
    FULL,
    HALF,
    HELD,
    IN_SAUCER,
    INV_1P,
    INV_AIR_0,
    INV_AIR_1,
    INV_AIR_2,
    INV_DEMAND,
    INV_DRY_FROM,
    INV_ENOUGH,
    INV_STAGE_TWO,
    INV_STORE,
    INV_TAW,
    JUDGE_LATER,
    JUDGE_NOW,
    KC_MAX,
    KCB,
    KE_CUT,
    KNOWN,
    LAG,
    LEAST,
    LIMIT,
    LOSE_DAMP,
    LOSE_DRY,
    LOSE_SEED,
    LOSE_SWING,
    LOSE_WET,
    LOW,
    LUMPS,
    MAY_WATER,
    MIX,
    MULCH_TAKES,
    OFF_REST,
    RAIN,
    RAIN_BY_NIGHT,
    RAIN_REST,
    REACH_0,
    REACH_1,
    REACH_2,
    REST,
    REST_FULL,
    REST_INV_TAW,
    ROOT_0,
    ROOT_1,
    ROOT_2,
    ROOT_DRY,
    S_DAMP,
    S_DRAINED,
    S_DRY,
    S_MISSING,
    S_PUT,
    S_SEED,
    S_SWING,
    S_VISITS,
    S_WET,
    SATURATED,
    SAUCER,
    SECOND,
    SEEN,
    SKIN,
    STORE,
    TEW,
    WALL_0,
    WALL_1,
    WALL_2,
)

#: Used fraction from which dryness counts towards a swing (by its square), how far a surface may dry before it no longer counts as
#: damp, and used fraction of a seedbed from which seedlings die. Judged.
SWING_FROM, DAMP_WITHIN, SEED_FROM = 0.5, 0.25, 0.6
#: Beyond this share of transpiration lacking on a step every further mm counts three times: response factors hold to about
#: a half (FAO-33, from memory), and plants that wilt through the day lose what they had set. Judged.
SEVERE_FROM, SEVERE_TIMES = 0.5, 2.0


#: What is left above field capacity after a step is x / sqrt(1 + u²) (:func:`soakbook.physics.infiltration.drained_excess`). The square
#: root is the dearest thing in the loop: it is replaced by (1 + A u + B u²) / (1 + A u + (B + 1/2) u² + B u³), which has the same
#: limits and two terms at either end and is within 0.17 % of it everywhere (fitted; checked in tests/unit/advice/test_rollout.py).
DRAIN_A, DRAIN_B = 1.1228, 0.6515


@njit(
    cache=True, nogil=True, _nrt=False, forceinline=True, pipeline_class=_NoAlias, error_model="numpy", fastmath=_FAST
)  # type: ignore[untyped-decorator]
def _arrives(
    n: int, t: int, feet: int, first_mm: float, patience: float, fill: float, day: Any, fix: Any,
    lane_delivery: Any, full0: Any, full1: Any, full2: Any, taw0: Any,
    a0: Any, a1: Any, a2: Any, skin: Any, seen: Any, rest: Any, rest_full: Any,
    et: Any, rain: Any, rain_rest: Any, off_rest: Any, store: Any, inv_store: Any, by_night: Any,
    used: Any, gone: Any,
    put_on: Any, arriving: Any, s_put: Any, s_visits: Any,
) -> float:  # fmt: skip
    """Water put on and rain; returns how far above field capacity any layer of any member then is."""
    r0, r1, r2, area = day[t, REACH_0], day[t, REACH_1], day[t, REACH_2], day[t, AREA]
    limit, now, later = day[t, LIMIT] * patience, day[t, JUDGE_NOW], day[t, JUDGE_LATER]
    expected, may, known = day[t, EXPECTED_USE], day[t, MAY_WATER], fix[KNOWN]
    efficiency, mulch, least = fix[EFFICIENCY], fix[MULCH_TAKES], fix[LEAST]
    dry_from, inv_dry_from, bypass = fix[DRY_FROM], fix[INV_DRY_FROM], fix[BYPASS]
    share = fill / efficiency
    # Nothing today means nothing all day; a pot that was watered in the morning may be again the same day.
    rule = may if t >= (1.0 if first_mm > 0.0 else fix[A_DAY]) else 0.0
    act = 0.0 if t > 0 else first_mm
    counted = 1.0 if act > 0.0 else 0.0
    for i in range(n):
        lacks = r0 * max(0.0, full0[i] - a0[i]) + r1 * max(0.0, full1[i] - a1[i]) + r2 * max(0.0, full2[i] - a2[i])
        used[i] = lacks * inv_store[t, i]
        thought = seen[i] + known * (lacks - seen[i])
        asks = max(0.0, thought - by_night[t, i])
        tonight = asks + expected * et[t, i]
        judged = min(now * thought + later * tonight, tonight) - limit * store[t, i]
        due = rule if (judged >= 0.0) & (asks >= least) else 0.0
        put = due * asks * share + act
        arriving[i] = max(0.0, put * lane_delivery[i] - mulch * (due + counted)) + rain[t, i]
        gone[i] = 0.0
        put_on[i] = put
    if bypass > 0.0:  # a mix that has dried takes water badly
        for i in range(n):
            dry = min(1.0, max(0.0, (dry_from - a0[i] * taw0[i]) * inv_dry_from))
            gone[i] = bypass * dry * arriving[i]
            arriving[i] -= gone[i]
    over = 0.0
    for i in range(n):
        a0[i] += arriving[i]
        skin[i] = max(0.0, skin[i] - arriving[i])
        s_put[i] += put_on[i] * area
        s_visits[i] += 1.0 if put_on[i] > 0.0 else 0.0
        seen[i] = max(0.0, seen[i] - rain[t, i] - put_on[i] * efficiency)
        over += max(0.0, a0[i] - full0[i]) + max(0.0, a1[i] - full1[i]) + max(0.0, a2[i] - full2[i])
    if feet == 2:
        for i in range(n):
            rest[i] = min(rest_full[i], max(0.0, rest[i] + rain_rest[t, i] - off_rest[t, i]))
    return over


@njit(
    cache=True, nogil=True, _nrt=False, forceinline=True, pipeline_class=_NoAlias, error_model="numpy", fastmath=_FAST
)  # type: ignore[untyped-decorator]
def _drains(
    n: int, t: int, day: Any, fix: Any, layer: Any, a0: Any, a1: Any, a2: Any, gone: Any, airless_now: Any
) -> None:  # fmt: skip
    """Layers above field capacity drain downwards; what finds no room backs up. How airless that leaves the roots."""
    w0, w1, w2 = day[t, ROOT_0], day[t, ROOT_1], day[t, ROOT_2]
    i0, i1, i2 = fix[INV_AIR_0], fix[INV_AIR_1], fix[INV_AIR_2]
    for i in range(n):
        x = max(0.0, a0[i] - layer[FULL, 0, i])
        u = x * layer[DRAIN, 0, i]
        move = x * u * u * (0.5 + DRAIN_B * u) / (1.0 + u * (DRAIN_A + u * (DRAIN_B + 0.5 + DRAIN_B * u)))
        b0, b1 = a0[i] - move, a1[i] + move
        x = max(0.0, b1 - layer[FULL, 1, i])
        u = x * layer[DRAIN, 1, i]
        move = x * u * u * (0.5 + DRAIN_B * u) / (1.0 + u * (DRAIN_A + u * (DRAIN_B + 0.5 + DRAIN_B * u)))
        b1, b2 = b1 - move, a2[i] + move
        x = max(0.0, b2 - layer[FULL, 2, i])
        u = x * layer[DRAIN, 2, i]
        move = x * u * u * (0.5 + DRAIN_B * u) / (1.0 + u * (DRAIN_A + u * (DRAIN_B + 0.5 + DRAIN_B * u)))
        b2 -= move
        gone[i] += move
        back = max(0.0, b2 - layer[SATURATED, 2, i])
        b2 -= back
        b1 += back
        back = max(0.0, b1 - layer[SATURATED, 1, i])
        b1 -= back
        b0 += back
        back = max(0.0, b0 - layer[SATURATED, 0, i])
        a0[i], a1[i], a2[i] = b0 - back, b1, b2
        gone[i] += back
        airless_now[i] = (
            w0 * max(0.0, 1.0 - (layer[SATURATED, 0, i] - a0[i]) * i0)
            + w1 * max(0.0, 1.0 - (layer[SATURATED, 1, i] - b1) * i1)
            + w2 * max(0.0, 1.0 - (layer[SATURATED, 2, i] - b2) * i2)
        )


@njit(
    cache=True, nogil=True, _nrt=False, forceinline=True, pipeline_class=_NoAlias, error_model="numpy", fastmath=_FAST
)  # type: ignore[untyped-decorator]
def _leaves(
    n: int, t: int, feet: int, day: Any, fix: Any, tew: Any, inv_two: Any, inv_demand: Any, rest_inv: Any,
    low0: Any, low1: Any, taw0: Any, taw1: Any, taw2: Any, a0: Any, a1: Any, a2: Any,
    skin: Any, airless: Any, seen: Any, rest: Any, et: Any, bare_rest: Any, store: Any, airless_now: Any,
    took: Any, b0: Any, b1: Any, pull: Any, lacking: Any, s_dry: Any, s_wet: Any,
) -> None:  # fmt: skip
    """Soil evaporates and roots draw."""
    area, few, kcb, kc_max = day[t, AREA], day[t, FEW], day[t, KCB], day[t, KC_MAX]
    inv_area = 1.0 / area
    inv_few = area / few if few > 0.0 else 0.0
    left, cap, cut = kc_max - kcb, few * kc_max, day[t, KE_CUT] * inv_area
    w0, w1, w2, wd, p1 = day[t, ROOT_0], day[t, ROOT_1], day[t, ROOT_2], day[t, ROOT_DRY], day[t, INV_1P]
    inv_rest = 1.0 / (1.0 - area) if feet == 2 and area < 1.0 else 0.0
    second, half, lag, inv_enough = fix[SECOND], fix[HALF], fix[LAG], fix[INV_ENOUGH]
    half_area = half * kcb * inv_area
    half_rest = half * kcb * inv_rest
    y_dry, y_wet = day[t, LOSE_DRY], day[t, LOSE_WET]
    severe = SEVERE_FROM * kcb
    for i in range(n):
        kr = min(1.0, max(0.0, (tew[i] - skin[i]) * inv_two[i]))
        bare = few * max(1e-9, tew[i] - skin[i])
        ke = min(kr * left * bare / (bare + bare_rest[t, i] + 1e-12), cap) * cut * et[t, i]
        e0 = min(ke * (1.0 - second), a0[i] - low0[i])
        e1 = min(ke * second, a1[i] - low1[i])
        took[i] = e0 + e1
        skin[i] = min(tew[i], skin[i] + (e0 + e1) * inv_few)
        a0[i] -= e0
        a1[i] -= e1
    for i in range(n):
        air = airless[i] + lag * (airless_now[i] - airless[i])
        airless[i] = air
        ahead = half_area * et[t, i]
        b0[i] = w0 * min(1.0, max(0.0, (a0[i] - ahead * w0) * taw0[i] * p1))
        b1[i] = w1 * min(1.0, max(0.0, (a1[i] - ahead * w1) * taw1[i] * p1))
        b2 = w2 * min(1.0, max(0.0, (a2[i] - ahead * w2) * taw2[i] * p1))
        bd = wd * min(1.0, max(0.0, (rest[i] - half_rest * et[t, i] * wd) * rest_inv[i] * p1))
        ease = b0[i] + b1[i] + b2 + bd
        finds = kcb * et[t, i] * min(1.0, ease * inv_enough)
        pull[i] = finds * (1.0 - air) / max(1e-12, ease)
        s_wet[i] += y_wet * finds * air
        lacking[i] = kcb * et[t, i] - finds * air
        td = min(pull[i] * bd * inv_rest, rest[i])
        t2 = min(pull[i] * b2 * inv_area, max(0.0, a2[i]))
        rest[i] -= td
        a2[i] -= t2
        took[i] += t2
        lacking[i] -= t2 * area + td * (1.0 - area)
    for i in range(n):
        t0 = min(pull[i] * b0[i] * inv_area, max(0.0, a0[i]))
        t1 = min(pull[i] * b1[i] * inv_area, max(0.0, a1[i]))
        a0[i] -= t0
        a1[i] -= t1
        seen[i] = min(store[t, i], seen[i] + (took[i] + t0 + t1) * inv_demand[i])
        for_dry = max(0.0, lacking[i] - (t0 + t1) * area)
        s_dry[i] += y_dry * (for_dry + SEVERE_TIMES * max(0.0, for_dry - severe * et[t, i]))


@njit(
    cache=True, nogil=True, _nrt=False, forceinline=True, pipeline_class=_NoAlias, error_model="numpy", fastmath=_FAST
)  # type: ignore[untyped-decorator]
def _through_the_wall(
    n: int, t: int, fix: Any, et: Any, layer: Any, a0: Any, a1: Any, a2: Any, seen: Any, store: Any, inv_demand: Any
) -> None:  # fmt: skip
    """What a porous pot loses through its wall."""
    wall0, wall1, wall2 = fix[WALL_0], fix[WALL_1], fix[WALL_2]
    for i in range(n):
        lost0 = wall0 * et[t, i] * min(1.0, max(0.0, (a0[i] - layer[LOW, 0, i]) * layer[INV_TAW, 0, i]))
        lost1 = wall1 * et[t, i] * min(1.0, max(0.0, (a1[i] - layer[LOW, 1, i]) * layer[INV_TAW, 1, i]))
        lost2 = wall2 * et[t, i] * min(1.0, max(0.0, (a2[i] - layer[LOW, 2, i]) * layer[INV_TAW, 2, i]))
        a0[i] -= lost0
        a1[i] -= lost1
        a2[i] -= lost2
        seen[i] = min(store[t, i], seen[i] + (lost0 + lost1 + lost2) * inv_demand[i])


@njit(
    cache=True, nogil=True, _nrt=False, forceinline=True, pipeline_class=_NoAlias, error_model="numpy", fastmath=_FAST
)  # type: ignore[untyped-decorator]
def _spread_patch(
    n: int, new: float, taw0: Any, taw1: Any, taw2: Any, rest_inv: Any, a0: Any, a1: Any, a2: Any, rest: Any
) -> None:
    """A watered patch that grows takes over the soil around it as dry as that is."""
    for i in range(n):
        around = rest[i] * rest_inv[i]
        a0[i] += new * (around / taw0[i] - a0[i])
        a1[i] += new * (around / taw1[i] - a1[i])
        a2[i] += new * (around / taw2[i] - a2[i])


@njit(
    cache=True, nogil=True, _nrt=False, forceinline=True, pipeline_class=_NoAlias, error_model="numpy", fastmath=_FAST
)  # type: ignore[untyped-decorator]
def _ails(
    n: int, t: int, day: Any, layer: Any, a0: Any, a1: Any, a2: Any, used: Any, inv_store: Any,
    s_swing: Any, s_damp: Any, s_seed: Any,
) -> None:  # fmt: skip
    """What ails some crops besides: swings, a surface that never dries, a seedbed that dries through."""
    swing, damp, seed = day[t, LOSE_SWING], day[t, LOSE_DAMP], day[t, LOSE_SEED]
    r0, r1, r2 = day[t, REACH_0], day[t, REACH_1], day[t, REACH_2]
    inv_left, inv_within = 1.0 / (1.0 - SEED_FROM), 1.0 / DAMP_WITHIN
    for i in range(n):
        lacks = (
            r0 * max(0.0, layer[FULL, 0, i] - a0[i])
            + r1 * max(0.0, layer[FULL, 1, i] - a1[i])
            + r2 * max(0.0, layer[FULL, 2, i] - a2[i])
        )
        after = min(1.0, lacks * inv_store[t, i])
        dry = max(0.0, used[i] - SWING_FROM)
        s_swing[i] += swing * dry * dry * max(0.0, used[i] - after)
        dried = max(0.0, layer[FULL, 0, i] - a0[i]) * layer[INV_TAW, 0, i]
        s_damp[i] += damp * max(0.0, 1.0 - dried * inv_within)
        s_seed[i] += seed * max(0.0, after - SEED_FROM) * inv_left


@njit(cache=True, nogil=True, _nrt=False, pipeline_class=_NoAlias, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _act(
    n: int, feet: int, is_ailing: bool, first_mm: float, patience: float, fill: float, fix: Any, day: Any, layer: Any,
    delivery: Any, tew: Any, inv_two: Any, inv_demand: Any, rest_full: Any, rest_inv: Any,
    full0: Any, full1: Any, full2: Any, low0: Any, low1: Any, taw0: Any, taw1: Any, taw2: Any,
    a0: Any, a1: Any, a2: Any, skin: Any, airless: Any, seen: Any, rest: Any, saucer: Any,
    eto: Any, rain: Any, rain_rest: Any, off_rest: Any, bare_rest: Any, store: Any, inv_store: Any,
    by_night: Any, used: Any, gone: Any, work: Any, took: Any, b0: Any, b1: Any, pull: Any, lacking: Any,
    s_dry: Any, s_wet: Any, s_swing: Any, s_damp: Any, s_seed: Any, s_put: Any, s_drained: Any, s_visits: Any,
) -> None:  # fmt: skip
    """One candidate through all steps."""
    holds = fix[SAUCER]
    has_wall = fix[WALL_0] > 0.0
    for t in range(day.shape[0]):
        if day[t, MIX] > 0.0:
            _spread_patch(n, day[t, MIX], taw0, taw1, taw2, rest_inv, a0, a1, a2, rest)
        over = _arrives(
            n, t, feet, first_mm, patience, fill, day, fix, delivery, full0, full1, full2, taw0,
            a0, a1, a2, skin, seen, rest, rest_full, eto, rain, rain_rest, off_rest, store, inv_store, by_night,
            used, gone, work, took, s_put, s_visits,
        )  # fmt: skip
        if over > 0.0:
            _drains(n, t, day, fix, layer, a0, a1, a2, gone, work)
        else:
            for i in range(n):
                work[i] = 0.0
        if holds > 0.0:
            for i in range(n):
                kept = min(gone[i], holds - saucer[i])
                back = min(saucer[i] + kept, max(0.0, full2[i] - a2[i]))
                a2[i] += back
                off = min(saucer[i] + kept - back, 0.1 * eto[t, i])
                saucer[i] += kept - back - off
                gone[i] -= kept
        for i in range(n):
            s_drained[i] += gone[i]
        _leaves(
            n, t, feet, day, fix, tew, inv_two, inv_demand, rest_inv, low0, low1, taw0, taw1, taw2, a0, a1, a2,
            skin, airless, seen, rest, eto, bare_rest, store, work, took, b0, b1, pull, lacking, s_dry, s_wet,
        )  # fmt: skip
        if has_wall:
            _through_the_wall(n, t, fix, eto, layer, a0, a1, a2, seen, store, inv_demand)
        if is_ailing:
            _ails(n, t, day, layer, a0, a1, a2, used, inv_store, s_swing, s_damp, s_seed)


@njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def roll(
    first: int, last: int, feet: int, first_mm: Any, patience: Any, fill: Any, fix: Any, lane: Any, layer: Any, sky: Any,
    day: Any, water: Any, held: Any, sums: Any,
) -> None:  # fmt: skip
    """Roll candidates ``first`` to ``last`` (not included) forward from one start; ``sums`` is filled.

    ``first_mm``, ``patience``, ``fill``: (C,) what is put on at the first step over the watered part, what the rule's limit is
    multiplied by afterwards, and what share of the missing water it fills. ``water``: (LUMPS, M), ``held``: (len(HELD), M).
    """
    steps, n = day.shape[0], water.shape[1]
    a = np.empty((LUMPS, n))
    h = np.empty((len(HELD), n))
    work = np.empty((8, n))
    is_ailing = False
    for t in range(steps):
        is_ailing = is_ailing or day[t, LOSE_SWING] + day[t, LOSE_DAMP] + day[t, LOSE_SEED] > 0.0
    r0, r1, r2 = day[steps - 1, REACH_0], day[steps - 1, REACH_1], day[steps - 1, REACH_2]
    for c in range(first, last):
        s = sums[c]
        for i in range(n):
            for k in range(LUMPS):
                a[k, i] = water[k, i]
            for k in range(h.shape[0]):
                h[k, i] = held[k, i]
            for k in range(s.shape[0]):
                s[k, i] = 0.0
        _act(
            n, feet, is_ailing, first_mm[c], patience[c], fill[c], fix, day, layer,
            lane[DELIVERY], lane[TEW], lane[INV_STAGE_TWO], lane[INV_DEMAND], lane[REST_FULL], lane[REST_INV_TAW],
            layer[FULL, 0], layer[FULL, 1], layer[FULL, 2], layer[LOW, 0], layer[LOW, 1],
            layer[INV_TAW, 0], layer[INV_TAW, 1], layer[INV_TAW, 2],
            a[0], a[1], a[2], h[SKIN], h[AIRLESS], h[SEEN], h[REST], h[IN_SAUCER],
            sky[ETO], sky[RAIN], sky[RAIN_REST], sky[OFF_REST], sky[BARE_REST], sky[STORE], sky[INV_STORE],
            sky[RAIN_BY_NIGHT], work[0], work[1], work[2], work[3], work[4], work[5], work[6], work[7],
            s[S_DRY], s[S_WET], s[S_SWING], s[S_DAMP], s[S_SEED], s[S_PUT], s[S_DRAINED], s[S_VISITS],
        )  # fmt: skip
        for i in range(n):
            s[S_MISSING, i] = (
                r0 * max(0.0, layer[FULL, 0, i] - a[0, i])
                + r1 * max(0.0, layer[FULL, 1, i] - a[1, i])
                + r2 * max(0.0, layer[FULL, 2, i] - a[2, i])
            )
