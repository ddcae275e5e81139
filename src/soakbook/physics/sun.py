"""The sun: its radiation above and below the atmosphere, its place in the sky, and what a horizon takes away.

Angles in signatures are degrees unless the name says ``_rad``. All functions take numbers or arrays,
broadcast them, and give NaN where an input is NaN. Longitudes are positive east, azimuths run from north (0)
by east (90).

References
----------
.. [1] R. G. Allen, L. S. Pereira, D. Raes, M. Smith, "Crop evapotranspiration", FAO Irrigation and Drainage
   Paper 56, Rome, 1998, ch. 3.
.. [2] J. J. Michalsky, "The Astronomical Almanac's algorithm for approximate solar position (1950-2050)",
   Solar Energy 40(3), 1988, pp. 227-235.
.. [3] D. G. Erbs, S. A. Klein, J. A. Duffie, "Estimation of the diffuse radiation fraction for hourly, daily
   and monthly-average global radiation", Solar Energy 28(4), 1982, pp. 293-302.
.. [4] A. B. Meinel, M. P. Meinel, "Applied Solar Energy: An Introduction", Addison-Wesley, 1976 (clear-sky
beam
   0.7^(AM^0.678); the formula as restated on solar engineering teaching pages).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import InputError

FloatArray = NDArray[np.float64]

#: Solar constant of [1]_. [MJ/m² per minute]
SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
#: Angstrom coefficients where none were fitted, [1]_ Eq. 35.
ANGSTROM_A, ANGSTROM_B = 0.25, 0.50
#: Coefficients of the temperature-range rule, [1]_ Eq. 50: inland and coastal places.
KRS_INTERIOR, KRS_COASTAL = 0.16, 0.19
#: Sunset hour angle that parts winter from the rest in the daily form of [3]_. [rad]
ERBS_WINTER_SUNSET_RAD = float(np.radians(81.4))

#: (compass azimuth, elevation angle) pairs in degrees of what stands in the way.
Horizon = Sequence[tuple[float, float]]

_DAY = 2.0 * np.pi / 365.0
_HOUR_ANGLE_PER_HOUR = np.pi / 12.0
_STEPS_PER_DAY = 240
_STEPS_PER_HOUR = 12


def latitude_rad(lat_deg: ArrayLike) -> FloatArray:
    """Latitude in radians, checked; Eq. 22 of [1]_. South is negative."""
    lat = np.asarray(lat_deg, dtype=float)
    bad = ~(np.abs(lat) <= 90.0)
    if bool(np.any(bad)):
        raise InputError(
            f"lat_deg must be between -90 and 90 (got {float(lat[bad].flat[0]):g}).",
            code="latitude.range",
            field="lat_deg",
            hint="Degrees north of the equator; south is negative.",
        )
    return np.asarray(np.radians(lat))


def inverse_relative_distance(day_of_year: ArrayLike) -> FloatArray:
    """Inverse relative distance of earth and sun on a day of the year (1-366). [-]; Eq. 23 of [1]_."""
    return np.asarray(1.0 + 0.033 * np.cos(_DAY * np.asarray(day_of_year, dtype=float)))


def declination_rad(day_of_year: ArrayLike) -> FloatArray:
    """Solar declination on a day of the year (1-366). [rad]; Eq. 24 of [1]_."""
    return np.asarray(0.409 * np.sin(_DAY * np.asarray(day_of_year, dtype=float) - 1.39))


def sunset_hour_angle_rad(lat_deg: ArrayLike, day_of_year: ArrayLike) -> FloatArray:
    """Hour angle of sunset: 0 in polar night, pi in polar day. [rad]; Eq. 25 of [1]_."""
    cosine = -np.tan(latitude_rad(lat_deg)) * np.tan(declination_rad(day_of_year))
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)))


def extraterrestrial_daily_mj_m2(lat_deg: ArrayLike, day_of_year: ArrayLike) -> FloatArray:
    """Radiation on a horizontal plane above the atmosphere in a day. [MJ/m²]; Eq. 21 of [1]_.

    Examples
    --------
    Example 8 of [1]_ (3 September, 20° S):

    >>> round(float(extraterrestrial_daily_mj_m2(-20.0, 246)), 1)
    32.2
    """
    lat, decl = latitude_rad(lat_deg), declination_rad(day_of_year)
    sunset = sunset_hour_angle_rad(lat_deg, day_of_year)
    path = sunset * np.sin(lat) * np.sin(decl) + np.cos(lat) * np.cos(decl) * np.sin(sunset)
    scale = 24.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_M2_MIN
    return np.asarray(scale * inverse_relative_distance(day_of_year) * path)


def daylight_hours(lat_deg: ArrayLike, day_of_year: ArrayLike) -> FloatArray:
    """Longest possible sunshine of the day. [h]; Eq. 34 of [1]_."""
    return np.asarray(24.0 / np.pi * sunset_hour_angle_rad(lat_deg, day_of_year))


def seasonal_correction_h(day_of_year: ArrayLike) -> FloatArray:
    """Solar time minus mean time. [h]; Eqs. 32 and 33 of [1]_."""
    b = 2.0 * np.pi * (np.asarray(day_of_year, dtype=float) - 81.0) / 364.0
    return np.asarray(0.1645 * np.sin(2.0 * b) - 0.1255 * np.cos(b) - 0.025 * np.sin(b))


def middle_of_period(times_utc: NDArray[np.datetime64], hours: float = 1.0) -> NDArray[np.datetime64]:
    """The instants half way through periods that begin at ``times_utc``."""
    middle: NDArray[np.datetime64] = np.add(
        np.asarray(times_utc).astype("datetime64[s]"), np.timedelta64(round(1800 * hours), "s")
    )
    return middle


def solar_day_of_year(lon_deg: ArrayLike, times_utc: NDArray[np.datetime64]) -> FloatArray:
    """Day of the year (from 1) by local mean solar time at the instants ``times_utc``."""
    shift = np.round(np.asarray(lon_deg, dtype=float) * 240.0).astype("timedelta64[s]")
    local = np.asarray(times_utc).astype("datetime64[s]") + shift
    days = local.astype("datetime64[D]") - local.astype("datetime64[Y]").astype("datetime64[D]")
    return np.asarray(days / np.timedelta64(1, "D") + 1.0)


def hour_angle_rad(lon_deg: ArrayLike, times_utc: NDArray[np.datetime64]) -> FloatArray:
    """Hour angle of the sun at instants, from -pi to pi, 0 at solar noon. [rad]; Eq. 31 of [1]_ with clock
    time UTC."""
    times = np.asarray(times_utc).astype("datetime64[s]")
    clock = (times - times.astype("datetime64[D]")) / np.timedelta64(3600, "s")
    lon = np.asarray(lon_deg, dtype=float)
    solar = clock + lon / 15.0 + seasonal_correction_h(solar_day_of_year(lon, times))
    return np.asarray(np.mod(_HOUR_ANGLE_PER_HOUR * (solar - 12.0) + np.pi, 2.0 * np.pi) - np.pi)


def sine_of_elevation(lat_deg: ArrayLike, declination_rad: ArrayLike, hour_angle_rad: ArrayLike) -> FloatArray:
    """Sine of the sun's elevation above the horizon."""
    lat, decl = latitude_rad(lat_deg), np.asarray(declination_rad, dtype=float)
    return np.asarray(
        np.sin(lat) * np.sin(decl) + np.cos(lat) * np.cos(decl) * np.cos(np.asarray(hour_angle_rad, dtype=float))
    )


