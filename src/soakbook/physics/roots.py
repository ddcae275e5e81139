"""Rooting depth through the season and where in the soil the roots draw from."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def root_depth_m(growth: ArrayLike, start_m: float, full_m: float, barrier_m: float | None = None) -> FloatArray:
    """Depth the roots have reached.

    Parameters
    ----------
    growth
        Progress of development, 0 at the start of the development stage and 1 at mid-season; from days or heat-days. [-]
    start_m, full_m
        Depth at the start (sowing: FAO-56 takes 0.15-0.20; planting out: the root ball) and when full grown. [m]
    barrier_m
        Depth of what roots do not pass (bottom of a bed on paving, a pan), or None. [m]

    Returns
    -------
    FloatArray
        Rooting depth, never beyond the barrier. [m]

    Notes
    -----
    Linear in the growth of the canopy, Eq. 8-1 of FAO-56 Annex 8.
    """
    depth = start_m + (full_m - start_m) * np.clip(np.asarray(growth, dtype=float), 0.0, 1.0)
    return np.asarray(depth if barrier_m is None else np.minimum(depth, barrier_m))


def uptake_above(relative_depth: ArrayLike) -> FloatArray:
    """Share of uptake from above a depth given as a fraction of the rooting depth.

    Notes
    -----
    The 40-30-20-10 pattern by quarters of the root zone (common practice in irrigation handbooks), as the straight line
    through it: density ``1.8 - 1.6 x``, so the share above x is ``1.8 x - 0.8 x²``.
    """
    x = np.clip(np.asarray(relative_depth, dtype=float), 0.0, 1.0)
    return np.asarray(1.8 * x - 0.8 * x**2)


def layer_weights(edges_m: ArrayLike, depth_m: ArrayLike) -> FloatArray:
    """Share of uptake by soil layer.

    Parameters
    ----------
    edges_m
        Layer boundaries from the surface down, shape (L+1,). [m]
    depth_m
        Rooting depth, any shape. [m]

    Returns
    -------
    FloatArray
        Shares adding to 1 over the last axis, shape ``depth_m.shape + (L,)``. Roots deeper than the last boundary draw
        from the lowest layer.
    """
    edges = np.asarray(edges_m, dtype=float)
    depth = np.asarray(depth_m, dtype=float)[..., None]
    above = uptake_above(edges / np.maximum(depth, 1e-6))
    above[..., -1] = 1.0
    return np.diff(above, axis=-1)


def adjusted_depletion_p(p_table: ArrayLike, etc_mm_day: ArrayLike) -> FloatArray:
    """Fraction of available water that may be used before stress, for the day's demand.

    Notes
    -----
    FAO-56 below Table 22: ``p + 0.04 (5 - ETc)``, within 0.1 to 0.8.
    """
    p = np.asarray(p_table, dtype=float) + 0.04 * (5.0 - np.asarray(etc_mm_day, dtype=float))
    return np.clip(p, 0.1, 0.8)


def stress_coefficient(depletion_mm: ArrayLike, taw_mm: ArrayLike, p: ArrayLike) -> FloatArray:
    """Ks: 1 until ``p`` of the available water is used, then falling linearly to 0 (Eq. 84 of FAO-56)."""
    taw = np.asarray(taw_mm, dtype=float)
    ks = (taw - np.asarray(depletion_mm, dtype=float)) / ((1.0 - np.asarray(p, dtype=float)) * taw)
    return np.asarray(np.clip(ks, 0.0, 1.0))
