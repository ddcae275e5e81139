"""Made weather: days drawn by chance that have the monthly normals of a spot.

The frame is that of [1]_: wet and dry days follow each other as a chain of first order, amounts are drawn on wet days,
and temperatures and sunlight depend on whether the day is wet and on the day before. Normals say nothing of how days differ
within a month, so those figures come from elsewhere:

- *Wet after wet and wet after dry* from the share of wet days by the relation of [2]_: p(wet after dry) = 0.75 f and
  p(wet after wet) = 0.25 + 0.75 f (from memory; both follow from a lag-one correlation of 0.25).
  Days of 1 mm or more at stations [4]_ hang together a little less, about 0.17, so spells come out some 10 % too long there.
- *Amounts*: what falls above the 1 mm that makes a wet day follows a gamma distribution with the shape of [2]_,
  mean / (-2.16 + 1.83 mean), at most 1 (from memory). At 19 stations [4]_ in 2020 the shape was 0.36 to 1.54, median 0.68.
- *Day to day*: the matrices of [1]_ as given in [3]_ (from memory; they agree with the correlations of the same source).
- *Standard deviations, and what a wet day changes*: fitted by least squares to the 227 station-months of 19 stations [4]_ in 2020
  (:data:`SD_MAX`, :data:`SD_MIN` and the constants after them). A maritime or tropical spot lies outside these data.

References
----------
.. [1] C. W. Richardson, "Stochastic simulation of daily precipitation, temperature, and solar radiation", Water Resources
   Research 17 (1981) 182-190.
.. [2] S. Geng, F. W. T. Penning de Vries, I. Supit, "A simple method for generating daily rainfall data", Agricultural
   and Forest Meteorology 36 (1986) 363-376.
.. [3] C. W. Richardson, D. A. Wright, "WGEN: a model for generating daily weather variables", USDA ARS-8, 1984.
.. [4] U.S. Climate Reference Network, product daily01 (H. J. Diamond et al., Bull. Amer. Meteor. Soc. 94:485-498, 2013).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.physics import sun
from soakbook.physics.air import WIND_DEFAULT_MS, vapour_pressure_from_tmin
from soakbook.said import say
from soakbook.weather.fill import ARID_BELOW
from soakbook.weather.members import WeatherMembers, day_of_year, not_above_saturation, ordered
from soakbook.weather.normals import MonthlyNormals, expected_weather
from soakbook.weather.series import FloatArray
from soakbook.weather.smooth import daily_from_months

#: Rain that makes a wet day in the normals. [mm]
WET_MM = 1.0
#: Lag-one correlation of wet days: 0.25 in [2]_.
WET_AGAIN = 0.25
#: Least mean rain of a wet day, and what it is taken as where normals have rain but no wet day. [mm] (judged)
LEAST_WET_MM, LONE_WET_MM = 1.5, 3.0
MOST_WET = 0.95
#: Correlations of maximum, minimum and sunlight on one day, and from one day (rows) to the day before (columns); [3]_.
SAME_DAY = np.array([[1.0, 0.633, 0.186], [0.633, 1.0, -0.193], [0.186, -0.193, 1.0]])
DAY_BEFORE = np.array([[0.621, 0.445, 0.087], [0.563, 0.674, -0.100], [0.015, -0.091, 0.251]])
#: Part of the variance that goes on for weeks, and its lag-one correlation. Chains that only know yesterday make weeks and months too
#: much alike (D. S. Wilks, R. L. Wilby, Progress in Physical Geography 23:329-357, 1999). Judged so that demand spreads as on record: at 32
#: stations [4]_ in 2020 sums of 7, 14 and 30 days then have 0.91, 0.95 and 1.02 of the spread seen (medians; with 0.15 they had 0.89,
#: 0.89 and 0.93), at the demo's station those of a fortnight 0.97 (with 0.15: 0.85).
SLOW_PART, SLOW_AGAIN = 0.35, 0.95
#: Standard deviation of a day's maximum and minimum about its month: constant, per °C of the year's range of monthly means, per
#: that range times how warm the month is (-1 coldest, 1 warmest), per °C of the day's range.
SD_MAX, SD_MIN = (1.10, 0.061, -0.054, 0.118), (0.865, 0.099, -0.039, 0.034)
#: What detrending by the month took from these: the variance of a month's mean when days are correlated by 0.6.
SD_MONTH = 1.07
LEAST_SD_C = 0.8
#: How much warmer a dry day's maximum is: constant and per °C of the day's range; its minimum (dry nights are colder).
DRY_MAX, DRY_MIN = (-2.23, 0.345), -1.45
DRY_MAX_WITHIN = (-1.0, 5.0)
#: Sunlight of a wet day over that of a dry one, and the spread of its logit (on a scale that ends at 1.05 of clear sky).
WET_LIGHT, LIGHT_SD_WET, LIGHT_SD_DRY, LIGHT_TOP = 0.54, 0.94, 0.85, 1.05
#: Dew point: share of the minimum's departure it follows, dry less wet beyond that, what is left and its lag-one
#: correlation. [-, °C, °C, -]
DEW_FOLLOWS, DRY_DEW, DEW_SD, DEW_AGAIN = 0.77, -2.05, 2.4, 0.27
#: Coefficient of variation of a day's mean wind about its month, log-normal, and its lag-one correlation: as in 13 years of daily
#: analyses for a spot in Kansas (J. T. Abatzoglou, Int. J. Climatol. 33:121-131, 2013; computed here).
WIND_CV, WIND_AGAIN = 0.36, 0.32

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(31)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class UsualDays:
    """What is usual on each of a run of days, (days,): the chance of a wet day and its mean rain, means and standard
    deviations of the rest. ``clear_mj_m2`` is the sunlight of a cloudless day."""

    times: NDArray[np.datetime64]
    wet_chance: FloatArray
    wet_mm: FloatArray
    t_max_c: FloatArray
    t_min_c: FloatArray
    sd_max_c: FloatArray
    sd_min_c: FloatArray
    dry_warmer_c: FloatArray
    vapour_pressure_kpa: FloatArray
    solar_mj_m2: FloatArray
    clear_mj_m2: FloatArray
    lat_deg: float
    lon_deg: float
    elevation_m: float


def usual_days(normals: MonthlyNormals, first_day: date, last_day: date) -> UsualDays:
    """Monthly normals turned into what is usual on each day, smooth from month to month, every month's mean kept."""
    smooth = expected_weather(normals, first_day, last_day)
    times = smooth.times
    high, low = smooth.get("t_max_c"), smooth.get("t_min_c")
    if "vapour_pressure_kpa" in smooth.columns:
        vapour = smooth.get("vapour_pressure_kpa")
    else:
        vapour = vapour_pressure_from_tmin(low, is_arid=normals.aridity_index < ARID_BELOW)
    above = sun.extraterrestrial_daily_mj_m2(normals.lat_deg, day_of_year(times))
    chance, mean_mm = _rain_days(normals, smooth.get("rain_mm"), times)
    middle = 0.5 * (normals.t_max_c + normals.t_min_c)
    swing = float(middle.max() - middle.min())
    warmth = (0.5 * (high + low) - middle.mean()) / max(0.5 * swing, 0.5)
    day_range = np.maximum(high - low, 1.0)
    return UsualDays(
        times=times,
        wet_chance=chance,
        wet_mm=mean_mm,
        t_max_c=high,
        t_min_c=low,
        sd_max_c=_sd(SD_MAX, swing, warmth, day_range),
        sd_min_c=_sd(SD_MIN, swing, warmth, day_range),
        dry_warmer_c=np.clip(DRY_MAX[0] + DRY_MAX[1] * day_range, *DRY_MAX_WITHIN),
        vapour_pressure_kpa=np.minimum(vapour, not_above_saturation(vapour, high, low)),
        solar_mj_m2=smooth.get("solar_mj_m2"),
        clear_mj_m2=sun.clear_sky_mj_m2(above, normals.elevation_m),
        lat_deg=normals.lat_deg,
        lon_deg=normals.lon_deg,
        elevation_m=normals.elevation_m,
    )


