"""Evaporation from soil in two stages, as FAO-56 chapter 7 has it. Scalars; the balance kernel compiles these."""

from __future__ import annotations


def total_evaporable_water_mm(theta_fc: float, theta_wp: float, depth_m: float = 0.10) -> float:
    """Water that can evaporate from the surface layer after a wetting (TEW).

    Parameters
    ----------
    theta_fc, theta_wp
        Water content at field capacity and wilting point. [m³/m³]
    depth_m
        Depth of the layer that dries by evaporation, 0.10 to 0.15. [m]

    Returns
    -------
    float
        TEW. [mm]

    Notes
    -----
    Eq. 73 of R. G. Allen et al., "Crop evapotranspiration", FAO Irrigation and Drainage Paper 56, Rome, 1998.
    """
    return 1000.0 * (theta_fc - 0.5 * theta_wp) * depth_m


def evaporation_reduction(depletion_mm: float, tew_mm: float, rew_mm: float) -> float:
    """Reduction of evaporation as the surface dries (Kr): 1 in stage one, falling linearly to 0 at TEW.

    Parameters
    ----------
    depletion_mm
        Water evaporated from the exposed surface since it was last wetted (De). [mm]
    tew_mm, rew_mm
        Total and readily evaporable water; ``rew_mm < tew_mm``. [mm]

    Returns
    -------
    float
        Kr, 0 to 1.

    Notes
    -----
    Eq. 74 of FAO-56.
    """
    return min(1.0, max(0.0, (tew_mm - depletion_mm) / (tew_mm - rew_mm)))


def evaporation_coefficient(kr: float, kc_max: float, kcb: float, exposed_wetted_fraction: float) -> float:
    """Soil evaporation coefficient (Ke), limited by the energy that is left and by the surface that is wet.

    Notes
    -----
    Eq. 71 of FAO-56: ``Ke = min(Kr (Kc max - Kcb), few Kc max)``. Dimensionless throughout.
    """
    return max(0.0, min(kr * (kc_max - kcb), exposed_wetted_fraction * kc_max))


def exposed_wetted_fraction(cover_fraction: float, wetted_fraction: float, under_canopy: bool = False) -> float:
    """Part of the surface that is both bare to the sky and wetted (few).

    Notes
    -----
    Eq. 75 of FAO-56: ``min(1 - fc, fw)``; for drip beneath the canopy ``min(1 - fc, (1 - 2/3 fc) fw)`` (text below
    Eq. 75, and Example 34). Fractions of the ground, 0.01 to 1.
    """
    bare = 1.0 - cover_fraction
    wet = (1.0 - 2.0 / 3.0 * cover_fraction) * wetted_fraction if under_canopy else wetted_fraction
    return min(bare, wet)
