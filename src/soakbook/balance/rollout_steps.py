"""What happens to reduced columns within a step, compiled: the loops of :mod:`soakbook.balance.rollout_kernel`.

A lane is a member. Loops go over lanes, are free of branches and add nothing up over them (a sum has the compiler work on two vectors at a
time and leave the odd one to a slow end); ``et`` is ETo. Loops are short on purpose: a long one waits for its own divisions, while of
several short ones the processor works on many vectors at once. What members and a step have in common comes as plain numbers. ``s_``
are sums.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numba import njit

from soakbook.balance.kernel import _NoAlias

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


#: Lanes are in single precision: half as long, so that twice as many go into a vector. What comes out differs by some millionths, and no
#: member is watered on another day (tests/unit/advice/test_rollout.py); the account itself, :mod:`soakbook.balance.kernel`, is in double.
Real = np.float32
_ZERO, _HALF, _ONE = Real(0.0), Real(0.5), Real(1.0)
#: Kept away from nothing where it is divided by: a share of uptake or mm over the area, and mm of bare ground beside.
_LITTLE, _LEAST = Real(1e-9), Real(1e-12)
_DRAIN_A, _DRAIN_B, _DRAIN_C = Real(DRAIN_A), Real(DRAIN_B), Real(DRAIN_B + 0.5)
_SEVERE_FROM, _SEVERE_TIMES = Real(SEVERE_FROM), Real(SEVERE_TIMES)
_SWING_FROM, _SEED_FROM = Real(SWING_FROM), Real(SEED_FROM)
_INV_SEED, _INV_DAMP = Real(1.0 / (1.0 - SEED_FROM)), Real(1.0 / DAMP_WITHIN)
#: Part of the demand that leaves a saucer of standing water.
_OPEN = Real(0.1)

_loop: Callable[[Callable[..., None]], Callable[..., None]] = njit(
    cache=True, nogil=True, _nrt=False, forceinline=True, pipeline_class=_NoAlias, error_model="numpy",
    fastmath={"contract", "nsz"},
)  # fmt: skip


@_loop
def lacks(n: int, reach: Any, full0: Any, full1: Any, full2: Any, a0: Any, a1: Any, a2: Any, missing: Any) -> None:
    """What the watered part lacks within the rooting depth."""
    r0, r1, r2 = reach
    for i in range(n):
        missing[i] = (
            r0 * max(_ZERO, full0[i] - a0[i]) + r1 * max(_ZERO, full1[i] - a1[i]) + r2 * max(_ZERO, full2[i] - a2[i])
        )


@_loop
def asks(
    n: int, act: float, line: float, share: float, judge: Any, rule: Any, missing: Any, store: Any, et: Any, by_night: Any, seen: Any,
    put: Any,
) -> None:  # fmt: skip
    """What is put on: the act itself, or what the rule asks for where what it judges by passes ``line``, a part of the store."""
    now, later, expected = judge
    known, least = rule
    for i in range(n):
        thought = seen[i] + known * (missing[i] - seen[i])
        wants = max(_ZERO, thought - by_night[i])
        tonight = wants + expected * et[i]
        judged = min(now * thought + later * tonight, tonight)
        put[i] = act + (wants * share if (judged >= line * store[i]) & (wants >= least) else _ZERO)


@_loop
def arrives(
    n: int, area: float, mulch: float, efficiency: float, dried: Any, taw0: Any, delivery: Any, rain: Any,
    a0: Any, skin: Any, seen: Any, put: Any, gone: Any, s_put: Any, s_visits: Any,
) -> None:  # fmt: skip
    """What is put on, and rain, reach the soil; a mix that has dried takes water badly."""
    dry_from, inv_dry_from, bypass = dried
    for i in range(n):
        puts = put[i]
        arriving = max(_ZERO, puts * delivery[i] - mulch) + rain[i]
        dry = min(_ONE, max(_ZERO, (dry_from - a0[i] * taw0[i]) * inv_dry_from))
        past = bypass * dry * arriving
        arriving -= past
        gone[i] = past
        a0[i] += arriving
        skin[i] = max(_ZERO, skin[i] - arriving)
        seen[i] = max(_ZERO, (seen[i] - rain[i]) - puts * efficiency)
        s_put[i] += puts * area
        s_visits[i] += _ONE if puts > _ZERO else _ZERO


@_loop
def drains(n: int, full: Any, drain: Any, a: Any, below: Any) -> None:
    """What a layer holds above field capacity drains into the next."""
    for i in range(n):
        x = max(_ZERO, a[i] - full[i])
        u = x * drain[i]
        move = x * (u * u) * (_HALF + _DRAIN_B * u) / (_ONE + u * (_DRAIN_A + u * (_DRAIN_C + _DRAIN_B * u)))
        a[i] -= move
        below[i] += move


@_loop
def backs_up(
    n: int, roots: Any, inv_air: Any, sat0: Any, sat1: Any, sat2: Any, a0: Any, a1: Any, a2: Any, gone: Any, airless_now: Any
) -> None:  # fmt: skip
    """What finds no room backs up, and runs off at the top. How airless the roots then are."""
    w0, w1, w2 = roots
    i0, i1, i2 = inv_air
    for i in range(n):
        back2 = max(_ZERO, a2[i] - sat2[i])
        b1 = a1[i] + back2
        back1 = max(_ZERO, b1 - sat1[i])
        b0 = a0[i] + back1
        back0 = max(_ZERO, b0 - sat0[i])
        b0, b1, b2 = b0 - back0, b1 - back1, a2[i] - back2
        a0[i], a1[i], a2[i] = b0, b1, b2
        gone[i] += back0
        airless_now[i] = (
            w0 * max(_ZERO, _ONE - (sat0[i] - b0) * i0)
            + w1 * max(_ZERO, _ONE - (sat1[i] - b1) * i1)
            + w2 * max(_ZERO, _ONE - (sat2[i] - b2) * i2)
        )


@_loop
def fills_saucer(n: int, holds: float, et: Any, full2: Any, a2: Any, saucer: Any, gone: Any) -> None:
    """A saucer takes what comes out below and gives it back to the lowest layer."""
    for i in range(n):
        kept = min(gone[i], holds - saucer[i])
        back = min(saucer[i] + kept, max(_ZERO, full2[i] - a2[i]))
        a2[i] += back
        off = min(saucer[i] + kept - back, _OPEN * et[i])
        saucer[i] += kept - back - off
        gone[i] -= kept


@_loop
def evaporates(
    n: int, few: float, inv_few: float, energy: float, cap: float, second: float, tew: Any, inv_two: Any, low0: Any, low1: Any,
    et: Any, bare_rest: Any, a0: Any, a1: Any, skin: Any, took: Any, gone: Any, s_drained: Any,
) -> None:  # fmt: skip
    """Soil evaporates; and what has gone below is added up."""
    first = _ONE - second
    for i in range(n):
        dries = tew[i] - skin[i]
        bare = few * max(_LITTLE, dries)
        kr = min(_ONE, max(_ZERO, dries * inv_two[i]))
        ke = min(kr * energy * bare / (bare + bare_rest[i] + _LEAST), cap) * et[i]
        e0 = min(ke * first, a0[i] - low0[i])
        e1 = min(ke * second, a1[i] - low1[i])
        a0[i] -= e0
        a1[i] -= e1
        skin[i] = min(tew[i], skin[i] + (e0 + e1) * inv_few)
        took[i] = e0 + e1
        s_drained[i] += gone[i]


@_loop
def finds(
    n: int, roots: Any, take: Any, ahead: Any, beside: Any, taw0: Any, taw1: Any, taw2: Any, rest_inv: Any, rest_full: Any,
    et: Any, gains: Any, a0: Any, a1: Any, a2: Any, rest: Any, b0: Any, b1: Any, b2: Any, b_rest: Any, ease: Any,
) -> None:  # fmt: skip
    """What roots find in each layer and beside: at ease where less than p is used."""
    w0, w1, w2 = roots
    k0, k1, k2 = take
    h0, h1, h2 = ahead
    wd, kd, hd = beside
    for i in range(n):
        there = min(rest_full[i], max(_ZERO, rest[i] + gains[i]))
        rest[i] = there
        e0 = min(w0, max(_ZERO, (a0[i] - h0 * et[i]) * taw0[i] * k0))
        e1 = min(w1, max(_ZERO, (a1[i] - h1 * et[i]) * taw1[i] * k1))
        e2 = min(w2, max(_ZERO, (a2[i] - h2 * et[i]) * taw2[i] * k2))
        ed = min(wd, max(_ZERO, (there - hd * et[i]) * rest_inv[i] * kd))
        b0[i], b1[i], b2[i], b_rest[i] = e0, e1, e2, ed
        ease[i] = (e0 + e1) + (e2 + ed)


@_loop
def pulls(
    n: int, plant: Any, area: float, inv_area: float, inv_rest: float, et: Any, airless: Any, rest: Any, airless_now: Any,
    b_rest: Any, ease: Any, pull: Any, lacking: Any, s_wet: Any,
) -> None:  # fmt: skip
    """How hard roots draw in all, and what they draw beside; ``lacking`` is what they want beyond that and what the lack of air costs them."""
    kcb, inv_enough, lag, y_wet = plant
    left = _ONE - area
    for i in range(n):
        air = airless[i] + lag * (airless_now[i] - airless[i])
        airless[i] = air
        want = kcb * et[i]
        could = want * min(_ONE, ease[i] * inv_enough)
        lost = could * air
        draws = (could - lost) / max(_LITTLE, ease[i])
        td = min(draws * inv_rest * b_rest[i], rest[i])
        pull[i] = draws * inv_area
        rest[i] -= td
        lacking[i] = (want - lost) - td * left
        s_wet[i] += y_wet * lost


@_loop
def draws(
    n: int, kcb: float, area: float, y_dry: float, store: Any, inv_demand: Any, et: Any,
    a0: Any, a1: Any, a2: Any, seen: Any, took: Any, b0: Any, b1: Any, b2: Any, pull: Any, lacking: Any, s_dry: Any,
) -> None:  # fmt: skip
    """Roots draw, no more than there is; what that leaves lacking."""
    severe = _SEVERE_FROM * kcb
    for i in range(n):
        t0 = min(pull[i] * b0[i], max(_ZERO, a0[i]))
        t1 = min(pull[i] * b1[i], max(_ZERO, a1[i]))
        t2 = min(pull[i] * b2[i], max(_ZERO, a2[i]))
        a0[i] -= t0
        a1[i] -= t1
        a2[i] -= t2
        drawn = (t0 + t1) + t2
        seen[i] = min(store[i], seen[i] + (took[i] + drawn) * inv_demand[i])
        for_dry = max(_ZERO, lacking[i] - drawn * area)
        s_dry[i] += y_dry * (for_dry + _SEVERE_TIMES * max(_ZERO, for_dry - severe * et[i]))


@_loop
def through_the_wall(
    n: int, wall: Any, low0: Any, low1: Any, low2: Any, taw0: Any, taw1: Any, taw2: Any, store: Any, inv_demand: Any, et: Any,
    a0: Any, a1: Any, a2: Any, seen: Any,
) -> None:  # fmt: skip
    """What a porous pot loses through its wall."""
    wall0, wall1, wall2 = wall
    for i in range(n):
        lost0 = wall0 * et[i] * min(_ONE, max(_ZERO, (a0[i] - low0[i]) * taw0[i]))
        lost1 = wall1 * et[i] * min(_ONE, max(_ZERO, (a1[i] - low1[i]) * taw1[i]))
        lost2 = wall2 * et[i] * min(_ONE, max(_ZERO, (a2[i] - low2[i]) * taw2[i]))
        a0[i] -= lost0
        a1[i] -= lost1
        a2[i] -= lost2
        seen[i] = min(store[i], seen[i] + (lost0 + lost1 + lost2) * inv_demand[i])


@_loop
def spread_patch(
    n: int, new: float, full0: Any, full1: Any, full2: Any, rest_inv: Any, a0: Any, a1: Any, a2: Any, rest: Any
) -> None:  # fmt: skip
    """A watered patch that grows takes over the soil around it as dry as that is."""
    for i in range(n):
        around = rest[i] * rest_inv[i]
        a0[i] += new * (around * full0[i] - a0[i])
        a1[i] += new * (around * full1[i] - a1[i])
        a2[i] += new * (around * full2[i] - a2[i])


@_loop
def ails(
    n: int, ill: Any, full0: Any, taw0: Any, inv_store: Any, a0: Any, before: Any, after: Any, s_swing: Any, s_damp: Any,
    s_seed: Any,
) -> None:  # fmt: skip
    """What ails some crops besides: swings, a surface that never dries, a seedbed that dries through. Told what the watered part lacked
    before and lacks after the step."""
    swing, damp, seed = ill
    for i in range(n):
        was, used = before[i] * inv_store[i], min(_ONE, after[i] * inv_store[i])
        dry = max(_ZERO, was - _SWING_FROM)
        dried = max(_ZERO, full0[i] - a0[i]) * taw0[i]
        s_swing[i] += swing * dry * dry * max(_ZERO, was - used)
        s_damp[i] += damp * max(_ZERO, _ONE - dried * _INV_DAMP)
        s_seed[i] += seed * max(_ZERO, used - _SEED_FROM) * _INV_SEED