def _sd(fit: tuple[float, float, float, float], swing: float, warmth: FloatArray, day_range: FloatArray) -> FloatArray:
    raw = fit[0] + fit[1] * swing + fit[2] * swing * np.clip(warmth, -1.0, 1.0) + fit[3] * day_range
    return np.maximum(SD_MONTH * raw, LEAST_SD_C)


def _rain_days(
    normals: MonthlyNormals, mean_mm: FloatArray, times: NDArray[np.datetime64]
) -> tuple[FloatArray, FloatArray]:
    """Chance of a wet day and its mean rain; their product is the usual rain of the day."""
    lengths = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    least_days = normals.rain_mm / np.maximum(LONE_WET_MM, normals.wet_day_rain_mm)
    wet_days = np.clip(normals.wet_days, np.minimum(least_days, MOST_WET * lengths), MOST_WET * lengths)
    chance = daily_from_months(wet_days, times[0], times[-1], is_total=True, at_least=0.0)
    chance = np.minimum(np.minimum(chance, mean_mm / LEAST_WET_MM), MOST_WET)
    return chance, np.where(chance > 0.0, mean_mm / np.where(chance > 0.0, chance, 1.0), LEAST_WET_MM)


def made_weather(
    normals: MonthlyNormals,
    first_day: date,
    last_day: date,
    count: int,
    rng: np.random.Generator,
    *,
    was_wet: bool | None = None,
    wind_cv: float = WIND_CV,
) -> WeatherMembers:
    """Days made by chance that have these normals.

    Parameters
    ----------
    normals
        Of the spot.
    first_day, last_day
        Days wanted, both included.
    count
        Members wanted.
    rng
        Where chance comes from: the same generator in the same state makes the same days.
    was_wet
        Whether the day before ``first_day`` had 1 mm or more; None where that is not known.
    wind_cv
        Coefficient of variation of the day's wind about 2 m/s; 0 keeps it there.

    Returns
    -------
    WeatherMembers
        Rain falls on wet days only and makes 1 mm or more on each.

    Raises
    ------
    InputError
        Days the wrong way round, or fewer than one member.
    """
    if count < 1:
        raise InputError(say("at least one member is needed (got {count}).", count=count), code="members.count")
    usual = usual_days(normals, first_day, last_day)
    days = len(usual.times)
    wet = wet_days(usual.wet_chance, rng.random((days, count)), was_wet)
    rain = np.where(wet, _amounts(usual.wet_mm[:, None], (days, count), rng), 0.0)
    z = _correlated(days, count, rng)
    high, low = _temperatures(usual, wet, z)
    light = _light(usual, wet, z[:, 2])
    vapour = _vapour(usual, wet, low, _in_turn(rng.standard_normal((days, count)), DEW_AGAIN))
    breeze = np.log1p(wind_cv**2)
    wind = WIND_DEFAULT_MS * np.exp(
        np.sqrt(breeze) * _in_turn(rng.standard_normal((days, count)), WIND_AGAIN) - 0.5 * breeze
    )
    high, low = ordered(high, low)
    columns = {
        "t_max_c": high,
        "t_min_c": low,
        "vapour_pressure_kpa": not_above_saturation(vapour, high, low),
        "solar_mj_m2": light,
        "wind_2m_ms": wind,
        "rain_mm": rain,
    }
    return WeatherMembers(
        times=usual.times,
        columns={k: np.ascontiguousarray(v.T) for k, v in columns.items()},
        lat_deg=usual.lat_deg,
        lon_deg=usual.lon_deg,
        elevation_m=usual.elevation_m,
        source=say("days made by chance from monthly normals"),
        notes=normals.notes,
    )


