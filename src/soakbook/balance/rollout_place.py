"""A place lumped: which layers of the full column stand together, what they hold, and what they hold this morning."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from soakbook.balance import columns as full
from soakbook.balance import rollout_names as names
from soakbook.balance.columns import State
from soakbook.balance.place import PlaceDays

FloatArray = NDArray[np.float64]
Groups = tuple[tuple[int, ...], ...]

#: Smallest soak the rule asks for. [mm over the watered part]
LEAST_MM = 1.0
#: Share of what a member lacks beyond what is thought that whoever tends the place will notice by looking. Judged.
NOTICED = 0.5


def groups_of(days: PlaceDays, today: int, last: int) -> Groups:
    """Layers of the full column that make up the three lumps: the drying surface, and two that share the roots below.

    What lies deeper than the roots come within the horizon is left out.
    """
    touched = int(np.max(np.nonzero(days.reach[today:last].max(axis=0) > 0.0)[0])) + 1
    layers = len(days.laid.edges_m) - 1
    if touched <= 3:
        return tuple((k,) for k in range(min(3, layers)))
    evaporating = days.laid.columns.evaporating[0]
    top = max(1, int(np.sum(evaporating > 0.5)))
    top = min(top, touched - 2)
    weights = days.forcing.roots[0, today * days.steps_a_day, 0, top:touched]
    if weights.sum() <= 0.0:
        middle = top + (touched - top) // 2
    else:
        middle = top + int(np.argmin(np.abs(np.cumsum(weights) - 0.55 * weights.sum()))) + 1
    middle = min(max(middle, top + 1), touched - 1)
    return tuple(range(top)), tuple(range(top, middle)), tuple(range(middle, touched))


def lumped(values: FloatArray, groups: Groups) -> FloatArray:
    """Sums over the layers (first axis) of each lump."""
    return np.asarray(_membership(groups, len(values)) @ values)


@lru_cache(maxsize=64)
def _membership(groups: Groups, layers: int) -> FloatArray:
    """1 where a layer belongs to a lump, (LUMPS, layers)."""
    return np.array([[float(k in group) for k in range(layers)] for group in groups])


def reach_of_lumps(days: PlaceDays, today: int, last: int, groups: Groups) -> FloatArray:
    """Part of each lump's store within the rooting depth, (days, LUMPS)."""
    taw = days.taw_mm.mean(axis=1)
    reach = days.reach[today:last]
    return np.stack([reach[:, list(g)] @ taw[list(g)] / taw[list(g)].sum() for g in groups], axis=1)


def layers(days: PlaceDays, groups: Groups, hours: float) -> FloatArray:
    c = days.laid.columns
    wp, fc, sat = (lumped(x[0], groups) for x in (c.wp_mm, c.fc_mm, c.sat_mm))
    size = c.thickness_mm[0][:, None]
    slow = lumped(size / c.ks_mm_h[0], groups) / lumped(size * np.ones_like(c.ks_mm_h[0]), groups)
    room = sat - fc
    drain = np.sqrt(2.0 * hours / (slow * room)) / room
    return np.array([fc - wp, sat - wp, -0.5 * wp, 1.0 / (fc - wp), drain])


def lanes(days: PlaceDays, groups: Groups) -> FloatArray:
    c = days.laid.columns
    taw = lumped((c.fc_mm - c.wp_mm)[0], groups).sum(axis=0)
    return np.array([c.tew_mm[0], 1.0 / (c.tew_mm[0] - c.rew_mm[0]), c.delivery[0], 1.0 / c.demand[0], taw, 1.0 / taw])


def fixed(days: PlaceDays, today: int, groups: Groups, sub: int) -> FloatArray:
    c = days.laid.columns
    given = c.fixed[0]
    size = c.thickness_mm[0]
    fix = np.zeros(len(names.FIX))
    fix[names.INV_ENOUGH] = 1.0 / given[full.ENOUGH]
    fix[names.MULCH_TAKES] = given[full.OVERHEAD] * given[full.HOLD]
    fix[names.EFFICIENCY] = float(np.mean(c.delivery[0]))
    fix[names.DRY_FROM] = given[full.DRY_FROM]
    fix[names.INV_DRY_FROM] = 1.0 / given[full.DRY_FROM] if given[full.DRY_FROM] > 0.0 else 0.0
    fix[names.BYPASS] = given[full.DRY_BYPASS]
    fix[names.SAUCER] = given[full.SAUCER]
    drying = c.evaporating[0] * size
    inside = sum(drying[list(group)].sum() for group in groups[:2])
    fix[names.SECOND] = drying[list(groups[1])].sum() / inside if inside > 0.0 else 0.0
    fix[names.LEAST] = LEAST_MM
    fix[names.A_DAY] = sub
    fix[names.KNOWN] = NOTICED
    fix[names.HALF] = 0.0 if sub == 1 else 0.5
    fix[names.LAG] = 1.0 - np.exp(-1.0 / sub)
    for k, group in enumerate(groups):
        fix[names.WALL_0 + k] = given[full.WALL] * size[list(group)].sum()
        fix[names.INV_AIR_0 + k] = 1.0 / (size[list(group)].sum() * given[full.AIR_NEEDED])
    return fix


def start_water(days: PlaceDays, now: State, groups: Groups) -> FloatArray:
    return lumped(now.water_mm[0, 0] - days.laid.columns.wp_mm[0], groups)


def start_held(days: PlaceDays, today: int, now: State, groups: Groups) -> FloatArray:
    m = now.airless.shape[1]
    held = np.zeros((len(names.HELD), m))
    held[names.SKIN], held[names.AIRLESS] = now.surface_mm[0, 0], now.airless[0]
    held[names.IN_SAUCER] = now.saucer_mm[0]
    if days.laid.columns.footprints == 2:
        rest = lumped(now.water_mm[0, 1] - days.laid.columns.wp_mm[0], groups).sum(axis=0)
        most = lumped((days.laid.columns.fc_mm - days.laid.columns.wp_mm)[0], groups).sum(axis=0)
        held[names.REST] = np.clip(rest, 0.0, most)
    return held
