"""The equations of Saxton & Rawls (2006), one by one, on arrays.

K. E. Saxton and W. J. Rawls, "Soil water characteristic estimates by texture and organic matter for hydrologic
solutions", Soil Sci. Soc. Am. J. 70:1569-1578, 2006, doi 10.2136/sssaj2005.0117; equations by number. The article
was read in copies of it that agree; all 72 values of its Table 3 come out.

Sand and clay are percent by mass of the fine earth, organic matter (OM) percent by mass, water contents m3/m3, suctions
kPa (positive), conductivities mm/h, densities g/cm3. Inside, sand and clay are fractions and OM stays a percent: only
this mix gives the paper's table. NaN in, NaN out. Ranges are checked by the callers in ``soil``, not here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

PARTICLE_DENSITY = 2.65
#: Eq 4 falls below zero in sands; the curve is cut off at this suction instead.
AIR_ENTRY_MIN_KPA = 0.1
_LN_1500_OVER_33 = float(np.log(1500.0 / 33.0))


def _fractions(sand_pct: ArrayLike, clay_pct: ArrayLike, organic_matter_pct: ArrayLike) -> tuple[FloatArray, ...]:
    sand, clay = np.asarray(sand_pct, dtype=float) / 100.0, np.asarray(clay_pct, dtype=float) / 100.0
    return sand, clay, np.asarray(organic_matter_pct, dtype=float)


def theta_1500(sand_pct: ArrayLike, clay_pct: ArrayLike, organic_matter_pct: ArrayLike = 2.5) -> FloatArray:
    """Water content at 1500 kPa (wilting point), Eq 1. Falls below zero in clean sand without organic matter."""
    s, c, om = _fractions(sand_pct, clay_pct, organic_matter_pct)
    t = -0.024 * s + 0.487 * c + 0.006 * om + 0.005 * s * om - 0.013 * c * om + 0.068 * s * c + 0.031
    return np.asarray(t + (0.14 * t - 0.02))


def theta_33(sand_pct: ArrayLike, clay_pct: ArrayLike, organic_matter_pct: ArrayLike = 2.5) -> FloatArray:
    """Water content at 33 kPa at normal density, Eq 2."""
    s, c, om = _fractions(sand_pct, clay_pct, organic_matter_pct)
    t = -0.251 * s + 0.195 * c + 0.011 * om + 0.006 * s * om - 0.027 * c * om + 0.452 * s * c + 0.299
    return np.asarray(t + (1.283 * t * t - 0.374 * t - 0.015))


def theta_sat_minus_33(sand_pct: ArrayLike, clay_pct: ArrayLike, organic_matter_pct: ArrayLike = 2.5) -> FloatArray:
    """Water between saturation and 33 kPa, Eq 3: a step towards Eqs 4 and 5, which adds a sand term of its own."""
    s, c, om = _fractions(sand_pct, clay_pct, organic_matter_pct)
    t = 0.278 * s + 0.034 * c + 0.022 * om - 0.018 * s * om - 0.027 * c * om - 0.584 * s * c + 0.078
    return np.asarray(t + (0.636 * t - 0.107))


def theta_sat(sand_pct: ArrayLike, clay_pct: ArrayLike, organic_matter_pct: ArrayLike = 2.5) -> FloatArray:
    """Saturated water content at normal density, Eq 5."""
    drained = theta_sat_minus_33(sand_pct, clay_pct, organic_matter_pct)
    sand = np.asarray(sand_pct, dtype=float) / 100.0
    return np.asarray(theta_33(sand_pct, clay_pct, organic_matter_pct) + drained - 0.097 * sand + 0.043)


def air_entry_kpa(sand_pct: ArrayLike, clay_pct: ArrayLike, organic_matter_pct: ArrayLike = 2.5) -> FloatArray:
    """Suction at which the largest pores empty, Eq 4, as printed: below zero in sand and loamy sand."""
    s, c, _ = _fractions(sand_pct, clay_pct, organic_matter_pct)
    d = theta_sat_minus_33(sand_pct, clay_pct, organic_matter_pct)
    t = -21.67 * s - 27.93 * c - 81.97 * d + 71.12 * s * d + 8.29 * c * d + 14.05 * s * c + 27.16
    return np.asarray(t + (0.02 * t * t - 0.113 * t - 0.70))


def matric_density(theta_saturation: ArrayLike) -> FloatArray:
    """Dry density of the fine earth, Eq 6. [g/cm3]"""
    return np.asarray((1.0 - np.asarray(theta_saturation, dtype=float)) * PARTICLE_DENSITY)


def theta_sat_at_density(theta_saturation: ArrayLike, density_factor: ArrayLike) -> FloatArray:
    """Saturated water content of a soil packed ``density_factor`` times its normal density, Eqs 7-8."""
    packed = matric_density(theta_saturation) * np.asarray(density_factor, dtype=float)
    return np.asarray(1.0 - packed / PARTICLE_DENSITY)


def theta_33_at_density(
    theta_33_normal: ArrayLike, theta_sat_normal: ArrayLike, density_factor: ArrayLike
) -> FloatArray:
    """Water content at 33 kPa of a packed or loosened soil, Eq 9."""
    normal = np.asarray(theta_sat_normal, dtype=float)
    change = normal - theta_sat_at_density(normal, density_factor)
    return np.asarray(np.asarray(theta_33_normal, dtype=float) - 0.2 * change)


def retention_exponent(theta_at_33: ArrayLike, theta_at_1500: ArrayLike) -> FloatArray:
    """B of psi = A theta^-B, Eq 15; the slope lambda of Eq 18 is 1 / B."""
    return np.asarray(
        _LN_1500_OVER_33 / np.log(np.asarray(theta_at_33, dtype=float) / np.asarray(theta_at_1500, dtype=float))
    )


def theta_power_law(suction_kpa: ArrayLike, theta_at_33: ArrayLike, theta_at_1500: ArrayLike) -> FloatArray:
    """Water content on the curve psi = A theta^-B through the 33 and 1500 kPa points, Eqs 11, 14, 15.

    The paper uses it from 1500 to 33 kPa; ``soil.field_capacity`` says why we follow it a little wetter.
    """
    ratio = 33.0 / np.asarray(suction_kpa, dtype=float)
    return np.asarray(
        np.asarray(theta_at_33, dtype=float) * ratio ** (1.0 / retention_exponent(theta_at_33, theta_at_1500))
    )


def theta_at_suction(
    suction_kpa: ArrayLike,
    theta_at_33: ArrayLike,
    theta_at_1500: ArrayLike,
    theta_saturation: ArrayLike,
    air_entry: ArrayLike,
) -> FloatArray:
    """Water content at a suction as the paper draws it, Eqs 11-13.

    The power law down to 33 kPa, a straight line in suction from there to air entry, saturation below that. An air
    entry under 0.1 kPa counts as 0.1 (Eq 4 goes negative in sands).
    """
    psi = np.asarray(suction_kpa, dtype=float)
    entry = np.maximum(np.asarray(air_entry, dtype=float), AIR_ENTRY_MIN_KPA)
    wet, at_33 = np.asarray(theta_saturation, dtype=float), np.asarray(theta_at_33, dtype=float)
    line = at_33 + (33.0 - psi) * (wet - at_33) / (33.0 - entry)
    dry = theta_power_law(np.maximum(psi, 33.0), at_33, theta_at_1500)
    return np.where(psi >= 33.0, dry, np.where(psi <= entry, wet + 0.0 * line, line))


def saturated_conductivity_mm_h(
    theta_saturation: ArrayLike, theta_at_33: ArrayLike, theta_at_1500: ArrayLike
) -> FloatArray:
    """Saturated conductivity of the fine earth, Eqs 16 and 18: 1930 (theta_s - theta_33)^(3 - lambda)."""
    drained = np.asarray(theta_saturation, dtype=float) - np.asarray(theta_at_33, dtype=float)
    return np.asarray(1930.0 * drained ** (3.0 - 1.0 / retention_exponent(theta_at_33, theta_at_1500)))


def conductivity_mm_h(
    theta: ArrayLike, ks_mm_h: ArrayLike, theta_saturation: ArrayLike, theta_at_33: ArrayLike, theta_at_1500: ArrayLike
) -> FloatArray:
    """Conductivity of the partly wet fine earth, Eq 17: Ks (theta / theta_s)^(3 + 2 / lambda)."""
    wetness = np.asarray(theta, dtype=float) / np.asarray(theta_saturation, dtype=float)
    return np.asarray(
        np.asarray(ks_mm_h, dtype=float) * wetness ** (3.0 + 2.0 * retention_exponent(theta_at_33, theta_at_1500))
    )


def stone_volume_fraction(stones_pct_w: ArrayLike, density_g_cm3: ArrayLike) -> FloatArray:
    """Volume of stones in the bulk from their mass share, Eq 19. ``density_g_cm3`` is that of the fine earth."""
    mass = np.asarray(stones_pct_w, dtype=float) / 100.0
    a = np.asarray(density_g_cm3, dtype=float) / PARTICLE_DENSITY
    return np.asarray(a * mass / (1.0 - mass * (1.0 - a)))


def bulk_density(density_g_cm3: ArrayLike, stone_volume: ArrayLike) -> FloatArray:
    """Density of fine earth and stones together, Eq 20. [g/cm3]"""
    volume = np.asarray(stone_volume, dtype=float)
    return np.asarray(np.asarray(density_g_cm3, dtype=float) * (1.0 - volume) + PARTICLE_DENSITY * volume)


def stone_conductivity_ratio(stones_pct_w: ArrayLike, density_g_cm3: ArrayLike) -> FloatArray:
    """Conductivity of the stony bulk over that of the fine earth, Eq 22, in the stones' MASS share.

    With the volume share of Eq 19 it is the same as 2 (1 - Rv) / (2 + Rv) (Peck and Watson).
    """
    mass = np.asarray(stones_pct_w, dtype=float) / 100.0
    a = np.asarray(density_g_cm3, dtype=float) / PARTICLE_DENSITY
    return np.asarray((1.0 - mass) / (1.0 - mass * (1.0 - 1.5 * a)))