def extraterrestrial_period_mj_m2(
    lat_deg: ArrayLike, lon_deg: ArrayLike, times_utc: NDArray[np.datetime64], hours: float = 1.0
) -> FloatArray:
    """Radiation above the atmosphere over periods that begin at ``times_utc`` and last ``hours``. [MJ/m² per
    period]

    Eqs. 28-33 of [1]_. The period is cut at sunrise and sunset, so that the hour of sunrise counts only what
    is above the horizon; periods across solar midnight are followed through, which matters where the sun does
    not set.
    """
    middle = middle_of_period(times_utc, hours)
    day = solar_day_of_year(lon_deg, middle)
    lat, decl = latitude_rad(lat_deg), declination_rad(day)
    sunset = sunset_hour_angle_rad(lat_deg, day)
    omega = hour_angle_rad(lon_deg, middle)
    half = _HOUR_ANGLE_PER_HOUR * hours / 2.0
    path = np.zeros(np.broadcast_shapes(omega.shape, sunset.shape))
    for turn in (-2.0 * np.pi, 0.0, 2.0 * np.pi):
        first = np.maximum(omega - half, turn - sunset)
        last = np.maximum(np.minimum(omega + half, turn + sunset), first)
        path = path + (last - first) * np.sin(lat) * np.sin(decl)
        path = path + np.cos(lat) * np.cos(decl) * (np.sin(last) - np.sin(first))
    return np.asarray(12.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_M2_MIN * inverse_relative_distance(day) * path)


