"""JSON of the Open-Meteo forecast and archive services (open-meteo.com; data CC BY 4.0), hourly and daily.

Field names changed in 2023 (``windspeed_10m`` to ``wind_speed_10m``); both are read. Sums and means of an hour are of
the hour before their stamp, so a record stamped t is the hour that ends at t.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.physics.air import wind_to_2m_ms
from soakbook.said import say
from soakbook.weather.daily import mark_kind
from soakbook.weather.regular import Rows, Where, regular_series
from soakbook.weather.series import FORECAST, FloatArray, WeatherSeries
from soakbook.weather.sources import jsons
from soakbook.weather.sources.unit_words import conversion
from soakbook.weather.zones import zone, zone_of_offset

#: Field name (new, then old) by column. Daily mean wind first; the day's highest wind is not used.
_HOURLY = {
    "t_mean_c": ("temperature_2m",),
    "dew_point_c": ("dew_point_2m", "dewpoint_2m"),
    "rh_mean_pct": ("relative_humidity_2m", "relativehumidity_2m"),
    "rain_mm": ("precipitation",),
    "rain_chance_pct": ("precipitation_probability",),
    "wind_2m_ms": ("wind_speed_10m", "windspeed_10m"),
    "solar_mj_m2": ("shortwave_radiation",),
    "sunshine_h": ("sunshine_duration",),
    "pressure_kpa": ("surface_pressure",),
    "eto_mm": ("et0_fao_evapotranspiration",),
}
_DAILY = {
    "t_max_c": ("temperature_2m_max",),
    "t_min_c": ("temperature_2m_min",),
    "t_mean_c": ("temperature_2m_mean",),
    "dew_point_c": ("dew_point_2m_mean", "dewpoint_2m_mean"),
    "rh_max_pct": ("relative_humidity_2m_max", "relativehumidity_2m_max"),
    "rh_min_pct": ("relative_humidity_2m_min", "relativehumidity_2m_min"),
    "rh_mean_pct": ("relative_humidity_2m_mean", "relativehumidity_2m_mean"),
    "rain_mm": ("precipitation_sum",),
    "rain_chance_pct": ("precipitation_probability_max",),
    "wind_2m_ms": ("wind_speed_10m_mean", "windspeed_10m_mean"),
    "solar_mj_m2": ("shortwave_radiation_sum",),
    "sunshine_h": ("sunshine_duration",),
    "pressure_kpa": ("surface_pressure_mean",),
    "eto_mm": ("et0_fao_evapotranspiration", "et0_fao_evapotranspiration_sum"),
}
_WIND_HEIGHT_M = 10.0


def looks_like(head: str, path: str = "") -> bool:
    """Whether this is a JSON answer of the service."""
    start = head.removeprefix("\ufeff").lstrip()
    marks = ('"utc_offset_seconds"', '"hourly', '"daily')
    return start.startswith("{") and '"latitude"' in head and any(mark in head for mark in marks)


def parse_open_meteo(
    text: str, where: Where | None = None, *, name: str = "Open-Meteo", now_utc: datetime | None = None
) -> WeatherSeries:
    """Read an answer of the service.

    Parameters
    ----------
    text
        The JSON.
    where
        Used where the answer lacks a fact of the place.
    now_utc
        When it was fetched: steps before are observed (the service's own analysis), later ones forecast. None marks all
        as forecast.

    Returns
    -------
    WeatherSeries
        By the hour or by the day: whichever part of the answer covers more days, the hours when both do.
    """
    data = jsons.load(text, name)
    if data.get("error"):
        raise InputError(
            say("{name}: the service answered with an error.", name=name), code="weather.json", field="reason"
        )
    place = _place(data).or_else(where or Where())
    offset_s = int(jsons.finite(data.get("utc_offset_seconds"), "utc_offset_seconds") or 0)
    if abs(offset_s) > 50_400:
        raise InputError(
            say("{name}: utc_offset_seconds must be within 14 hours (got {offset_s}).", name=name, offset_s=offset_s),
            code="weather.json",
            field="utc_offset_seconds",
        )
    which = _longer_part(data, name)
    block = jsons.part(data, which, dict, "")
    units = data.get(f"{which}_units")
    units = units if isinstance(units, dict) else {}
    notes: list[str] = [say("The {which} part of the answer is read.", which=which)]
    times = _times(block, units, which, offset_s, name)
    columns = _columns(block, units, which, len(times), notes)
    _need_temperature(columns, which, name)
    series = regular_series(
        Rows(
            step="hour" if which == "hourly" else "day",
            times=times,
            columns=columns,
            source="Open-Meteo.com",
            kind=np.full(len(times), FORECAST, dtype=np.uint8),
            notes=notes,
        ),
        place,
    )
    return series if now_utc is None else _with_kind(series, now_utc)


def _with_kind(series: WeatherSeries, now_utc: datetime) -> WeatherSeries:
    if series.step == "hour":
        return mark_kind(series, np.datetime64(now_utc.replace(tzinfo=None), "h").astype("datetime64[s]"))
    local = now_utc.astimezone(zone(series.time_zone or "UTC"))
    return mark_kind(series, np.datetime64(local.date(), "D"))


def _place(data: dict[str, Any]) -> Where:
    zone_name = data.get("timezone")
    if not isinstance(zone_name, str) or not zone_name:
        zone_name = None
    elif zone_name in {"GMT", "UTC"}:
        zone_name = "UTC"
    if zone_name is not None:
        zone(zone_name)
    elif "utc_offset_seconds" in data:
        zone_name = zone_of_offset((jsons.finite(data["utc_offset_seconds"], "utc_offset_seconds") or 0.0) / 3600.0)
    return Where(
        jsons.finite(data.get("latitude"), "latitude"),
        jsons.finite(data.get("longitude"), "longitude"),
        jsons.finite(data.get("elevation"), "elevation"),
        zone_name,
    )


def _longer_part(data: dict[str, Any], name: str) -> str:
    lengths = {}
    for which, per_day in (("hourly", 24), ("daily", 1)):
        block = data.get(which)
        times = block.get("time") if isinstance(block, dict) else None
        if isinstance(times, list) and times:
            lengths[which] = -(-len(times) // per_day)
    if not lengths:
        raise InputError(
            say("{name}: neither hourly.time nor daily.time holds any time.", name=name),
            code="weather.empty",
            field="hourly.time",
        )
    return max(lengths, key=lambda w: lengths[w])


def _times(
    block: dict[str, Any], units: dict[str, Any], which: str, offset_s: int, name: str
) -> NDArray[np.datetime64]:
    raw = jsons.part(block, "time", list, f"{which}.")
    is_unix = units.get("time") == "unixtime" or isinstance(raw[0], int)
    out = []
    for i, value in enumerate(raw):
        path = f"{which}.time[{i}]"
        try:
            if is_unix:
                seconds = jsons.finite(value, path)
                if seconds is None or abs(seconds) > 1e11:
                    raise ValueError(value)
                # Unix times are UTC; a day's is that of its local midnight.
                out.append(np.datetime64(int(seconds) + (offset_s if which == "daily" else 0), "s"))
            elif which == "daily":
                out.append(np.datetime64(date.fromisoformat(value), "s"))
            else:
                local = datetime.fromisoformat(value).replace(tzinfo=None)
                out.append(np.datetime64(local, "s") - np.timedelta64(offset_s, "s"))
        except (ValueError, TypeError):
            raise InputError(
                say(
                    "{name}: {path} is {value}; a time is expected.", name=name, path=path, value=repr(str(value)[:30])
                ),
                code="weather.date",
                field=path,
            ) from None
    times = np.array(out, dtype="datetime64[s]")
    if which == "daily":
        return times.astype("datetime64[D]")
    starts: NDArray[np.datetime64] = np.subtract(times, np.timedelta64(3600, "s"))
    return starts


def _columns(
    block: dict[str, Any], units: dict[str, Any], which: str, n: int, notes: list[str]
) -> dict[str, FloatArray]:
    columns: dict[str, FloatArray] = {}
    for column, names in (_HOURLY if which == "hourly" else _DAILY).items():
        key = next((k for k in names if k in block), None)
        if key is None:
            continue
        path = f"{which}.{key}"
        raw = jsons.part(block, key, list, f"{which}.")
        if len(raw) != n:
            raise InputError(
                say("{path} has {n} values for {times} times.", path=path, n=len(raw), times=n),
                code="weather.json",
                field=path,
            )
        values = np.array([jsons.as_number(v, f"{path}[{i}]") for i, v in enumerate(raw)])
        unit = units.get(key)
        pair = conversion(column, unit, 3600.0 if which == "hourly" else 86_400.0) if isinstance(unit, str) else None
        if pair is None:
            raise InputError(
                say(
                    "{which}_units.{key} is {unit}; a unit that fits is expected.",
                    which=which,
                    key=key,
                    unit=repr(str(unit)[:20]),
                ),
                code="weather.unit",
                field=f"{which}_units.{key}",
            )
        columns[column] = values * pair[0] + pair[1]
        notes.append(say("{key} ({unit}) is {column}.", key=key, unit=unit, column=column))
    if "wind_2m_ms" in columns:
        columns["wind_2m_ms"] = wind_to_2m_ms(columns["wind_2m_ms"], _WIND_HEIGHT_M)
        notes.append(say("Wind at 10 m is brought to 2 m."))
    elif which == "daily":
        notes.append(say("The day's highest wind is not the mean wind and is left out."))
    return columns


def _need_temperature(columns: dict[str, FloatArray], which: str, name: str) -> None:
    needed = ("t_mean_c",) if which == "hourly" else ("t_max_c", "t_min_c")
    for column in needed:
        if column not in columns or not np.isfinite(columns[column]).any():
            field = (_HOURLY if which == "hourly" else _DAILY)[column][0]
            path = f"{which}.{field}"
            raise InputError(
                say("{name}: {path} has no values.", name=name, path=path), code="weather.temperature", field=path
            )
