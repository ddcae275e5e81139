"""Water going in at the surface (Green-Ampt, Philip), running off, soaking in pulses, and draining by gravity.

Depths in mm, rates in mm/h, times in h. The product of wetting-front suction (plus ponding depth) and moisture
deficit appears everywhere and is called ``suction_deficit_mm``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import SoakbookError

FloatArray = NDArray[np.float64]

_NEWTON_STEPS = 60


def wetting_front_suction_mm(k_mm_h: ArrayLike) -> FloatArray:
    """Green-Ampt suction at the wetting front from the Green-Ampt conductivity.

    psi = 3.237 K^-0.328 with K in in/h and psi in inches, fitted to the class table of W. J. Rawls, D. L. Brakensiek
    and N. Miller, J. Hydraul. Eng. 109:62-70, 1983, as printed in the US EPA stormwater reference manual, Volume I.
    For soils without a class of their own; one standard deviation is a factor of three to six either way.
    """
    k = np.asarray(k_mm_h, dtype=float)
    return np.asarray(25.4 * 3.237 * (k / 25.4) ** -0.328)


def green_ampt_depth_mm(
    k_mm_h: ArrayLike,
    suction_deficit_mm: ArrayLike,
    hours: ArrayLike,
    from_depth_mm: ArrayLike = 0.0,
) -> FloatArray:
    r"""Cumulative depth taken in by a ponded soil (Green-Ampt), solved by Newton's method.

    Parameters
    ----------
    k_mm_h
        Conductivity of the wetted zone, above 0. [mm/h]
    suction_deficit_mm
        (front suction + ponding depth) x moisture deficit, 0 or more. [mm]
    hours
        Time since ponding began. [h]
    from_depth_mm
        Depth already in the soil when ponding began. [mm]

    Returns
    -------
    FloatArray
        Cumulative depth including ``from_depth_mm``. [mm]

    Notes
    -----
    .. math:: F - F_0 - S \ln\frac{S + F}{S + F_0} = K t

    Rawls, Brakensiek & Miller 1983 for F0 = 0; Mein & Larson 1973 for the start after ponding. The left side is
    convex and rising in F, so Newton from the upper bound F0 + K t + sqrt(2 K t (S + F0)) falls onto the root without
    overshoot. With S = 0 it is F0 + K t. NaN in, NaN out.

    References
    ----------
    .. [1] W. H. Green and G. A. Ampt, J. Agric. Sci. 4:1-24, 1911.
    .. [2] R. G. Mein and C. L. Larson, Water Resour. Res. 9:384-394, 1973.
    """
    k, s, t, start = np.broadcast_arrays(
        *(np.asarray(a, dtype=float) for a in (k_mm_h, suction_deficit_mm, hours, from_depth_mm))
    )
    gravity = k * t
    depth = start + gravity + np.sqrt(2.0 * gravity * (s + start))
    for _ in range(_NEWTON_STEPS):
        total = np.where(s + start > 0.0, s + start, 1.0)
        miss = depth - start - s * np.log1p((depth - start) / total) - gravity
        wet = depth > start
        slope = np.where(wet, depth / np.where(wet, depth + s, 1.0), 1.0)
        step = miss / slope
        depth = np.maximum(depth - step, start)
        if not (np.abs(step) > 1e-11 * depth + 1e-14 * (s + start)).any():
            return np.asarray(depth)
    raise SoakbookError(
        f"Green-Ampt did not settle in {_NEWTON_STEPS} steps (last change {np.nanmax(np.abs(step)):.3g} mm).",
        code="infiltration.not_converged",
    )


def green_ampt_rate_mm_h(k_mm_h: ArrayLike, suction_deficit_mm: ArrayLike, depth_mm: ArrayLike) -> FloatArray:
    """What the soil can take in once ``depth_mm`` (above 0) is in it: f = K (1 + S / F), Green & Ampt 1911. [mm/h]"""
    k = np.asarray(k_mm_h, dtype=float)
    return np.asarray(k * (1.0 + np.asarray(suction_deficit_mm, dtype=float) / np.asarray(depth_mm, dtype=float)))


def green_ampt_sorptivity(k_mm_h: ArrayLike, suction_deficit_mm: ArrayLike) -> FloatArray:
    """Sorptivity of the Green-Ampt soil, sqrt(2 K S). [mm/h^0.5]"""
    return np.asarray(np.sqrt(2.0 * np.asarray(k_mm_h, dtype=float) * np.asarray(suction_deficit_mm, dtype=float)))


def ponding_depth_mm(rate_mm_h: ArrayLike, k_mm_h: ArrayLike, suction_deficit_mm: ArrayLike) -> FloatArray:
    """Depth that goes in at a steady rate before water stands on the surface; infinite when the rate is K or less.

    Fp = K S / (i - K), Mein & Larson 1973 (equation from memory). Divided by the rate it is the time to ponding. [mm]
    """
    rate, k, s = np.broadcast_arrays(*(np.asarray(a, dtype=float) for a in (rate_mm_h, k_mm_h, suction_deficit_mm)))
    excess = np.where(rate > k, rate - k, 1.0)
    return np.where(rate > k, k * s / excess, np.inf)


def ponding_time_h(rate_mm_h: ArrayLike, k_mm_h: ArrayLike, suction_deficit_mm: ArrayLike) -> FloatArray:
    """Time until a steady rate ponds; infinite when the rate is K or less. Mein & Larson 1973. [h]"""
    rate = np.asarray(rate_mm_h, dtype=float)
    depth = ponding_depth_mm(rate, k_mm_h, suction_deficit_mm)
    return np.asarray(depth / np.where(np.isfinite(depth), rate, 1.0))


@dataclass(frozen=True)
class Intake:
    """What became of a steady application: depths in mm, the last rate in mm/h, and when it ponded in h."""

    infiltrated_mm: FloatArray
    runoff_mm: FloatArray
    rate_mm_h: FloatArray
    ponding_h: FloatArray


def rain_intake(rate_mm_h: ArrayLike, k_mm_h: ArrayLike, suction_deficit_mm: ArrayLike, hours: ArrayLike) -> Intake:
    """Infiltration and runoff of rain or spray at a steady rate (Mein & Larson 1973).

    All goes in until ponding; from then on the soil takes what Green-Ampt allows and the rest runs off at once.
    """
    rate, k, s, t = np.broadcast_arrays(
        *(np.asarray(a, dtype=float) for a in (rate_mm_h, k_mm_h, suction_deficit_mm, hours))
    )
    ponds_h = ponding_time_h(rate, k, s)
    ponded = t > ponds_h
    applied = rate * t
    at_ponding = np.where(ponded, ponding_depth_mm(rate, k, s), 0.0)
    after_h = np.where(ponded, t - np.where(ponded, ponds_h, 0.0), 0.0)
    taken = np.where(ponded, green_ampt_depth_mm(k, s, after_h, at_ponding), applied)
    allowed = green_ampt_rate_mm_h(k, s, np.where(taken > 0.0, taken, 1.0))
    return Intake(
        infiltrated_mm=taken,
        runoff_mm=applied - taken,
        rate_mm_h=np.where(ponded, allowed, rate),
        ponding_h=ponds_h,
    )


def philip_depth_mm(sorptivity_mm_h05: ArrayLike, steady_mm_h: ArrayLike, hours: ArrayLike) -> FloatArray:
    """Cumulative infiltration after J. R. Philip 1957, two terms: S t^0.5 + A t. [mm]"""
    t = np.asarray(hours, dtype=float)
    return np.asarray(
        np.asarray(sorptivity_mm_h05, dtype=float) * np.sqrt(t) + np.asarray(steady_mm_h, dtype=float) * t
    )


def philip_rate_mm_h(sorptivity_mm_h05: ArrayLike, steady_mm_h: ArrayLike, hours: ArrayLike) -> FloatArray:
    """Infiltration rate after Philip 1957, two terms: S / (2 t^0.5) + A, t above 0. [mm/h]"""
    t = np.asarray(hours, dtype=float)
    return np.asarray(
        np.asarray(sorptivity_mm_h05, dtype=float) / (2.0 * np.sqrt(t)) + np.asarray(steady_mm_h, dtype=float)
    )


def ponded_depth_explicit_mm(k_mm_h: float, suction_deficit_mm: float, hours: float) -> float:
    r"""Cumulative depth taken in by a ponded soil (Green-Ampt) without iteration, for compiled kernels.

    Only operators and ``** 0.5``, so that it works unchanged on floats, on numpy arrays and under ``numba.njit``.

    Parameters
    ----------
    k_mm_h, suction_deficit_mm, hours
        As in ``green_ampt_depth_mm``; each 0 or more.

    Returns
    -------
    float
        Cumulative depth. [mm]

    Notes
    -----
    With y = F / S and tau = K t / S, Green-Ampt is y - ln(1 + y) = tau. Put s = sqrt(2 tau), so that

    .. math:: y^2/2 - y^3/3 + y^4/4 - \dots = s^2/2

    and match y = s + a s^2 + b s^3 power by power: s^3 gives a = 1/3, s^4 gives a^2/2 + b - a + 1/4 = 0, b = 1/36. The
    cubic sum y = s + s^2/3 + s^3/36 runs 1.4 % high at tau = 2, 5 % at tau = 6 and far off beyond, which is where
    nearly saturated soil (S -> 0) sits. Its last term divided by 1 + s/6 leaves these three powers as they are and
    turns the growth at large s into s^2/3 + s^2/6 = tau, the exact gravity limit:

    .. math:: y = s + \frac{s^2}{3} + \frac{s^3}{36\,(1 + s/6)}

    which stays within 0.5 % for every tau, always on the low side. Written in A = 2 K t and S so that S = 0 gives
    K t without a division by zero (the 1e-300 only serves A = S = 0).
    """
    gravity = 2.0 * k_mm_h * hours
    root = gravity**0.5
    suction_root = suction_deficit_mm**0.5
    last = gravity * root / (6.0 * (root + 6.0 * suction_root + 1e-300))
    depth_mm: float = root * suction_root + gravity / 3.0 + last
    return depth_mm


def drained_excess(excess_fraction: float, k_over_capacity_per_h: float, hours: float) -> float:
    r"""Water above field capacity left in a layer after draining by gravity, as a fraction of what it could hold.

    Only operators and ``** 0.5``: works on floats, numpy arrays and under ``numba.njit``.

    Parameters
    ----------
    excess_fraction
        e = (theta - theta_fc) / (theta_sat - theta_fc) at the start, 0 to 1.
    k_over_capacity_per_h
        k = Ks / ((theta_sat - theta_fc) d) for a layer of thickness d. [1/h]
    hours
        Time. [h]

    Returns
    -------
    float
        e after that time.

    Notes
    -----
    Drainage at unit gradient at K(e), with the cubic law K = Ks e^3 of S. Irmay, Trans. AGU 35:463-467, 1954 (from
    memory) and field capacity taken as the water that does not move. The layer's balance de/dt = -k e^3 integrates to

    .. math:: e(t) = \frac{e_0}{\sqrt{1 + 2 k e_0^2 t}}

    so hourly and daily steps agree exactly.
    """
    left: float = (
        excess_fraction / (1.0 + 2.0 * k_over_capacity_per_h * excess_fraction * excess_fraction * hours) ** 0.5
    )
    return left
