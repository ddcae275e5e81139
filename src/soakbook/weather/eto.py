"""From a weather series to reference evapotranspiration."""

from __future__ import annotations

from typing import Literal

import numpy as np

from soakbook.errors import InputError
from soakbook.physics import air, evapotranspiration
from soakbook.said import say
from soakbook.weather.series import COLUMNS, STEP_WORDS, FloatArray, WeatherSeries

Convention = Literal["FAO56", "ASCE2005"]

#: What stands for the air's humidity, best first (FAO-56 ch. 3, with the measured vapour pressure before
#: all).
HUMIDITY = ("vapour_pressure_kpa", "dew_point_c", "rh_max_pct and rh_min_pct", "rh_max_pct", "rh_mean_pct")


def series_eto(series: WeatherSeries, convention: Convention | None = None) -> FloatArray:
    """Reference evapotranspiration of short grass for every step of a (filled) series. [mm per step]

    Days by FAO-56 unless ``convention`` says otherwise, hours by ASCE-EWRI 2005. Steps at which the equation
    comes out below zero (dew, frost) get 0, since they are a demand; :func:`series_eto_uncut` has them as
    computed. NaN where an input is missing.
    """
    return np.maximum(series_eto_uncut(series, convention), 0.0)


def series_eto_uncut(series: WeatherSeries, convention: Convention | None = None) -> FloatArray:
    """As :func:`series_eto`, with values below zero left in. [mm per step]"""
    if series.step == "hour":
        return _hours(series, convention or "ASCE2005")
    return _days(series, convention or "FAO56")


def _days(series: WeatherSeries, convention: Convention) -> FloatArray:
    _require(series, "t_max_c", "t_min_c", "solar_mj_m2", "wind_2m_ms")
    days = series.times.astype("datetime64[D]")
    of_year = (days - days.astype("datetime64[Y]").astype("datetime64[D]")) / np.timedelta64(1, "D") + 1.0
    return evapotranspiration.reference_et_daily(
        series.get("t_max_c"),
        series.get("t_min_c"),
        vapour_pressure_kpa=series_vapour_pressure(series),
        solar_mj_m2=series.get("solar_mj_m2"),
        wind_2m_ms=series.get("wind_2m_ms"),
        elevation_m=series.elevation_m,
        lat_deg=series.lat_deg,
        day_of_year=of_year,
        convention=convention,
    )


def _hours(series: WeatherSeries, convention: Convention) -> FloatArray:
    _require(series, "t_mean_c", "solar_mj_m2", "wind_2m_ms")
    measured, usual = series.get("pressure_kpa"), air.pressure_kpa(series.elevation_m)
    return evapotranspiration.reference_et_hourly(
        series.get("t_mean_c"),
        series_vapour_pressure(series),
        series.get("solar_mj_m2"),
        series.get("wind_2m_ms"),
        series.elevation_m,
        series.lat_deg,
        series.lon_deg,
        series.times,
        convention=convention,
        pressure_kpa=np.where(np.isnan(measured), usual, measured),
    )


def series_vapour_pressure(series: WeatherSeries) -> FloatArray:
    """Actual vapour pressure of every step, by the best route its columns allow (:data:`HUMIDITY`). [kPa]

    An hour has one temperature, so its mean humidity goes with ``t_mean_c``; the day's with both extremes.
    """
    t_max, t_min = series.get("t_max_c"), series.get("t_min_c")
    if series.step == "hour":
        t_max = t_min = series.get("t_mean_c")
    high, low = series.get("rh_max_pct"), series.get("rh_min_pct")
    routes = (
        series.get("vapour_pressure_kpa"),
        air.vapour_pressure_from_dew_point(series.get("dew_point_c")),
        air.vapour_pressure_from_rh_max_min(t_max, t_min, high, low),
        air.vapour_pressure_from_rh_max(t_min, high),
        air.vapour_pressure_from_rh_mean(t_max, t_min, series.get("rh_mean_pct")),
    )
    best = np.full(len(series), np.nan)
    for values in routes:
        best = np.where(np.isnan(best), values, best)
    if len(series) and bool(np.all(np.isnan(best))):
        raise InputError(
            say("the weather holds no humidity; one of {columns} is needed.", columns=", ".join(HUMIDITY)),
            code="weather.humidity",
            field="vapour_pressure_kpa",
            hint=say("Fill the gaps first: the dew point can be taken near the night's minimum."),
        )
    return best


def _require(series: WeatherSeries, *names: str) -> None:
    for name in names:
        if len(series) and bool(np.all(np.isnan(series.get(name)))):
            raise InputError(
                say(
                    "the weather holds no {name} ({unit}), which reference evapotranspiration by the {step} needs.",
                    name=name,
                    unit=COLUMNS[name],
                    step=STEP_WORDS[series.step],
                ),
                code="weather.column",
                field=name,
                hint=say("Fill the gaps first, or use a source that has it."),
            )
