"""The soil-water balance of columns, step by step: what numba compiles.

Order within a step: water arrives, rain and what was put on (a mulch holds the first of it, a dried-out mix lets part run
straight through) → what was put on goes in, rain goes in up to what the soil takes and the rest runs off → layers drain downwards above field capacity, no faster than the layer below takes water in (Green-Ampt) →
soil evaporates → roots draw, more from where it is wet (N. J. Jarvis, J. Hydrol. 107:57-72, 1989). So water that arrives is drained before it is used: the convention of the table of FAO-56
Example 38, not of its Eq. 88 as printed.

Every process is a function of ``soakbook.physics``; here is only the order, and the sums that keep the balance closed.
Loops over members are innermost and free of branches, so that the compiler works on several members at once.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numba.core.compiler import Compiler

from soakbook.balance.columns import (
    AIR_NEEDED,
    AREA_WET,
    DEPLETION_P,
    DRAINAGE,
    DRY_BYPASS,
    DRY_FROM,
    ENOUGH,
    EVAPORATION,
    EVAPORATION_WET,
    FEW_DRY,
    FEW_WET,
    HOLD,
    HOURS,
    INTO_WET,
    IRRIGATION,
    KC_MAX,
    KCB,
    KE_CUT,
    OVERHEAD,
    RAIN,
    RUNOFF,
    SAUCER,
    SOGGY,
    STRESS,
    TRANSPIRATION,
    TRANSPIRATION_WET,
    WALL,
    WANTED,
)
from soakbook.machine_code import use_cache
from soakbook.physics import evaporation, infiltration

use_cache()

#: Members worked on together: the state and parameters of a block stay in the first-level cache.
BLOCK = 64

_FAST = {"contract", "arcp", "nsz", "reassoc"}


class _NoAlias(Compiler):  # type: ignore[misc]
    """Tells the compiler that the arrays of a function do not overlap, which it needs in order to vectorise loops that
    touch more than a few of them."""

    def __init__(self, *args: Any) -> None:
        super().__init__(*args)
        self.state.flags.noalias = True


_reduction = njit(evaporation.evaporation_reduction, fastmath=_FAST)
_coefficient = njit(evaporation.evaporation_coefficient, fastmath=_FAST)
_drained = njit(infiltration.drained_excess, fastmath=_FAST)
_ponded = njit(infiltration.ponded_depth_explicit_mm, fastmath=_FAST)


@njit(cache=True, nogil=True, pipeline_class=_NoAlias, error_model="numpy", fastmath=_FAST)  # type: ignore[untyped-decorator]
def _block(
    p: int, lo: int, n: int, feet: int, layers: int, steps: int, weather: int, slots: Any, hours: float,
    wp: Any, fc: Any, sat: Any, ks: Any, inv_taw: Any, inv_drain: Any,
    rew: Any, tew: Any, suction: Any, intake: Any, demand: Any, catch: Any, delivery: Any,
    water: Any, skin: Any, hold: Any, saucer: Any, airless: Any,
    eto: Any, into: Any, move: Any, straight: Any, low: Any, kr: Any, exposed: Any,
    sum_b: Any, caught: Any, sum_air: Any, want: Any, got: Any, flux: Any, totals: Any,
    eto_in: Any, rain_in: Any, put_on: Any, crop: Any, roots: Any, thickness: Any, evaporating: Any, fixed: Any, start_area: Any,
    fluxes: Any, kept_water: Any, kept_skin: Any,
) -> None:  # fmt: skip
    """Run members ``lo`` to ``lo + n`` of place ``p`` through all steps. All arrays are distinct.

    What stands at the end of step ``t`` goes to place ``slots[t]`` of the kept arrays, unless that is negative. ``flux`` adds up from
    step to step until it is kept (where fluxes are): then it goes to ``totals`` and starts again.
    """
    hold_max, saucer_max, dry_from, bypass = fixed[p, HOLD], fixed[p, SAUCER], fixed[p, DRY_FROM], fixed[p, DRY_BYPASS]
    wall, air_needed = fixed[p, WALL], fixed[p, AIR_NEEDED]
    lag = 1.0 - np.exp(-hours / 24.0)
    inv_dry_from = 1.0 / dry_from if dry_from > 0.0 else 0.0
    overhead = fixed[p, OVERHEAD]
    inv_air, inv_enough = 1.0 / air_needed, 1.0 / fixed[p, ENOUGH]
    area_before = start_area[p]
    for t in range(steps):
        area_wet = crop[p, t, AREA_WET]
        if area_wet != area_before:  # the watered patch has grown or shrunk: it takes water over as it stands
            grown = max(area_wet, area_before)
            into_f = 0 if area_wet > area_before else 1
            whole = area_wet if into_f == 0 else 1.0 - area_wet
            new = (grown - min(area_wet, area_before)) / whole
            here, there = into_f * layers, (1 - into_f) * layers
            for k in range(layers):
                for i in range(n):
                    water[here + k, i] += new * (water[there + k, i] - water[here + k, i])
            for i in range(n):
                skin[into_f, i] += new * (skin[1 - into_f, i] - skin[into_f, i])
                hold[into_f, i] += new * (hold[1 - into_f, i] - hold[into_f, i])
            area_before = area_wet
        kcb, kc_max, p_today = crop[p, t, KCB], crop[p, t, KC_MAX], crop[p, t, DEPLETION_P]
        ke_cut, arrives = crop[p, t, KE_CUT], crop[p, t, HOURS]
        # Such that an evenly dry soil supplies what FAO-56 says: all until p is used, then less in proportion.
        inv_1p = fixed[p, ENOUGH] / (1.0 - p_today)
        eto_now, rain_now = eto_in[weather, t, lo : lo + n], rain_in[weather, t, lo : lo + n]
        for i in range(n):
            eto[i] = eto_now[i] * demand[i]
            caught[i] = rain_now[i] * catch[i]
            flux[RAIN, i] += caught[i]
            low[i] = 0.0
            sum_air[i] = 0.0
            sum_b[i] = 0.0
        for f in range(feet):
            area = area_wet if f == 0 else 1.0 - area_wet
            few = crop[p, t, FEW_WET] if f == 0 else crop[p, t, FEW_DRY]
            r = f * layers
            first = 1.0 if f == 0 else 0.0
            applied = put_on[p, t, f]
            inv_thick = 1.0 / thickness[p, 0]
            for i in range(n):
                put = applied * delivery[i]
                flux[IRRIGATION, i] += put * area
                arriving = caught[i] + put
                on_mulch = min(caught[i] + overhead * put, max(0.0, hold_max - hold[f, i]))
                hold[f, i] += on_mulch
                dry = min(1.0, max(0.0, (dry_from - (water[r, i] - wp[0, i]) * inv_taw[0, i]) * inv_dry_from))
                past = bypass * dry * (arriving - on_mulch)
                straight[i] = past
                reach = arriving - on_mulch - past
                deficit = max(1e-6, (sat[0, i] - water[r, i]) * inv_thick) * suction[i]
                given = min(
                    put * (1.0 - overhead) + overhead * max(0.0, put - on_mulch), reach
                )  # by hand or line, in as many goes as the soil asks for
                wet = given + min(reach - given, _ponded(intake[i], deficit, arrives))
                flux[RUNOFF, i] += (reach - wet) * area
                flux[INTO_WET, i] += wet * first
                move[i] = wet
                skin[f, i] = max(0.0, skin[f, i] - wet)
            any_over = 0.0
            for k in range(layers):
                below = min(k + 1, layers - 1)
                inv_below = 1.0 / thickness[p, below] if k < layers - 1 else 0.0  # below the last: gravity alone
                any_wet = 0.0  # most layers are below field capacity on most days: then nothing moves in the block
                for i in range(n):
                    water[r + k, i] += move[i]
                    move[i] = max(0.0, (water[r + k, i] - fc[k, i]) * inv_drain[k, i])
                    any_wet += move[i]
                if any_wet > 0.0:
                    any_fast = 0.0
                    for i in range(n):
                        left = _drained(move[i], ks[k, i] * inv_drain[k, i], hours)
                        move[i] = (move[i] - left) * (sat[k, i] - fc[k, i])
                        water[r + k, i] -= move[i]
                        any_fast += max(0.0, move[i] - ks[below, i] * hours)
                        any_over += max(0.0, water[r + k, i] - sat[k, i])
                    if any_fast > 0.0:  # more than gravity alone would carry on: the layer below may not take it all
                        for i in range(n):
                            room = max(1e-6, (sat[below, i] - water[r + below, i]) * inv_below) * suction[i]
                            back = max(0.0, move[i] - _ponded(ks[below, i], room, hours))
                            move[i] -= back
                            water[r + k, i] += back
                            any_over += max(0.0, water[r + k, i] - sat[k, i])
            for i in range(n):
                low[i] += (move[i] + straight[i]) * area
                move[i] = 0.0  # now what finds no pore space and backs up
            if any_over > 0.0:
                for k in range(layers - 1, -1, -1):
                    for i in range(n):
                        w = water[r + k, i] + move[i]
                        over = max(0.0, w - sat[k, i])
                        water[r + k, i] = w - over
                        move[i] = over
            for i in range(n):
                flux[RUNOFF, i] += move[i] * area
                flux[INTO_WET, i] -= move[i] * first
                kr[f, i] = _reduction(skin[f, i], tew[i], rew[i])
                exposed[f, i] = few * max(1e-9, tew[i] - skin[f, i])
        for i in range(n):
            flux[DRAINAGE, i] += low[i]
        if saucer_max > 0.0:  # it takes what comes out below, and gives it back to the lowest layer
            for i in range(n):
                kept = min(low[i], saucer_max - saucer[i])
                flux[DRAINAGE, i] -= kept
                back = min(saucer[i] + kept, max(0.0, fc[layers - 1, i] - water[layers - 1, i]))
                water[layers - 1, i] += back
                off_saucer = min(saucer[i] + kept - back, 0.1 * eto[i])
                saucer[i] += kept - back - off_saucer
                flux[EVAPORATION, i] += off_saucer
        # Evaporation: mulch first, then soil as the energy left and the surface allow.
        for f in range(feet):
            area = area_wet if f == 0 else 1.0 - area_wet
            few = crop[p, t, FEW_WET] if f == 0 else crop[p, t, FEW_DRY]
            r = f * layers
            inv_area = 1.0 / area if area > 0.0 else 0.0
            first = 1.0 if f == 0 else 0.0
            inv_few = 1.0 / few if few > 0.0 else 0.0
            for i in range(n):
                off_mulch = min(hold[f, i], max(0.0, kc_max - kcb) * eto[i])
                hold[f, i] -= off_mulch
                share = exposed[f, i] / max(1e-12, exposed[0, i] + exposed[feet - 1, i] * (feet - 1))
                ke = _coefficient(kr[f, i] * share, kc_max, kcb, few) * ke_cut
                got[i] = max(0.0, ke * eto[i] - off_mulch * area) * inv_area
                flux[EVAPORATION, i] += off_mulch * area
                move[i] = 0.0
            for k in range(layers):
                part = evaporating[p, k]
                if part > 0.0:
                    for i in range(n):
                        move[i] += part * max(0.0, water[r + k, i] - 0.5 * wp[k, i])
            for i in range(n):
                got[i] = min(got[i], move[i])
                move[i] = got[i] / max(1e-12, move[i])
                skin[f, i] = min(tew[i], skin[f, i] + got[i] * area * inv_few)
                flux[EVAPORATION, i] += got[i] * area
                flux[EVAPORATION_WET, i] += got[i] * first
            for k in range(layers):
                part = evaporating[p, k]
                if part > 0.0:
                    for i in range(n):
                        water[r + k, i] -= move[i] * part * max(0.0, water[r + k, i] - 0.5 * wp[k, i])
            # What the roots find: at ease where less than p is used, and how airless it is for them.
            for k in range(layers):
                weight = roots[p, t, f, k]
                inv_thick = 1.0 / thickness[p, k]
                if weight > 0.0:
                    for i in range(n):
                        at_ease = min(1.0, max(0.0, (water[r + k, i] - wp[k, i]) * inv_taw[k, i] * inv_1p))
                        sum_b[i] += weight * at_ease
                        air = (sat[k, i] - water[r + k, i]) * inv_thick
                        sum_air[i] += weight * max(0.0, 1.0 - air * inv_air)
        for i in range(n):
            airless[i] += lag * (sum_air[i] - airless[i])
            dry_stress = min(1.0, sum_b[i] * inv_enough)
            wet_stress = 1.0 - airless[i]
            flux[STRESS, i] += dry_stress
            flux[SOGGY, i] += wet_stress
            flux[WANTED, i] += kcb * eto[i]
            want[i] = kcb * eto[i] * dry_stress * wet_stress / max(1e-12, sum_b[i])
        for f in range(feet):
            area = area_wet if f == 0 else 1.0 - area_wet
            inv_area = 1.0 / area if area > 0.0 else 0.0
            first = 1.0 if f == 0 else 0.0
            r = f * layers
            for k in range(layers):
                weight = roots[p, t, f, k]
                if weight > 0.0:
                    for i in range(n):
                        above = max(0.0, water[r + k, i] - wp[k, i])
                        at_ease = min(1.0, above * inv_taw[k, i] * inv_1p)
                        drawn = min(want[i] * weight * at_ease * inv_area, above)
                        water[r + k, i] -= drawn
                        flux[TRANSPIRATION, i] += drawn * area
                        flux[TRANSPIRATION_WET, i] += drawn * first
            if wall > 0.0:
                for k in range(layers):
                    part = thickness[p, k]
                    for i in range(n):
                        above = max(0.0, water[r + k, i] - 0.5 * wp[k, i])
                        lost = min(wall * part * eto[i] * min(1.0, above * inv_taw[k, i]), above)
                        water[r + k, i] -= lost
                        flux[EVAPORATION, i] += lost * area
                        flux[EVAPORATION_WET, i] += lost * first
        slot = slots[t]
        if slot >= 0:
            if fluxes.shape[1] > 0:
                for q in range(flux.shape[0]):
                    out = fluxes[p, slot, q, lo : lo + n]
                    for i in range(n):
                        out[i] = flux[q, i]
                        totals[q, i] += flux[q, i]
                        flux[q, i] = 0.0
            for f in range(feet):
                out = kept_skin[p, slot, f, lo : lo + n]
                for i in range(n):
                    out[i] = skin[f, i]
                for k in range(layers):
                    out = kept_water[p, slot, f, k, lo : lo + n]
                    for i in range(n):
                        out[i] = water[f * layers + k, i]


@njit(cache=True, nogil=True, error_model="numpy")  # type: ignore[untyped-decorator]
def run_places(
    first: int, last: int, feet: int, slots: Any, hours: float,
    wp: Any, fc: Any, sat: Any, ks: Any, thickness: Any, evaporating: Any, rew: Any, tew: Any, suction: Any, intake: Any,
    demand: Any, catch: Any, delivery: Any, fixed: Any, weather_of: Any,
    eto_in: Any, rain_in: Any, put_on: Any, crop: Any, roots: Any,
    water: Any, skin: Any, hold: Any, saucer: Any, airless: Any,
    start_area: Any, totals: Any, fluxes: Any, kept_water: Any, kept_skin: Any,
) -> None:  # fmt: skip
    """Run places ``first`` to ``last`` (not included); the state arrays are changed in place."""
    layers, members = wp.shape[1], wp.shape[2]
    steps, nflux = crop.shape[1], totals.shape[1]
    size = min(BLOCK, members)
    layer = np.empty((6, layers, size))
    lane = np.empty((7, size))
    b_water = np.empty((feet * layers, size))
    b_foot = np.empty((4, feet, size))
    b_lane = np.empty((12, size))
    b_flux = np.empty((nflux, size))
    b_total = np.empty((nflux, size))
    for p in range(first, last):
        for lo in range(0, members, size):
            n = min(size, members - lo)
            for k in range(layers):
                for i in range(n):
                    layer[0, k, i] = wp[p, k, lo + i]
                    layer[1, k, i] = fc[p, k, lo + i]
                    layer[2, k, i] = sat[p, k, lo + i]
                    layer[3, k, i] = ks[p, k, lo + i]
                    layer[4, k, i] = 1.0 / (fc[p, k, lo + i] - wp[p, k, lo + i])
                    layer[5, k, i] = 1.0 / (sat[p, k, lo + i] - fc[p, k, lo + i])
                    for f in range(feet):
                        b_water[f * layers + k, i] = water[p, f, k, lo + i]
            for i in range(n):
                lane[0, i], lane[1, i] = rew[p, lo + i], tew[p, lo + i]
                lane[2, i], lane[3, i] = suction[p, lo + i], intake[p, lo + i]
                lane[4, i], lane[5, i], lane[6, i] = demand[p, lo + i], catch[p, lo + i], delivery[p, lo + i]
                b_lane[0, i], b_lane[1, i] = saucer[p, lo + i], airless[p, lo + i]
                for f in range(feet):
                    b_foot[0, f, i], b_foot[1, f, i] = skin[p, f, lo + i], hold[p, f, lo + i]
                for q in range(nflux):
                    b_total[q, i] = 0.0
                    b_flux[q, i] = 0.0
            _block(
                p, lo, n, feet, layers, steps, weather_of[p], slots, hours,
                layer[0], layer[1], layer[2], layer[3], layer[4], layer[5],
                lane[0], lane[1], lane[2], lane[3], lane[4], lane[5], lane[6],
                b_water, b_foot[0], b_foot[1], b_lane[0], b_lane[1],
                b_lane[2], b_lane[3], b_lane[4], b_lane[5], b_lane[6], b_foot[2], b_foot[3],
                b_lane[7], b_lane[8], b_lane[9], b_lane[10], b_lane[11], b_flux, b_total,
                eto_in, rain_in, put_on, crop, roots, thickness, evaporating, fixed, start_area,
                fluxes, kept_water, kept_skin,
            )  # fmt: skip
            for i in range(n):
                saucer[p, lo + i], airless[p, lo + i] = b_lane[0, i], b_lane[1, i]
                for f in range(feet):
                    skin[p, f, lo + i], hold[p, f, lo + i] = b_foot[0, f, i], b_foot[1, f, i]
                    for k in range(layers):
                        water[p, f, k, lo + i] = b_water[f * layers + k, i]
                for q in range(nflux):
                    totals[p, q, lo + i] = b_total[q, i] + b_flux[q, i]