def solar_from_sunshine(sunshine_h: ArrayLike, daylight_h: ArrayLike, extraterrestrial_mj_m2: ArrayLike) -> FloatArray:
    """Solar radiation from hours of sunshine. [MJ/m² per day]; Eq. 35 of [1]_. NaN where the day has no
    daylight."""
    day = np.asarray(daylight_h, dtype=float)
    share = np.asarray(sunshine_h, dtype=float) / np.where(day > 0.0, day, np.nan)
    return np.asarray((ANGSTROM_A + ANGSTROM_B * share) * np.asarray(extraterrestrial_mj_m2, dtype=float))


def clear_sky_mj_m2(extraterrestrial_mj_m2: ArrayLike, elevation_m: ArrayLike) -> FloatArray:
    """Solar radiation of a cloudless day or hour. [MJ/m²]; Eq. 37 of [1]_."""
    z = np.asarray(elevation_m, dtype=float)
    return np.asarray((0.75 + 2e-5 * z) * np.asarray(extraterrestrial_mj_m2, dtype=float))


def solar_from_temperature_range(
    t_max_c: ArrayLike,
    t_min_c: ArrayLike,
    extraterrestrial_mj_m2: ArrayLike,
    elevation_m: ArrayLike = 0.0,
    *,
    is_coastal: ArrayLike = False,
) -> FloatArray:
    """Solar radiation where it was not measured, from the day's temperature range. [MJ/m² per day]

    Eq. 50 of [1]_, kRs 0.16 inland and 0.19 on coasts, never above the clear-sky radiation (as [1]_
    prescribes). NaN where the maximum is below the minimum.
    """
    spread = np.asarray(t_max_c, dtype=float) - np.asarray(t_min_c, dtype=float)
    krs = np.where(np.asarray(is_coastal), KRS_COASTAL, KRS_INTERIOR)
    ra = np.asarray(extraterrestrial_mj_m2, dtype=float)
    estimate = krs * np.sqrt(np.where(spread >= 0.0, spread, np.nan)) * ra
    return np.asarray(np.minimum(estimate, clear_sky_mj_m2(ra, elevation_m)))


def solar_position_deg(
    lat_deg: ArrayLike, lon_deg: ArrayLike, at_utc: NDArray[np.datetime64]
) -> tuple[FloatArray, FloatArray]:
    """Azimuth (from north by east, 0-360) and elevation of the sun's centre. [°, °]

    Approximate coordinates of the Astronomical Almanac as given in [2]_, good to 0.01° from 1950 to 2050;
    refraction is left out (it lifts a sun at the horizon by about 0.6°).
    """
    lat = latitude_rad(lat_deg)
    instant = np.asarray(at_utc).astype("datetime64[ms]")
    days = (instant - np.datetime64("2000-01-01T12:00", "ms")) / np.timedelta64(86_400_000, "ms")
    hour = (instant - instant.astype("datetime64[D]")) / np.timedelta64(3_600_000, "ms")
    mean_longitude = 280.460 + 0.9856474 * days
    anomaly = np.radians(np.mod(357.528 + 0.9856003 * days, 360.0))
    ecliptic = np.radians(mean_longitude + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2.0 * anomaly))
    obliquity = np.radians(23.439 - 0.0000004 * days)
    ascension = np.arctan2(np.cos(obliquity) * np.sin(ecliptic), np.cos(ecliptic))
    decl = np.arcsin(np.sin(obliquity) * np.sin(ecliptic))
    sidereal_h = 6.697375 + 0.0657098242 * days + hour
    omega = np.radians(15.0 * sidereal_h + np.asarray(lon_deg, dtype=float)) - ascension
    elevation = np.arcsin(np.clip(sine_of_elevation(lat_deg, decl, omega), -1.0, 1.0))
    return _azimuth_deg(lat, decl, omega), np.asarray(np.degrees(elevation))


def _azimuth_deg(lat: FloatArray, decl: FloatArray, omega: FloatArray) -> FloatArray:
    """Compass azimuth from latitude, declination and hour angle in radians (spherical triangle)."""
    east = -np.cos(decl) * np.sin(omega)
    north = np.sin(decl) * np.cos(lat) - np.cos(decl) * np.sin(lat) * np.cos(omega)
    return np.asarray(np.mod(np.degrees(np.arctan2(east, north)), 360.0))