def wet_days(chance: FloatArray, draws: FloatArray, was_wet: bool | None = None) -> NDArray[np.bool_]:
    """The chain of wet days, (days, members). ``draws`` are uniform.

    With a chance f that changes from day to day, p(wet after dry) = f - r f' and p(wet after wet) = that + r, where f' is the
    chance of the day before and r :data:`WET_AGAIN`; then every day is wet with its own chance exactly.
    """
    after_dry = np.maximum(chance - WET_AGAIN * np.concatenate([chance[:1], chance[:-1]]), 0.0)
    wet = np.empty(draws.shape, dtype=bool)
    wet[0] = draws[0] < (chance[0] if was_wet is None else after_dry[0] + WET_AGAIN * was_wet)
    for day in range(1, len(chance)):
        wet[day] = draws[day] < after_dry[day] + WET_AGAIN * wet[day - 1]
    return wet


def amount_shape(wet_mm: FloatArray) -> FloatArray:
    """Shape of the gamma distribution of what falls above 1 mm on a wet day of that mean. [-]; [2]_, at most 1."""
    scale = np.maximum(-2.16 + 1.83 * wet_mm, 1e-9)
    return np.minimum(wet_mm / scale, 1.0)


def _amounts(wet_mm: FloatArray, shape: tuple[int, int], rng: np.random.Generator) -> FloatArray:
    form = amount_shape(wet_mm)
    return np.asarray(WET_MM + (wet_mm - WET_MM) / form * rng.standard_gamma(np.broadcast_to(form, shape)))


def richardson_matrices() -> tuple[FloatArray, FloatArray]:
    """A and B of z(today) = A z(yesterday) + B noise, from the correlations; [1]_ Eqs. for A and B Bᵀ."""
    a = DAY_BEFORE @ np.linalg.inv(SAME_DAY)
    return a, np.linalg.cholesky(SAME_DAY - a @ DAY_BEFORE.T)


