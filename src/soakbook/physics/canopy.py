"""The crop's share of demand: basal crop coefficients, cover and height, from the calendar, heat or a tape measure.

Source throughout: R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration", FAO Irrigation and Drainage
Paper 56, Rome, 1998 (FAO-56), chapters 6, 7, 9 and 10; and R. G. Allen, L. S. Pereira, "Estimating crop coefficients from
fraction of ground cover and height", Irrigation Science 28 (2009), 17-34 (equations from memory; their FAO-56 forms are
checked against Examples 40 to 43).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def climate_adjustment(wind_2m_ms: ArrayLike, rh_min_pct: ArrayLike, height_m: ArrayLike) -> FloatArray:
    """What a climate other than RHmin 45 %, 2 m/s adds to Kc or Kcb.

    Parameters
    ----------
    wind_2m_ms
        Mean wind at 2 m; taken within 1 to 6 as the source prescribes. [m/s]
    rh_min_pct
        Mean daily minimum relative humidity; taken within 20 to 80. [%]
    height_m
        Mean crop height; taken within 0.1 to 10. [m]

    Returns
    -------
    FloatArray
        Addition to the coefficient. [-]

    Notes
    -----
    Eqs. 62, 65, 70 of FAO-56: ``[0.04 (u2 - 2) - 0.004 (RHmin - 45)] (h/3)^0.3``.
    """
    wind = np.clip(np.asarray(wind_2m_ms, dtype=float), 1.0, 6.0)
    rh_min = np.clip(np.asarray(rh_min_pct, dtype=float), 20.0, 80.0)
    height = np.clip(np.asarray(height_m, dtype=float), 0.1, 10.0)
    return np.asarray((0.04 * (wind - 2.0) - 0.004 * (rh_min - 45.0)) * (height / 3.0) ** 0.3)


def adjusted_kcb(kcb: ArrayLike, wind_2m_ms: ArrayLike, rh_min_pct: ArrayLike, height_m: ArrayLike) -> FloatArray:
    """Basal coefficient of mid or end season for the local climate; values below 0.45 stay (Eq. 70 of FAO-56)."""
    table = np.asarray(kcb, dtype=float)
    return np.where(table >= 0.45, table + climate_adjustment(wind_2m_ms, rh_min_pct, height_m), table)


def kc_max(kcb: ArrayLike, wind_2m_ms: ArrayLike, rh_min_pct: ArrayLike, height_m: ArrayLike) -> FloatArray:
    """Upper limit of evaporation and transpiration together, as a multiple of ETo (Eq. 72 of FAO-56)."""
    base = 1.2 + climate_adjustment(wind_2m_ms, rh_min_pct, height_m)
    return np.maximum(base, np.asarray(kcb, dtype=float) + 0.05)


def stage_curve(
    day: ArrayLike, lengths_days: tuple[float, float, float, float], ini: float, mid: float, end: float
) -> FloatArray:
    """A coefficient through the season: level, rising, level, falling.

    Parameters
    ----------
    day
        Days (or heat-days) since the start of the initial stage. [d]
    lengths_days
        Lengths of the initial, development, mid-season and late stages. [d]
    ini, mid, end
        The coefficient in the initial and mid-season stages and at the end. [-]

    Returns
    -------
    FloatArray
        The coefficient; NaN before day 0, and the end value after the last stage.

    Notes
    -----
    Eq. 66 of FAO-56.
    """
    a, b, c, d = lengths_days
    t = np.asarray(day, dtype=float)
    knots = np.cumsum([a, b, c, d])
    return np.where(t < 0, np.nan, np.interp(t, knots, [ini, mid, mid, end]))


def cover_from_kcb(kcb: ArrayLike, kc_min: float, kc_max_: ArrayLike, height_m: ArrayLike) -> FloatArray:
    """Ground cover of a field crop from its Kcb (Eq. 76 of FAO-56), 0 to 0.99."""
    top = np.maximum(np.asarray(kcb, dtype=float) - kc_min, 0.01)
    ratio = top / np.maximum(np.asarray(kc_max_, dtype=float) - kc_min, 0.01)
    cover = ratio ** (1.0 + 0.5 * np.asarray(height_m, dtype=float))
    return np.minimum(cover, 0.99)


def full_cover_kcb(height_m: ArrayLike, wind_2m_ms: ArrayLike, rh_min_pct: ArrayLike) -> FloatArray:
    """Kcb of a large stand of that height at full cover.

    Notes
    -----
    Eqs. 99-100 of FAO-56: ``min(1.0 + 0.1 h, 1.2)`` plus the climate adjustment.
    """
    height = np.asarray(height_m, dtype=float)
    return np.minimum(1.0 + 0.1 * height, 1.2) + climate_adjustment(wind_2m_ms, rh_min_pct, height)


def effective_cover(cover_fraction: ArrayLike, height_to_width: ArrayLike, noon_elevation_deg: ArrayLike) -> FloatArray:
    """Cover as the midday sun meets it: rows and single plants intercept with their sides too.

    Notes
    -----
    FAO-56 Example 41 (p. 190): ``fc_eff = fc (1 + HWR / tan(elevation))``, at most 1, for rows across the sun's path.
    For round single plants the same relation is used, as the book's Example 43 does with its own height and width.
    """
    lift = np.asarray(height_to_width, dtype=float) / np.tan(np.radians(np.asarray(noon_elevation_deg, dtype=float)))
    return np.asarray(np.minimum(np.asarray(cover_fraction, dtype=float) * (1.0 + lift), 1.0))


def density_coefficient(
    cover_fraction: ArrayLike, effective_cover_fraction: ArrayLike, height_m: ArrayLike, limit: float = 2.0
) -> FloatArray:
    """Share of the full-cover coefficient that a sparse stand reaches (Kd).

    Notes
    -----
    ``min(1, limit fc, fc_eff^(1/(1+h)))``: Eq. 98 of FAO-56 and Allen & Pereira (2009), their M_L = 1.5 to 2.
    """
    fc = np.asarray(cover_fraction, dtype=float)
    fce = np.maximum(np.asarray(effective_cover_fraction, dtype=float), 0.0)
    return np.asarray(np.minimum(np.minimum(1.0, limit * fc), fce ** (1.0 / (1.0 + np.asarray(height_m, dtype=float)))))


def stomatal_reduction(leaf_resistance_s_m: float, slope_kpa_c: float, gamma_kpa_c: float, wind_2m_ms: float) -> float:
    """Fr: lowers Kcb for crops whose stomata stay more closed than the 100 s/m of annual crops (Eq. 102 of FAO-56)."""
    wind = 0.34 * wind_2m_ms
    closed = slope_kpa_c + gamma_kpa_c * (1.0 + wind * leaf_resistance_s_m / 100.0)
    return (slope_kpa_c + gamma_kpa_c * (1.0 + wind)) / closed


def canopy_area_m2(width_m: ArrayLike) -> FloatArray:
    """Ground shaded from straight above by one round canopy of that width. [m²]"""
    return np.pi / 4.0 * np.asarray(width_m, dtype=float) ** 2


def heat_days(t_mean_c: ArrayLike, base_c: float, reference_c: float) -> FloatArray:
    """Development of each day, in days at the reference temperature.

    Parameters
    ----------
    t_mean_c
        Daily mean air temperature. [°C]
    base_c
        Temperature below which the crop does not develop. [°C]
    reference_c
        Temperature at which one day counts as one day of the stage table. [°C]

    Returns
    -------
    FloatArray
        ``(T - base) / (reference - base)``, taken within 0 to 1.5. [d]

    Notes
    -----
    Linear heat units (growing degree days) scaled to days, so that one stage table serves calendar and heat alike.
    The cap of 1.5 and the reference temperature are our judgement, shown with the plant.
    """
    warmth = (np.asarray(t_mean_c, dtype=float) - base_c) / (reference_c - base_c)
    return np.clip(warmth, 0.0, 1.5)