def diffuse_fraction_hourly(clearness: ArrayLike) -> FloatArray:
    """Diffuse part of an hour's global radiation from its clearness Rs/Ra. [-]; Erbs et al. [3]_, hourly
    form.

    The coefficients agree with the restatement in Duffie & Beckman, Eq. 2.10.1.
    """
    k = np.asarray(clearness, dtype=float)
    middle = 0.9511 - 0.1604 * k + 4.388 * k**2 - 16.638 * k**3 + 12.336 * k**4
    return np.asarray(np.select([k <= 0.22, k <= 0.80, k > 0.80], [1.0 - 0.09 * k, middle, 0.165], np.nan))


def diffuse_fraction_daily(clearness: ArrayLike, sunset_hour_angle_rad: ArrayLike) -> FloatArray:
    """Diffuse part of a day's global radiation from its clearness Rs/Ra. [-]; Erbs et al. [3]_, daily form.

    Two curves: winter (sunset hour angle up to 81.4°) and the rest of the year; the coefficients agree with
    the restatement in Duffie & Beckman, Eq. 2.11.1.
    """
    k, sunset = np.broadcast_arrays(np.asarray(clearness, float), np.asarray(sunset_hour_angle_rad, float))
    winter = np.where(k < 0.715, 1.0 - 0.2727 * k + 2.4495 * k**2 - 11.9514 * k**3 + 9.3879 * k**4, 0.143)
    rest = np.where(k < 0.722, 1.0 + 0.2832 * k - 2.5557 * k**2 + 0.8448 * k**3, 0.175)
    value = np.where(sunset <= ERBS_WINTER_SUNSET_RAD, winter, rest)
    # The summer curve rises to 1.008 near k = 0.06; a fraction cannot.
    return np.where(np.isnan(k) | np.isnan(sunset), np.nan, np.minimum(value, 1.0))


@dataclass(frozen=True)
class Shade:
    """What a horizon leaves: of the beam, for each day or hour, and of the sky (isotropic, horizontal
    plane)."""

    beam_kept: FloatArray
    sky_view: float


def shaded_fraction_of_sun(
    horizon: Horizon,
    lat_deg: float,
    lon_deg: float = 0.0,
    *,
    day_of_year: ArrayLike | None = None,
    times_utc: NDArray[np.datetime64] | None = None,
) -> Shade:
    """What a horizon leaves of beam and sky, on days (``day_of_year``) or in hours that begin at
    ``times_utc``."""
    if (day_of_year is None) == (times_utc is None):
        raise InputError(
            "exactly one of day_of_year and times_utc must be given.", code="sun.when", field="day_of_year"
        )
    if times_utc is not None:
        return Shade(beam_kept_hourly(horizon, lat_deg, lon_deg, times_utc), sky_view_factor(horizon))
    assert day_of_year is not None
    return Shade(beam_kept_daily(horizon, lat_deg, day_of_year), sky_view_factor(horizon))


def shaded_radiation(
    solar_mj_m2: ArrayLike,
    extraterrestrial_mj_m2: ArrayLike,
    shade: Shade,
    *,
    sunset_hour_angle_rad: ArrayLike | None = None,
) -> FloatArray:
    """Radiation that reaches a shaded place, from that in the open. [MJ/m² per step]

    The diffuse part follows from the clearness Rs/Ra: by the daily form where the sunset hour angle is given,
    else by the hourly form. Beam is cut by ``shade.beam_kept``, the diffuse part by ``shade.sky_view``; light
    thrown back by walls is not counted. Where Ra is 0, all light is diffuse.
    """
    rs, ra = np.asarray(solar_mj_m2, dtype=float), np.asarray(extraterrestrial_mj_m2, dtype=float)
    clearness = np.where(ra > 0.0, rs / np.where(ra > 0.0, ra, 1.0), 0.0)
    if sunset_hour_angle_rad is None:
        diffuse = diffuse_fraction_hourly(clearness)
    else:
        diffuse = diffuse_fraction_daily(clearness, sunset_hour_angle_rad)
    return np.asarray(rs * ((1.0 - diffuse) * shade.beam_kept + diffuse * shade.sky_view))


def horizon_elevation_deg(horizon: Horizon, azimuth_deg: ArrayLike) -> FloatArray:
    """Elevation of the horizon towards compass azimuths, linear between the given pairs and around north.
    [°]"""
    azimuth = np.mod(np.asarray(azimuth_deg, dtype=float), 360.0)
    corners, heights = _closed_circle(horizon)
    return np.asarray(np.interp(azimuth, corners, heights))


