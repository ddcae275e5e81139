"""Air: pressure, humidity and wind (FAO-56 chapter 3).

All functions take numbers or arrays, broadcast them, and give NaN where an input is NaN.

References
----------
.. [1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration", FAO Irrigation and Drainage
   Paper 56, Rome, 1998, ch. 3.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import InputError

FloatArray = NDArray[np.float64]

#: Psychrometer coefficients of [1]_ p. 37, in 1/°C: aspirated, natural ventilation, indoors.
PSYCHROMETER_ASPIRATED = 0.000662
PSYCHROMETER_NATURAL = 0.000800
PSYCHROMETER_INDOOR = 0.001200

#: Dew point below the night minimum at arid stations, [1]_ Annex 6. [°C]
ARID_DEW_POINT_OFFSET_C = 2.0

#: What [1]_ ch. 3 allows for missing wind, and its floor. [m/s at 2 m]
WIND_DEFAULT_MS = 2.0
WIND_FLOOR_MS = 0.5


def pressure_kpa(elevation_m: ArrayLike) -> FloatArray:
    """Mean atmospheric pressure at an elevation. [kPa]; Eq. 7 of [1]_, for -430 to 9000 m.

    Examples
    --------
    Example 2 of [1]_:

    >>> round(float(pressure_kpa(1800.0)), 1)
    81.8
    """
    z = np.asarray(elevation_m, dtype=float)
    return np.asarray(101.3 * ((293.0 - 0.0065 * z) / 293.0) ** 5.26)


def psychrometric_constant_kpa_c(pressure_kpa: ArrayLike) -> FloatArray:
    """Psychrometric constant for an air pressure in kPa. [kPa/°C]; Eq. 8 of [1]_, latent heat 2.45 MJ/kg."""
    return np.asarray(0.665e-3 * np.asarray(pressure_kpa, dtype=float))


def saturation_vapour_pressure_kpa(temp_air_c: ArrayLike) -> FloatArray:
    r"""Saturation vapour pressure of air over water. [kPa]

    Parameters
    ----------
    temp_air_c
        Air temperature. [°C], about -40 to 60

    Notes
    -----
    Eq. 11 of [1]_. NaN in, NaN out. Not for ice.

    .. math:: e^0 = 0.6108 \exp\left(\frac{17.27\,T}{T + 237.3}\right)

    Examples
    --------
    Example 3 of [1]_:

    >>> round(float(saturation_vapour_pressure_kpa(24.5)), 3)
    3.075
    """
    temp = np.asarray(temp_air_c, dtype=float)
    return np.asarray(0.6108 * np.exp(17.27 * temp / (temp + 237.3)))


def mean_saturation_vapour_pressure_kpa(t_max_c: ArrayLike, t_min_c: ArrayLike) -> FloatArray:
    """Mean of the saturation vapour pressures at the day's extremes. [kPa]; Eq. 12 of [1]_."""
    return 0.5 * (saturation_vapour_pressure_kpa(t_max_c) + saturation_vapour_pressure_kpa(t_min_c))


def slope_kpa_c(temp_air_c: ArrayLike) -> FloatArray:
    """Slope of the saturation vapour pressure curve at an air temperature in °C. [kPa/°C]; Eq. 13 of [1]_."""
    temp = np.asarray(temp_air_c, dtype=float)
    return np.asarray(4098.0 * saturation_vapour_pressure_kpa(temp) / (temp + 237.3) ** 2)


def vapour_pressure_from_dew_point(dew_point_c: ArrayLike) -> FloatArray:
    """Actual vapour pressure from the dew point in °C. [kPa]; Eq. 14 of [1]_."""
    return saturation_vapour_pressure_kpa(dew_point_c)


def vapour_pressure_from_psychrometer(
    t_dry_c: ArrayLike,
    t_wet_c: ArrayLike,
    pressure_kpa: ArrayLike,
    coefficient_per_c: float = PSYCHROMETER_ASPIRATED,
) -> FloatArray:
    """Actual vapour pressure from dry and wet bulb in °C and air pressure in kPa. [kPa]; Eqs. 15 and 16 of
    [1]_."""
    dry, wet = np.asarray(t_dry_c, dtype=float), np.asarray(t_wet_c, dtype=float)
    gamma = coefficient_per_c * np.asarray(pressure_kpa, dtype=float)
    return np.asarray(saturation_vapour_pressure_kpa(wet) - gamma * (dry - wet))