def _correlated(days: int, count: int, rng: np.random.Generator) -> FloatArray:
    """Standardised departures of maximum, minimum and sunlight, (days, 3, members)."""
    a, b = richardson_matrices()
    noise = rng.standard_normal((days, 3, count))
    z = np.empty_like(noise)
    z[0] = np.linalg.cholesky(SAME_DAY) @ noise[0]
    for day in range(1, days):
        z[day] = a @ z[day - 1] + b @ noise[day]
    slow = np.linalg.cholesky(SAME_DAY) @ _in_turn(rng.standard_normal((days, 3, count)), SLOW_AGAIN)
    return np.asarray(np.sqrt(1.0 - SLOW_PART) * z + np.sqrt(SLOW_PART) * slow)


def _in_turn(noise: FloatArray, again: float) -> FloatArray:
    """Noise of unit variance along the first axis made to have a lag-one correlation."""
    out, fresh = noise.copy(), np.sqrt(1.0 - again**2)
    for day in range(1, len(noise)):
        out[day] = again * out[day - 1] + fresh * noise[day]
    return out


def _state_shift(usual: UsualDays, wet: NDArray[np.bool_], dry_less_wet: FloatArray | float) -> FloatArray:
    """What a wet or dry day departs from the usual by, zero on average."""
    step = np.broadcast_to(np.asarray(dry_less_wet, dtype=float), usual.times.shape)
    return np.asarray((usual.wet_chance[:, None] - wet) * step[:, None])


def _temperatures(usual: UsualDays, wet: NDArray[np.bool_], z: FloatArray) -> tuple[FloatArray, FloatArray]:
    high = usual.t_max_c[:, None] + _state_shift(usual, wet, usual.dry_warmer_c) + usual.sd_max_c[:, None] * z[:, 0]
    low = usual.t_min_c[:, None] + _state_shift(usual, wet, DRY_MIN) + usual.sd_min_c[:, None] * z[:, 1]
    return high, low


def _light(usual: UsualDays, wet: NDArray[np.bool_], z: FloatArray) -> FloatArray:
    """Sunlight: a logistic function of the departure between none and a little more than a clear sky gives."""
    clear = np.maximum(usual.clear_mj_m2, 1e-6)
    mean = np.clip(usual.solar_mj_m2 / clear, 1e-4, None)
    top = np.maximum(LIGHT_TOP, mean / 0.93)
    f = usual.wet_chance
    dry_mean = np.minimum(mean / (1.0 - (1.0 - WET_LIGHT) * f), 0.95 * top)
    wet_mean = np.where(f > 0.0, (mean - (1.0 - f) * dry_mean) / np.where(f > 0.0, f, 1.0), WET_LIGHT * dry_mean)
    centre = np.where(
        wet,
        _logit_centre(wet_mean / top, LIGHT_SD_WET)[:, None],
        _logit_centre(dry_mean / top, LIGHT_SD_DRY)[:, None],
    )
    sd = np.where(wet, LIGHT_SD_WET, LIGHT_SD_DRY)
    return np.asarray((top * clear)[:, None] / (1.0 + np.exp(-(centre + sd * z))))


def _logit_centre(mean: FloatArray, sd: float) -> FloatArray:
    """Centre c for which 1 / (1 + exp(-(c + sd z))) has the mean, z standard normal; by halving, to 1e-9."""
    low, high = np.full(mean.shape, -25.0), np.full(mean.shape, 25.0)
    for _ in range(36):
        middle = 0.5 * (low + high)
        is_low = (_WEIGHTS / (1.0 + np.exp(-(middle[:, None] + sd * _NODES)))).sum(1) < mean
        low, high = np.where(is_low, middle, low), np.where(is_low, high, middle)
    return np.asarray(0.5 * (low + high))


def _vapour(usual: UsualDays, wet: NDArray[np.bool_], low: FloatArray, z: FloatArray) -> FloatArray:
    """Vapour pressure from a dew point that follows the night's minimum, brought to the usual mean."""
    log = np.log(usual.vapour_pressure_kpa / 0.6108)
    per_c = (17.27 - log) ** 2 / (17.27 * 237.3)  # d ln e / d dew point, from FAO-56 Eq. 14
    departs = DEW_FOLLOWS * (low - usual.t_min_c[:, None]) + _state_shift(usual, wet, DRY_DEW) + DEW_SD * z
    step = per_c * (DEW_FOLLOWS * DRY_MIN + DRY_DEW)
    variance = per_c**2 * (DEW_FOLLOWS**2 * usual.sd_min_c**2 + DEW_SD**2)
    f = usual.wet_chance
    mean = (f * np.exp(-(1.0 - f) * step) + (1.0 - f) * np.exp(f * step)) * np.exp(0.5 * variance)
    return np.asarray((usual.vapour_pressure_kpa / mean)[:, None] * np.exp(per_c[:, None] * departs))