def sky_view_factor(horizon: Horizon) -> float:
    """Part of isotropic sky light on a horizontal plane that the horizon leaves: mean of cos² of its
    elevation. [-]

    Exact for elevations that run linearly between the given azimuths.
    """
    # The first run (before the first azimuth) is the last one again, one turn earlier.
    corners, heights = (a[1:] for a in _closed_circle(horizon))
    width, h = np.diff(corners), np.radians(heights)
    rise = np.diff(h)
    # Integral of cos² over a linear run: 1/2 + (sin 2b - sin 2a) / (4 (b - a)), which is cos² a when level.
    level = np.abs(rise) < 1e-9
    run = 0.5 + np.diff(np.sin(2.0 * h)) / (4.0 * np.where(level, 1.0, rise))
    mean = np.where(level, np.cos(h[:-1]) ** 2, run)
    return float(np.sum(mean * width) / 360.0)


def _closed_circle(horizon: Horizon) -> tuple[FloatArray, FloatArray]:
    """Azimuths and elevations in order, with the ends repeated so that they cover 0 to 360."""
    if len(horizon) == 0:
        return np.array([-360.0, 0.0, 360.0]), np.zeros(3)
    pairs = np.array([(float(a), float(e)) for a, e in horizon])
    for azimuth, elevation in pairs:
        if not (0.0 <= elevation <= 90.0) or not (-360.0 <= azimuth <= 360.0):
            raise InputError(
                "horizon must hold azimuths from -360 to 360 and elevations from 0 to 90 degrees"
                f" (got azimuth {azimuth:g}, elevation {elevation:g}).",
                code="horizon.range",
                field="horizon",
                hint="Azimuth counts from north by east; elevation is the angle up to the top edge.",
            )
    azimuths = np.where(pairs[:, 0] == 360.0, 360.0, np.mod(pairs[:, 0], 360.0))
    order = np.argsort(azimuths, kind="stable")
    azimuths, elevations = azimuths[order], pairs[order, 1]
    corners = np.concatenate([[azimuths[-1] - 360.0], azimuths, [azimuths[0] + 360.0]])
    heights = np.concatenate([[elevations[-1]], elevations, [elevations[0]]])
    return corners, heights


def beam_kept_daily(horizon: Horizon, lat_deg: float, day_of_year: ArrayLike) -> FloatArray:
    """Part of the beam on a horizontal plane that a horizon leaves on days of the year. [-], 1 in polar night

    The sun's path (declination of Eq. 24 of [1]_) is followed from sunrise to sunset in 240 steps, each
    weighted with the clear-sky beam of [4]_ on the horizontal.
    """
    days, where = np.unique(np.asarray(day_of_year, dtype=float), return_inverse=True)
    sunset = sunset_hour_angle_rad(lat_deg, days)[:, None]
    omega = sunset * (2.0 * (np.arange(_STEPS_PER_DAY) + 0.5) / _STEPS_PER_DAY - 1.0)
    decl = declination_rad(days)[:, None]
    sine = sine_of_elevation(lat_deg, decl, omega)
    kept = _beam_kept(horizon, _azimuth_deg(latitude_rad(lat_deg), decl, omega), sine)
    return np.asarray(kept[where].reshape(np.shape(day_of_year)))


def beam_kept_hourly(horizon: Horizon, lat_deg: float, lon_deg: float, times_utc: NDArray[np.datetime64]) -> FloatArray:
    """Part of the beam on a horizontal plane that a horizon leaves in hours that begin at ``times_utc``. [-]

    Twelve instants an hour by :func:`solar_position_deg`, weighted as in :func:`beam_kept_daily`; 1 at night.
    """
    starts = np.asarray(times_utc).astype("datetime64[s]")
    offsets = ((np.arange(_STEPS_PER_HOUR) + 0.5) * 3600.0 / _STEPS_PER_HOUR).astype("timedelta64[s]")
    azimuth, elevation = solar_position_deg(lat_deg, lon_deg, starts[..., None] + offsets)
    return _beam_kept(horizon, azimuth, np.sin(np.radians(elevation)))


def _beam_kept(horizon: Horizon, azimuth_deg: FloatArray, sine: FloatArray) -> FloatArray:
    """Weighted share, over the last axis, of the instants at which the sun stands above the horizon line."""
    is_up = sine > 0.0
    beam = np.where(is_up, sine * 0.7 ** (np.where(is_up, sine, 1.0) ** -0.678), 0.0)
    is_free = np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))) > horizon_elevation_deg(horizon, azimuth_deg)
    total = beam.sum(axis=-1)
    return np.asarray(np.where(total > 0.0, (beam * is_free).sum(axis=-1) / np.where(total > 0.0, total, 1.0), 1.0))