def vapour_pressure_from_rh_max_min(
    t_max_c: ArrayLike, t_min_c: ArrayLike, rh_max_pct: ArrayLike, rh_min_pct: ArrayLike
) -> FloatArray:
    """Actual vapour pressure from both relative humidities of the day in per cent. [kPa]; Eq. 17 of [1]_."""
    morning = saturation_vapour_pressure_kpa(t_min_c) * _fraction(rh_max_pct, "rh_max_pct")
    afternoon = saturation_vapour_pressure_kpa(t_max_c) * _fraction(rh_min_pct, "rh_min_pct")
    return 0.5 * (morning + afternoon)


def vapour_pressure_from_rh_max(t_min_c: ArrayLike, rh_max_pct: ArrayLike) -> FloatArray:
    """Actual vapour pressure from the highest relative humidity alone. [kPa]; Eq. 18 of [1]_."""
    return saturation_vapour_pressure_kpa(t_min_c) * _fraction(rh_max_pct, "rh_max_pct")


def vapour_pressure_from_rh_mean(t_max_c: ArrayLike, t_min_c: ArrayLike, rh_mean_pct: ArrayLike) -> FloatArray:
    """Actual vapour pressure from the mean relative humidity. [kPa]; Eq. 19 of [1]_, the least certain route.

    With one temperature for both (an hour's mean) it is Eq. 54 of [1]_ for an hour.
    """
    return mean_saturation_vapour_pressure_kpa(t_max_c, t_min_c) * _fraction(rh_mean_pct, "rh_mean_pct")


def vapour_pressure_from_tmin(t_min_c: ArrayLike, *, is_arid: ArrayLike = False) -> FloatArray:
    """Actual vapour pressure where humidity was not measured: the dew point taken near the night minimum.
    [kPa]

    Eq. 48 of [1]_; where ``is_arid``, the dew point is taken 2 °C below the minimum (Annex 6 of [1]_;
    the text allows 2 to 3).
    """
    dew = np.asarray(t_min_c, dtype=float) - np.where(np.asarray(is_arid), ARID_DEW_POINT_OFFSET_C, 0.0)
    return saturation_vapour_pressure_kpa(dew)


def relative_humidity_pct(vapour_pressure_kpa: ArrayLike, temp_air_c: ArrayLike) -> FloatArray:
    """Relative humidity at a temperature in °C. [%]; Eq. 10 of [1]_. Above 100 where the air is
    over-saturated."""
    return np.asarray(100.0 * np.asarray(vapour_pressure_kpa, dtype=float) / saturation_vapour_pressure_kpa(temp_air_c))


def rh_min_from_dew_point_pct(dew_point_c: ArrayLike, t_max_c: ArrayLike) -> FloatArray:
    """Lowest relative humidity of the day from dew point and maximum temperature in °C. [%]; Eq. 63 of [1]_
    (ch. 6)."""
    return relative_humidity_pct(saturation_vapour_pressure_kpa(dew_point_c), t_max_c)


def wind_to_2m_ms(wind_ms: ArrayLike, height_m: ArrayLike) -> FloatArray:
    """Wind speed at 2 m from that measured at ``height_m`` above short grass. [m/s]; Eq. 47 of [1]_.

    Examples
    --------
    Example 14 of [1]_:

    >>> round(float(wind_to_2m_ms(3.2, 10.0)), 1)
    2.4
    """
    height = np.asarray(height_m, dtype=float)
    if bool(np.any(height < 0.5)):
        raise InputError(
            f"height_m must be 0.5 or more (got {float(np.nanmin(height)):g}).",
            code="wind.height",
            field="height_m",
            hint="Give the height of the wind gauge above the ground.",
        )
    return np.asarray(np.asarray(wind_ms, dtype=float) * 4.87 / np.log(67.8 * height - 5.42))


def _fraction(percent: ArrayLike, name: str) -> FloatArray:
    value = np.asarray(percent, dtype=float)
    bad = (value < 0.0) | (value > 100.0)
    if bool(np.any(bad)):
        raise InputError(
            f"{name} must be between 0 and 100 (got {float(value[bad].flat[0]):g}).",
            code="humidity.range",
            field=name,
            hint="Relative humidity is a percentage of saturation.",
        )
    return value / 100.0
