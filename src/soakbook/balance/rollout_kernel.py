"""Acts rolled forward over reduced columns, compiled: what the costs of a decision are made of, and nothing else.

A reduced column has three layers under the watered part (the drying surface, upper roots, lower roots to the reach) and one
under the rest, all counted from the wilting point. The order within a step is that of :mod:`soakbook.balance.kernel`: water
arrives and drains, soil evaporates, roots draw. After the first act the rule goes on: it waters a member when what is thought
missing passes the limit, and fills up what is thought missing, less the rain of that day. What is *thought* missing (``seen``) starts with what the place
as a whole is thought to lack and goes by the weather; a share ``known`` of the difference to what the member really lacks is
taken to be noticed by whoever tends the place.

Loops over members are innermost, candidates are outside; members are copied into whole vectors of single precision first. The loops are
in :mod:`soakbook.balance.rollout_steps`, axes and names in :mod:`soakbook.balance.rollout_names`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from soakbook.balance import rollout_names as at
from soakbook.balance import rollout_steps as step
from soakbook.balance.kernel import _NoAlias

_lacks, _asks, _arrives, _drains, _backs_up = step.lacks, step.asks, step.arrives, step.drains, step.backs_up
_fills_saucer, _evaporates, _finds, _pulls, _draws = (
    step.fills_saucer,
    step.evaporates,
    step.finds,
    step.pulls,
    step.draws,
)
_spread_patch, _wall, _ails = step.spread_patch, step.through_the_wall, step.ails
_f = step.Real

#: Rows of what a lane holds, and of what is worked with within a step.
_STATE, _WORK = at.LUMPS + len(at.HELD), 12
#: Row of the weather in which what the rest of the area gains a step comes to stand.
_GAINS = at.RAIN_REST
#: A limit that nothing passes.
_NEVER = _f(1e30)

#: What a step's numbers come to for all members and candidates, besides :data:`soakbook.balance.rollout_names.DAY`.
_MADE = (
    "inv_area", "inv_few", "inv_rest",  # 1 / area, area / exposed part, 1 / rest of the area (0 without one)
    "energy", "cap",  # what the soil may evaporate over the watered part, per mm of ETo: by the energy left, and by what is exposed
    "take_0", "take_1", "take_2", "take_rest",  # share of uptake per unit of the layer's part left
    "ahead_0", "ahead_1", "ahead_2", "ahead_rest",  # what the layer loses until the middle of the step, per mm of ETo
)  # fmt: skip
(
    _INV_AREA, _INV_FEW, _INV_REST, _ENERGY, _CAP, _TAKE_0, _TAKE_1, _TAKE_2, _TAKE_REST, _AHEAD_0, _AHEAD_1, _AHEAD_2, _AHEAD_REST,
) = range(len(_MADE))  # fmt: skip


@njit(cache=True, nogil=True, _nrt=False, error_model="numpy")  # type: ignore[untyped-decorator]
def _make(d: Any, fix: Any, feet: int, made: Any) -> None:
    """A row of :data:`_MADE`."""
    area, few, kcb, p1, half = d[at.AREA], d[at.FEW], d[at.KCB], d[at.INV_1P], fix[at.HALF]
    made[_INV_AREA] = 1.0 / area
    made[_INV_FEW] = area / few if few > 0.0 else 0.0
    inv_rest = 1.0 / (1.0 - area) if feet == 2 and area < 1.0 else 0.0
    made[_INV_REST] = inv_rest
    made[_ENERGY] = (d[at.KC_MAX] - kcb) * d[at.KE_CUT] / area
    made[_CAP] = few * d[at.KC_MAX] * d[at.KE_CUT] / area
    for k in range(at.LUMPS):
        made[_TAKE_0 + k] = d[at.ROOT_0 + k] * p1
        made[_AHEAD_0 + k] = half * kcb / area * d[at.ROOT_0 + k]
    made[_TAKE_REST] = d[at.ROOT_DRY] * p1
    made[_AHEAD_REST] = half * kcb * inv_rest * d[at.ROOT_DRY]


@njit(cache=True, nogil=True, _nrt=False, error_model="numpy")  # type: ignore[untyped-decorator]
def _copy(values: Any, made: Any) -> None:
    """Copied into single precision, and filled up by repeating the first."""
    for i in range(len(values)):
        made[i] = values[i]
    for i in range(len(values), len(made)):
        made[i] = values[0]


@njit(cache=True, nogil=True, _nrt=False, pipeline_class=_NoAlias, error_model="numpy")  # type: ignore[untyped-decorator]
def _act(
    n: int, first_mm: Any, patience: Any, share: Any, fix: Any, day: Any, made: Any, lane: Any, layer: Any, sky: Any,
    a0: Any, a1: Any, a2: Any, skin: Any, airless: Any, seen: Any, rest: Any, saucer: Any,
    s_dry: Any, s_wet: Any, s_swing: Any, s_damp: Any, s_seed: Any, s_put: Any, s_drained: Any, s_visits: Any, s_missing: Any,
    before: Any, put: Any, gone: Any, took: Any, airless_now: Any, b0: Any, b1: Any, b2: Any, b_rest: Any, ease: Any, pull: Any, lacking: Any,
) -> None:  # fmt: skip
    """One candidate through all steps. The arrays are distinct."""
    full0, full1, full2 = layer[at.FULL, 0], layer[at.FULL, 1], layer[at.FULL, 2]
    low0, low1, low2 = layer[at.LOW, 0], layer[at.LOW, 1], layer[at.LOW, 2]
    taw0, taw1, taw2 = layer[at.INV_TAW, 0], layer[at.INV_TAW, 1], layer[at.INV_TAW, 2]
    inv_demand, rest_inv = lane[at.INV_DEMAND], lane[at.REST_INV_TAW]
    inv_air = (fix[at.INV_AIR_0], fix[at.INV_AIR_1], fix[at.INV_AIR_2])
    dried = (fix[at.DRY_FROM], fix[at.INV_DRY_FROM], fix[at.BYPASS])
    last = day.shape[0] - 1
    for t in range(last + 1):
        d, by = day[t], made[t]
        et, store = sky[at.ETO, t], sky[at.STORE, t]
        reach = (d[at.REACH_0], d[at.REACH_1], d[at.REACH_2])
        roots = (d[at.ROOT_0], d[at.ROOT_1], d[at.ROOT_2])
        area, kcb = d[at.AREA], d[at.KCB]
        if d[at.MIX] > 0.0:
            _spread_patch(n, d[at.MIX], full0, full1, full2, rest_inv, a0, a1, a2, rest)
        # Nothing today means nothing all day; a pot that was watered in the morning may be again the same day.
        may = d[at.MAY_WATER] > 0.0 and t >= (1 if first_mm > 0.0 else fix[at.A_DAY])
        _lacks(n, reach, full0, full1, full2, a0, a1, a2, before)
        _asks(
            n, first_mm if t == 0 else _f(0.0), d[at.LIMIT] * patience if may else _NEVER, share,
            (d[at.JUDGE_NOW], d[at.JUDGE_LATER], d[at.EXPECTED_USE]), (fix[at.KNOWN], fix[at.LEAST]),
            before, store, et, sky[at.RAIN_BY_NIGHT, t], seen, put,
        )  # fmt: skip
        _arrives(
            n, area, fix[at.MULCH_TAKES], fix[at.EFFICIENCY], dried, taw0, lane[at.DELIVERY], sky[at.RAIN, t],
            a0, skin, seen, put, gone, s_put, s_visits,
        )  # fmt: skip
        _drains(n, full0, layer[at.DRAIN, 0], a0, a1)
        _drains(n, full1, layer[at.DRAIN, 1], a1, a2)
        _drains(n, full2, layer[at.DRAIN, 2], a2, gone)
        _backs_up(
            n, roots, inv_air, layer[at.SATURATED, 0], layer[at.SATURATED, 1], layer[at.SATURATED, 2],
            a0, a1, a2, gone, airless_now,
        )  # fmt: skip
        if fix[at.SAUCER] > 0.0:
            _fills_saucer(n, fix[at.SAUCER], et, full2, a2, saucer, gone)
        _evaporates(
            n, d[at.FEW], by[_INV_FEW], by[_ENERGY], by[_CAP], fix[at.SECOND], lane[at.TEW], lane[at.INV_STAGE_TWO],
            low0, low1, et, sky[at.BARE_REST, t], a0, a1, skin, took, gone, s_drained,
        )  # fmt: skip
        _finds(
            n, roots, (by[_TAKE_0], by[_TAKE_1], by[_TAKE_2]), (by[_AHEAD_0], by[_AHEAD_1], by[_AHEAD_2]),
            (d[at.ROOT_DRY], by[_TAKE_REST], by[_AHEAD_REST]), taw0, taw1, taw2, rest_inv, lane[at.REST_FULL], et, sky[_GAINS, t],
            a0, a1, a2, rest, b0, b1, b2, b_rest, ease,
        )  # fmt: skip
        _pulls(
            n, (kcb, fix[at.INV_ENOUGH], fix[at.LAG], d[at.LOSE_WET]), area, by[_INV_AREA], by[_INV_REST],
            et, airless, rest, airless_now, b_rest, ease, pull, lacking, s_wet,
        )  # fmt: skip
        _draws(
            n, kcb, area, d[at.LOSE_DRY], store, inv_demand, et, a0, a1, a2, seen, took, b0, b1, b2, pull, lacking, s_dry
        )  # fmt: skip
        if fix[at.WALL_0] > 0.0:
            wall = (fix[at.WALL_0], fix[at.WALL_1], fix[at.WALL_2])
            _wall(n, wall, low0, low1, low2, taw0, taw1, taw2, store, inv_demand, et, a0, a1, a2, seen)
        ill = (d[at.LOSE_SWING], d[at.LOSE_DAMP], d[at.LOSE_SEED])
        is_ill = ill[0] + ill[1] + ill[2] > 0.0
        if is_ill or t == last:
            _lacks(n, reach, full0, full1, full2, a0, a1, a2, s_missing)
        if is_ill:
            _ails(n, ill, full0, taw0, sky[at.INV_STORE, t], a0, before, s_missing, s_swing, s_damp, s_seed)


@njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def roll(
    width: int, first_mm: Any, patience: Any, fill: Any, feet: int, fix: Any, lane: Any, layer: Any, sky: Any, day: Any,
    water: Any, held: Any, seen: Any, sums: Any,
) -> None:  # fmt: skip
    """Roll candidates forward from one start; ``sums`` (C, len(SUMS), M) is filled.

    ``first_mm``, ``patience``, ``fill``: (C,) what is put on at the first step over the watered part, what the rule's limit is
    multiplied by afterwards, and what share of the missing water it fills. ``water``: (LUMPS, M), ``held``: (len(HELD), M), ``seen``:
    (M,) what is thought missing at the start, or nothing for the mean of what is. Members go in whole vectors of ``width``.
    """
    steps, members = day.shape[0], water.shape[1]
    n = (members + width - 1) // width * width
    fixed, table, made = (
        np.empty(len(at.FIX), _f),
        np.empty((steps, len(at.DAY)), _f),
        np.empty((steps, len(_MADE)), _f),
    )
    lanes, layers = np.empty((len(at.LANE), n), _f), np.empty((len(at.LAYER), at.LUMPS, n), _f)
    weather, begin = np.empty((len(at.SKY), steps, n), _f), np.empty((_STATE, n), _f)
    _copy(fix, fixed)
    for k in range(len(at.LANE)):
        _copy(lane[k], lanes[k])
    for k in range(at.LUMPS):
        _copy(water[k], begin[k])
        for q in range(len(at.LAYER)):
            _copy(layer[q, k], layers[q, k])
    for k in range(len(at.HELD)):
        _copy(held[k], begin[at.LUMPS + k])
    for t in range(steps):
        _copy(day[t], table[t])
        _make(day[t], fix, feet, made[t])
        for k in range(len(at.SKY)):
            _copy(sky[k, t], weather[k, t])
        for i in range(n):
            weather[_GAINS, t, i] = weather[at.RAIN_REST, t, i] - weather[at.OFF_REST, t, i] if feet == 2 else 0.0
    mean = 0.0
    for m in range(members):
        for k in range(at.LUMPS):
            mean += day[0, at.REACH_0 + k] * max(0.0, layer[at.FULL, k, m] - water[k, m]) / members
    for m in range(members):
        begin[at.LUMPS + at.SEEN, m] = seen[m] if len(seen) > 0 else mean
    h, s, w = np.empty((_STATE, n), _f), np.empty((len(at.SUMS), n), _f), np.empty((_WORK, n), _f)
    for c in range(len(first_mm)):
        for k in range(_STATE):
            for i in range(n):
                h[k, i] = begin[k, i]
        for k in range(len(at.SUMS)):
            for i in range(n):
                s[k, i] = 0.0
        _act(
            n, _f(first_mm[c]), _f(patience[c]), _f(fill[c] / fix[at.EFFICIENCY]), fixed, table, made, lanes, layers, weather,
            h[0], h[1], h[2], h[at.LUMPS + at.SKIN], h[at.LUMPS + at.AIRLESS], h[at.LUMPS + at.SEEN], h[at.LUMPS + at.REST],
            h[at.LUMPS + at.IN_SAUCER],
            s[at.S_DRY], s[at.S_WET], s[at.S_SWING], s[at.S_DAMP], s[at.S_SEED], s[at.S_PUT], s[at.S_DRAINED], s[at.S_VISITS],
            s[at.S_MISSING], w[0], w[1], w[2], w[3], w[4], w[5], w[6], w[7], w[8], w[9], w[10], w[11],
        )  # fmt: skip
        for k in range(len(at.SUMS)):
            for m in range(members):
                sums[c, k, m] = s[k, m]
