"""Reference evapotranspiration of short grass, by the day and by the hour.

References
----------
.. [1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration", FAO Irrigation and Drainage
   Paper 56, Rome, 1998, ch. 3 and 4.
.. [2] ASCE-EWRI, "The ASCE Standardized Reference Evapotranspiration Equation", I. A. Walter, R. G. Allen et
   al. (eds), American Society of Civil Engineers, Reston, 2005.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import InputError
from soakbook.physics import air, sun

FloatArray = NDArray[np.float64]
Convention = Literal["FAO56", "ASCE2005"]
Surface = Literal["short", "tall"]

#: Albedo of the reference grass, [1]_ Eq. 38.
ALBEDO = 0.23
#: Evaporation of one MJ/m², 1/2.45. [mm per MJ/m²]
MM_PER_MJ_M2 = 0.408
#: Rs/Rso is held between these; the upper limit is in [1]_ (Eq. 39) and [2]_, the lower in [2]_ only.
CLOUD_RATIO_MIN, CLOUD_RATIO_MAX = 0.3, 1.0
#: Clear-sky radiation below which a day or hour counts as dark. [MJ/m²]
DARK_MJ_M2 = 0.001
#: Above this sun angle at mid-hour the hour's own Rs/Rso is trusted, [2]_. [rad]
LOW_SUN_RAD = 0.3
#: Rs/Rso of a night before any usable sun: the upper end of the humid range (0.4-0.6) of [1]_ ch. 4. [-]
NIGHT_CLOUD_RATIO = 0.6
#: Elements from which the compiled form of the daily equation pays for loading the compiler.
FAST_FROM = 200_000


@dataclass(frozen=True)
class _Constants:
    """What distinguishes one convention from another."""

    sigma_day: float
    sigma_hour: float
    slope: float
    cn_day: float
    cd_day: float
    cn_hour: float
    cd_hour_day: float
    cd_hour_night: float
    g_day: float
    g_night: float


# [1]: Eqs. 6, 13, 39, 45, 46, 53. [2]: Table 1 (read in a secondary source), slope 2503 = 4098 x 0.6108
# rounded.
_CONSTANTS: dict[tuple[str, str], _Constants] = {
    ("FAO56", "short"): _Constants(4.903e-9, 2.043e-10, 4098.0 * 0.6108, 900.0, 0.34, 37.0, 0.34, 0.34, 0.1, 0.5),
    ("ASCE2005", "short"): _Constants(4.901e-9, 2.042e-10, 2503.0, 900.0, 0.34, 37.0, 0.24, 0.96, 0.1, 0.5),
    ("ASCE2005", "tall"): _Constants(4.901e-9, 2.042e-10, 2503.0, 1600.0, 0.38, 66.0, 0.25, 1.7, 0.04, 0.2),
}


def constants(convention: str, surface: str = "short") -> _Constants:
    """The constants of a convention; InputError when it has none for the surface."""
    try:
        return _CONSTANTS[convention, surface]
    except KeyError:
        raise InputError(
            f"convention and surface must be one of {', '.join(' '.join(k) for k in _CONSTANTS)}"
            f" (got {convention} {surface}).",
            code="et.convention",
            field="convention",
            hint="Use FAO56 unless you compare with figures of the ASCE standard.",
        ) from None


def reference_et_daily(
    t_max_c: ArrayLike,
    t_min_c: ArrayLike,
    *,
    vapour_pressure_kpa: ArrayLike,
    solar_mj_m2: ArrayLike,
    wind_2m_ms: ArrayLike,
    elevation_m: ArrayLike,
    lat_deg: ArrayLike,
    day_of_year: ArrayLike,
    convention: Convention = "FAO56",
    surface: Surface = "short",
    t_mean_c: ArrayLike | None = None,
    soil_heat_mj_m2: ArrayLike = 0.0,
    out: FloatArray | None = None,
) -> FloatArray:
    """Reference evapotranspiration of days (Penman-Monteith). [mm/day]

    Parameters
    ----------
    t_max_c, t_min_c
        Highest and lowest air temperature of the day. [°C]
    vapour_pressure_kpa
        Actual vapour pressure. [kPa], 0 or more
    solar_mj_m2
        Solar radiation on a horizontal plane. [MJ/m² per day], 0 or more
    wind_2m_ms
        Mean wind at 2 m. [m/s], 0 or more
    elevation_m, lat_deg, day_of_year
        The place and the day (1-366). [m, °, -]
    convention, surface
        ``"FAO56"``, or ``"ASCE2005"`` for the constants of [2]_; the tall surface (alfalfa) is of [2]_ only.
    t_mean_c
        Mean temperature, where it is not to be the mean of the extremes (Eq. 9 of [1]_). [°C]
    soil_heat_mj_m2
        Heat going into the soil; 0 for single days (Eq. 42 of [1]_). [MJ/m² per day]
    out
        Array of the broadcast shape to write into, for callers that run again and again over large arrays;
        asking the system for new memory can take half as long as the computation.

    Returns
    -------
    FloatArray
        The broadcast shape of the inputs. NaN where an input is NaN. Not floored: slightly negative on cold
        days with more dew than evaporation; who wants a demand cuts it at zero.

    Notes
    -----
    Eq. 6 of [1]_ with the chain of Eqs. 7-13 and 37-40. Rs/Rso is kept between 0.3 and 1; in polar
    night it is 0.3. From :data:`FAST_FROM` values on, days along the first axis and stations along the last,
    a compiled form runs that differs by less than 1e-9 mm.

    Examples
    --------
    Example 18 of [1]_ (Uccle, 6 July):

    >>> eto = reference_et_daily(
    ...     21.5, 12.3, vapour_pressure_kpa=1.409, solar_mj_m2=22.07, wind_2m_ms=2.078,
    ...     elevation_m=100.0, lat_deg=50.8, day_of_year=187,
    ... )
    >>> round(float(eto), 1)
    3.9
    """
    k = constants(convention, surface)
    weather = [np.asarray(a, dtype=float) for a in (t_max_c, t_min_c, vapour_pressure_kpa, solar_mj_m2, wind_2m_ms)]
    site = [np.asarray(a, dtype=float) for a in (elevation_m, lat_deg, day_of_year)]
    soil = np.asarray(soil_heat_mj_m2, dtype=float)
    shape = np.broadcast_shapes(
        *(a.shape for a in (*weather, *site, soil, np.asarray(0.0 if t_mean_c is None else t_mean_c)))
    )
    result = _room_for(shape, out)
    if t_mean_c is None and soil.ndim == 0 and result.size >= FAST_FROM and result.flags.c_contiguous:
        from soakbook.physics import _fast_et

        return _fast_et.daily(weather, site, float(soil), k, result)
    t_max, t_min, ea, solar, wind = weather
    _refuse_negative(vapour_pressure_kpa=ea, solar_mj_m2=solar, wind_2m_ms=wind)
    t_mean = 0.5 * (t_max + t_min) if t_mean_c is None else np.asarray(t_mean_c, dtype=float)
    clear = sun.clear_sky_mj_m2(sun.extraterrestrial_daily_mj_m2(site[1], site[2]), site[0])
    net = net_radiation_daily_mj_m2(t_max, t_min, ea, solar, clear, sigma_mj_k4=k.sigma_day)
    deficit = air.mean_saturation_vapour_pressure_kpa(t_max, t_min) - ea
    result[...] = _penman_monteith(t_mean, deficit, wind, net - soil, _gamma(site[0]), k.slope, k.cn_day, k.cd_day)
    return result


def reference_et_hourly(
    t_c: ArrayLike,
    vapour_pressure_kpa: ArrayLike,
    solar_mj_m2: ArrayLike,
    wind_2m_ms: ArrayLike,
    elevation_m: ArrayLike,
    lat_deg: ArrayLike,
    lon_deg: ArrayLike,
    times_utc: NDArray[np.datetime64],
    *,
    convention: Convention = "ASCE2005",
    surface: Surface = "short",
    pressure_kpa: ArrayLike | None = None,
    first_cloud_ratio: float = NIGHT_CLOUD_RATIO,
) -> FloatArray:
    """Reference evapotranspiration of hours that follow each other. [mm/h]

    Parameters
    ----------
    t_c, vapour_pressure_kpa, solar_mj_m2, wind_2m_ms
        Hourly means and the hour's radiation. [°C, kPa, MJ/m² per h, m/s]. Hours along the first axis.
    elevation_m, lat_deg, lon_deg
        The place; one number, or one for each column. [m, °, ° east]
    times_utc
        Start of each hour, UTC, consecutive; shape (hours,).
    convention, surface
        ``"ASCE2005"`` (surface resistance 50 s/m by day and 200 s/m by night, Cd 0.24 and 0.96), which the
        authors of [1]_ later recommended too, or ``"FAO56"`` (Eq. 53 of [1]_, Cd 0.34 at all hours).
    pressure_kpa
        Air pressure where it was measured; otherwise that of the elevation. [kPa]
    first_cloud_ratio
        Rs/Rso until the first hour that can tell. [-] [1]_ ch. 4: 0.4-0.6 humid, 0.7-0.8 arid.

    Returns
    -------
    FloatArray
        Not floored: slightly negative in nights with dew. NaN where an input is NaN.

    Notes
    -----
    Day is where net radiation is above 0 ([2]_). How cloudy it is can be read from Rs/Rso only while
    the sun is high, so:

    1. While the sun at mid-hour stands above 0.3 rad, the cloud factor is the hour's own.
    2. Otherwise it is that of the last such hour ([2]_), up to 24 h back.
    3. Where no such hour is within 24 h (high latitudes in winter; not covered by the sources), it is taken
       from the sums of Rs and Rso over the last 24 h, and where these hold no light or are not known, from
       ``first_cloud_ratio``.
    """
    k = constants(convention, surface)
    times = np.asarray(times_utc).astype("datetime64[s]")
    _require_consecutive(times)
    t, ea, solar, wind = (np.asarray(a, dtype=float) for a in (t_c, vapour_pressure_kpa, solar_mj_m2, wind_2m_ms))
    _refuse_negative(vapour_pressure_kpa=ea, solar_mj_m2=solar, wind_2m_ms=wind)
    shape = np.broadcast_shapes(t.shape, ea.shape, solar.shape, wind.shape)
    along = times.reshape((-1,) + (1,) * (len(shape) - 1))
    clear = sun.clear_sky_mj_m2(sun.extraterrestrial_period_mj_m2(lat_deg, lon_deg, along), elevation_m)
    middle = sun.middle_of_period(along)
    decl = sun.declination_rad(sun.solar_day_of_year(lon_deg, middle))
    sine = sun.sine_of_elevation(lat_deg, decl, sun.hour_angle_rad(lon_deg, middle))
    full = np.broadcast_shapes(shape, clear.shape)
    ratio = carried_cloud_ratio(
        np.broadcast_to(solar, full),
        np.broadcast_to(clear, full),
        np.broadcast_to(sine, full),
        first_cloud_ratio,
    )
    longwave = net_longwave_mj_m2(k.sigma_hour * (t + 273.16) ** 4, ea, ratio)
    net = (1.0 - ALBEDO) * solar - longwave
    is_day = net > 0.0
    soil = np.where(is_day, k.g_day, k.g_night) * net
    gamma = _gamma(elevation_m) if pressure_kpa is None else air.psychrometric_constant_kpa_c(pressure_kpa)
    deficit = air.saturation_vapour_pressure_kpa(t) - ea
    cd = np.where(is_day, k.cd_hour_day, k.cd_hour_night)
    return _penman_monteith(t, deficit, wind, net - soil, gamma, k.slope, k.cn_hour, cd)


def carried_cloud_ratio(
    solar_mj_m2: FloatArray, clear_sky_mj_m2: FloatArray, sine_of_elevation: FloatArray, first_ratio: float
) -> FloatArray:
    """Rs/Rso for every hour, carried through night and low sun by the rules of :func:`reference_et_hourly`.
    [-]

    The arrays have hours along the first axis and one shape.
    """
    n = len(solar_mj_m2)
    tells = (sine_of_elevation > np.sin(LOW_SUN_RAD)) & (clear_sky_mj_m2 > DARK_MJ_M2) & np.isfinite(solar_mj_m2)
    own = np.where(tells, solar_mj_m2 / np.where(tells, clear_sky_mj_m2, 1.0), np.nan)
    index = np.arange(n).reshape((n,) + (1,) * (solar_mj_m2.ndim - 1))
    last = np.maximum.accumulate(np.where(tells, index, -1), axis=0)
    carried = np.take_along_axis(own, np.maximum(last, 0), axis=0)
    light, possible = _sum_of_last_day(solar_mj_m2), _sum_of_last_day(clear_sky_mj_m2)
    is_known = np.isfinite(light) & (possible > 24.0 * DARK_MJ_M2)
    summed = np.where(is_known, light / np.where(is_known, possible, 1.0), first_ratio)
    ratio = np.where((last >= 0) & (index - last <= 24), carried, summed)
    return np.asarray(np.clip(ratio, CLOUD_RATIO_MIN, CLOUD_RATIO_MAX))


def _sum_of_last_day(hourly: FloatArray) -> FloatArray:
    """Sums over 24 hours up to and including each; NaN where fewer are there or one is missing."""
    out = np.full(hourly.shape, np.nan)
    if len(hourly) >= 24:
        windows = np.lib.stride_tricks.sliding_window_view(hourly, 24, axis=0)
        out[23:] = windows.sum(axis=-1)
    return out


def net_longwave_mj_m2(
    black_body_mj_m2: ArrayLike, vapour_pressure_kpa: ArrayLike, cloud_ratio: ArrayLike
) -> FloatArray:
    """Net outgoing longwave radiation. [MJ/m² per step]; Eq. 39 of [1]_.

    ``black_body_mj_m2`` is sigma T⁴ (of a day: the mean of that of both extremes), ``cloud_ratio`` Rs/Rso,
    which is held between 0.3 and 1.
    """
    ratio = np.clip(np.asarray(cloud_ratio, dtype=float), CLOUD_RATIO_MIN, CLOUD_RATIO_MAX)
    humidity = 0.34 - 0.14 * np.sqrt(np.asarray(vapour_pressure_kpa, dtype=float))
    return np.asarray(np.asarray(black_body_mj_m2, dtype=float) * humidity * (1.35 * ratio - 0.35))


def net_radiation_daily_mj_m2(
    t_max_c: ArrayLike,
    t_min_c: ArrayLike,
    vapour_pressure_kpa: ArrayLike,
    solar_mj_m2: ArrayLike,
    clear_sky_mj_m2: ArrayLike,
    *,
    sigma_mj_k4: float = 4.903e-9,
) -> FloatArray:
    """Net radiation of grass in a day. [MJ/m² per day]; Eqs. 38-40 of [1]_."""
    solar = np.asarray(solar_mj_m2, dtype=float)
    body = 0.5 * sigma_mj_k4 * (_kelvin_4(t_max_c) + _kelvin_4(t_min_c))
    ratio = solar / np.maximum(np.asarray(clear_sky_mj_m2, dtype=float), DARK_MJ_M2)
    return np.asarray((1.0 - ALBEDO) * solar - net_longwave_mj_m2(body, vapour_pressure_kpa, ratio))


def reference_et_hargreaves(t_max_c: ArrayLike, t_min_c: ArrayLike, extraterrestrial_mj_m2: ArrayLike) -> FloatArray:
    """Reference evapotranspiration from temperatures alone. [mm/day]; Eq. 52 of [1]_.

    A check, or a last resort: [1]_ asks for a local calibration. NaN where the maximum is below the minimum.
    """
    t_max, t_min = np.asarray(t_max_c, dtype=float), np.asarray(t_min_c, dtype=float)
    spread = np.where(t_max >= t_min, t_max - t_min, np.nan)
    ra_mm = MM_PER_MJ_M2 * np.asarray(extraterrestrial_mj_m2, dtype=float)
    return np.asarray(0.0023 * (0.5 * (t_max + t_min) + 17.8) * np.sqrt(spread) * ra_mm)


def soil_heat_monthly_mj_m2(t_previous_c: ArrayLike, t_next_c: ArrayLike) -> FloatArray:
    """Soil heat flux of a month from the mean temperatures of the months around it. [MJ/m² per day]; Eq. 43
    of [1]_."""
    return np.asarray(0.07 * (np.asarray(t_next_c, dtype=float) - np.asarray(t_previous_c, dtype=float)))


def soil_heat_monthly_so_far_mj_m2(t_previous_c: ArrayLike, t_this_c: ArrayLike) -> FloatArray:
    """Soil heat flux of a month while the next is not known. [MJ/m² per day]; Eq. 44 of [1]_."""
    return np.asarray(0.14 * (np.asarray(t_this_c, dtype=float) - np.asarray(t_previous_c, dtype=float)))


def soil_heat_hourly_mj_m2(net_radiation_mj_m2: ArrayLike) -> FloatArray:
    """Soil heat flux under grass in an hour: 0.1 of net radiation by day, 0.5 by night. [MJ/m² per h]; Eqs.
    45, 46 of [1]_.

    Day is where net radiation is above 0.
    """
    net = np.asarray(net_radiation_mj_m2, dtype=float)
    return np.asarray(np.where(net > 0.0, 0.1, 0.5) * net)


def _penman_monteith(
    t_mean: FloatArray,
    deficit: FloatArray,
    wind: FloatArray,
    energy: FloatArray,
    gamma: FloatArray,
    slope_numerator: float,
    cn: float,
    cd: ArrayLike,
) -> FloatArray:
    """Eq. 6 of [1]_, Eq. 1 of [2]_."""
    warm = t_mean + 237.3
    slope = slope_numerator * np.exp(17.27 * t_mean / warm) / warm**2
    top = MM_PER_MJ_M2 * slope * energy + gamma * cn / (t_mean + 273.0) * wind * deficit
    return np.asarray(top / (slope + gamma * (1.0 + np.asarray(cd) * wind)))


def _room_for(shape: tuple[int, ...], out: FloatArray | None) -> FloatArray:
    if out is None:
        return np.empty(shape)
    if out.shape != shape or out.dtype != np.float64:
        raise InputError(
            f"out must be float64 of shape {shape} (got {out.dtype} of {out.shape}).",
            code="et.out",
            field="out",
        )
    return out


def _gamma(elevation_m: ArrayLike) -> FloatArray:
    return air.psychrometric_constant_kpa_c(air.pressure_kpa(elevation_m))


def _kelvin_4(temp_c: ArrayLike) -> FloatArray:
    return np.asarray((np.asarray(temp_c, dtype=float) + 273.16) ** 4)


def _refuse_negative(**values: FloatArray) -> None:
    for name, value in values.items():
        if bool(np.any(value < 0.0)):
            raise negative_input(name, float(np.nanmin(value)))


def negative_input(name: str, value: float) -> InputError:
    """The error for a weather value that cannot be below zero."""
    return InputError(
        f"{name} must be 0 or more (got {value:g}).",
        code="weather.negative",
        field=name,
        hint="Treat such readings as missing and fill them.",
    )


def _require_consecutive(times: NDArray[np.datetime64]) -> None:
    if times.ndim != 1 or not bool(np.all(np.diff(times) == np.timedelta64(3600, "s"))):
        raise InputError(
            "times_utc must be one row of hours that follow each other.",
            code="time.gap",
            field="times_utc",
            hint="Fill the gaps with NaN first: the cloud factor is carried from hour to hour.",
        )
