"""What a grower is told of the days ahead: forecasts made from the weather that came, as wrong as forecasts are.

What :mod:`soakbook.weather.dressing` takes for granted of a forecast is turned round: on each day ahead the forecast holds with
the skill of its lead time (then it has the day's rain times a log-normal error of mean 1, and nearly its sun and wind), and else
shows some other weather of the season; temperature and dew point depart from the usual by the skill r times how the day will, plus
sqrt(1 - r²) times how another would. Whether a day is foreseen is settled once for the day: as it draws nearer its forecast gets right
and stays right, and days next to each other are mostly foreseen together.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from soakbook.physics.air import saturation_vapour_pressure_kpa
from soakbook.weather.ahead import members_ahead
from soakbook.weather.dressing import (
    DEW_SKILL,
    HOLDS_ON,
    LIGHT_MIXED,
    LIGHT_SKILL,
    RAIN_ERROR,
    RAIN_ERROR_ON,
    RAIN_SKILL,
    WARMTH_SKILL,
    skill,
)
from soakbook.weather.eto import series_vapour_pressure
from soakbook.weather.generator import made_weather
from soakbook.weather.join import in_showers
from soakbook.weather.members import MEMBER_COLUMNS, WeatherMembers, not_above_saturation, ordered
from soakbook.weather.normals import MonthlyNormals, expected_weather
from soakbook.weather.series import EXPECTED, FORECAST, OBSERVED, WeatherSeries

FloatArray = NDArray[np.float64]

#: Days a forecast reaches, as the live source gives them; and days after it that the advice looks at.
TOLD_DAYS, AFTER_DAYS = 16, 46
#: Days after today that members of the weather go on for.
MEMBER_DAYS = 17


@dataclass(frozen=True)
class Sky:
    """The weather of a season as it came, another that could have come, what is usual, and the chance behind the forecasts; all
    arrays by day of ``times``, which go on :data:`AFTER_DAYS` beyond what came."""

    came: WeatherSeries
    normals: MonthlyNormals
    times: NDArray[np.datetime64]
    truth: dict[str, FloatArray]
    other: dict[str, FloatArray]
    usual: dict[str, FloatArray]
    expected: dict[str, FloatArray]
    holds_z: FloatArray
    error_z: FloatArray
    seed: int
    members: dict[tuple[int, int], WeatherMembers] = field(default_factory=dict, repr=False)


def sky(came: WeatherSeries, normals: MonthlyNormals, seed: int) -> Sky:
    """Everything that forecasts of a season are made from.

    Parameters
    ----------
    came
        Observed, daily, gaps filled.
    normals
        Of the spot.
    seed
        Where chance starts.
    """
    rng = np.random.default_rng([seed, 77])
    first: date = came.times[0].astype(date)
    last: date = (came.times[-1] + np.timedelta64(AFTER_DAYS + TOLD_DAYS, "D")).astype(date)
    usual = expected_weather(normals, first, last)
    other = made_weather(normals, first, last, 1, rng)
    n = len(usual)
    shown = in_showers(usual, normals.wet_day_rain_mm)

    def columns(series: WeatherSeries) -> dict[str, FloatArray]:
        vapour = series_vapour_pressure(series)
        return {k: vapour if k == "vapour_pressure_kpa" else series.get(k) for k in MEMBER_COLUMNS}

    normal = columns(usual)
    truth = {k: np.concatenate([v, normal[k][len(v) :]]) for k, v in columns(came).items()}
    expected = normal | {"rain_mm": shown.get("rain_mm")}
    return Sky(
        came, normals, usual.times, truth, {k: other.get(k)[0] for k in MEMBER_COLUMNS}, normal, expected,
        _in_turn(rng.standard_normal(n), HOLDS_ON), _in_turn(rng.standard_normal(n), RAIN_ERROR_ON), seed,
    )  # fmt: skip


def forecast_like(sky: Sky, today: int, days: int = TOLD_DAYS) -> dict[str, FloatArray]:
    """The forecast given out on the morning of a day, from that day on; columns (days,)."""
    ahead = slice(today, today + days)
    lead = np.arange(1.0, days + 1.0)
    truth, other, usual = ({k: v[ahead] for k, v in d.items()} for d in (sky.truth, sky.other, sky.usual))
    u = _normal_cdf(sky.holds_z[ahead])
    sd = skill(RAIN_ERROR, lead)
    error = np.exp(sd * sky.error_z[ahead] - 0.5 * sd**2)
    rain = np.where(u < skill(RAIN_SKILL, lead), truth["rain_mm"] * error, other["rain_mm"])
    light = u < skill(LIGHT_SKILL, lead)
    mixed = {
        k: np.where(light, (1.0 - LIGHT_MIXED) * truth[k] + LIGHT_MIXED * usual[k], other[k])
        for k in ("solar_mj_m2", "wind_2m_ms")
    }
    warm = skill(WARMTH_SKILL, lead)
    high, low = (_departed(truth[k], other[k], usual[k], warm) for k in ("t_max_c", "t_min_c"))
    high, low = ordered(high, low)
    true_dew, other_dew, usual_dew = (_dew_point(d["vapour_pressure_kpa"]) for d in (truth, other, usual))
    dew = _departed(true_dew, other_dew, usual_dew, skill(DEW_SKILL, lead))
    vapour = not_above_saturation(saturation_vapour_pressure_kpa(dew), high, low)
    return {"t_max_c": high, "t_min_c": low, "vapour_pressure_kpa": vapour, "rain_mm": rain} | mixed


def known_on(sky: Sky, today: int, first: int = 0) -> WeatherSeries:
    """What is known on the morning of a day: weather observed from day ``first`` up to the day before, then the forecast, then what
    is usual, as :func:`soakbook.advice.sky.weather_for` puts it together."""
    told = forecast_like(sky, today)
    until = today + AFTER_DAYS
    n = until - first
    columns = {
        k: np.concatenate([sky.truth[k][first:today], told[k], sky.expected[k][today + TOLD_DAYS : until]])
        for k in MEMBER_COLUMNS
    }
    kind = np.full(n, EXPECTED, dtype=np.uint8)
    kind[: today - first] = OBSERVED
    kind[today - first : today - first + TOLD_DAYS] = FORECAST
    return replace(
        sky.came, times=sky.times[first:until], columns=columns, kind=kind, flags={}, source="trial", notes=()
    )


def told_series(sky: Sky, today: int) -> WeatherSeries:
    """The forecast alone, as a series."""
    told = forecast_like(sky, today)
    kind = np.full(TOLD_DAYS, FORECAST, dtype=np.uint8)
    times = sky.times[today : today + TOLD_DAYS]
    return replace(sky.came, times=times, columns=told, kind=kind, flags={}, source="trial", notes=())


def _in_turn(noise: FloatArray, again: float) -> FloatArray:
    out = noise.copy()
    for day in range(1, len(noise)):
        out[day] = again * out[day - 1] + np.sqrt(1.0 - again**2) * noise[day]
    return out


def _normal_cdf(z: FloatArray) -> FloatArray:
    from soakbook.learning.normal import normal_cdf

    return np.asarray(normal_cdf(z))


def _departed(truth: FloatArray, other: FloatArray, usual: FloatArray, left: FloatArray) -> FloatArray:
    return np.asarray(usual + left * (truth - usual) + np.sqrt(1.0 - left**2) * (other - usual))


def _dew_point(vapour_kpa: FloatArray) -> FloatArray:
    log = np.log(np.maximum(vapour_kpa, 1e-3) / 0.6108)
    return np.asarray(237.3 * log / (17.27 - log))


def members_told(sky: Sky, today: int, count: int) -> WeatherMembers:
    """Members of the days ahead that the forecast leaves possible; the same whoever asks on a day."""
    kept = sky.members.get((today, count))
    if kept is None:
        first: date = sky.times[today].astype(date)
        last = first + timedelta(days=MEMBER_DAYS)
        rng = np.random.default_rng([sky.seed, today, 5])
        kept = members_ahead(first, last, count, rng, sky.normals, forecast=told_series(sky, today))
        sky.members[today, count] = kept
    return kept
