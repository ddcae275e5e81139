"""Gaps of a weather series filled by the rules of FAO-56 chapter 3, every fill flagged on the step it happened.

R. G. Allen et al., "Crop evapotranspiration", FAO Irrigation and Drainage Paper 56, Rome, 1998, chapter 3.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.physics import air, sun
from soakbook.said import Measure, Said, say, say_n
from soakbook.weather.daily import hourly_to_daily
from soakbook.weather.series import (
    FILLED_NEIGHBOUR,
    FILLED_NORMALS,
    FILLED_RULE,
    MEASURED,
    FlagArray,
    FloatArray,
    WeatherSeries,
    steps_words,
)
from soakbook.weather.zones import local_standard_days

if TYPE_CHECKING:
    from soakbook.weather.normals import MonthlyNormals

__all__ = ["fill_gaps", "hourly_to_daily"]

#: The longest gap of temperature that is bridged from the steps around it (our choice).
LONGEST_BRIDGE = {"day": 3, "hour": 3}
#: Rain over potential evapotranspiration below which a place counts as arid or semi-arid (UNEP, 1997).
ARID_BELOW = 0.5

Bools = NDArray[np.bool_]


def fill_gaps(
    series: WeatherSeries, normals: MonthlyNormals | None = None, *, is_coastal: bool = False
) -> WeatherSeries:
    """The series with everything in it that reference evapotranspiration needs.

    Parameters
    ----------
    series
        Daily or hourly weather with latitude and elevation.
    normals
        Monthly normals of the spot: for longer gaps of temperature and to tell arid places. Without them such a gap is
        an error and the place counts as humid.
    is_coastal
        On or near a coast, where the temperature range says less about the sky (kRs 0.19 instead of 0.16 in Eq. 50).

    Returns
    -------
    WeatherSeries
        ``flags`` mark each filled value and ``notes`` count them.

        - Temperature: up to 3 days (3 hours) in a straight line between the days around; longer from the normals.
        - Vapour pressure: from dew point or humidity where measured; else the dew point is the day's minimum
          temperature (Eq. 48), 2 °C less where rain is below half the potential evapotranspiration.
        - Sunlight: from sunshine hours (Eq. 35), else from the temperature range (Eq. 50).
        - Wind: 2 m/s where missing; never below 0.5 m/s.
        - Rain: 0 where missing.

    Raises
    ------
    InputError
        Latitude unknown, or a gap of temperature that nothing fills; the message names the days.
    """
    if not np.isfinite(series.lat_deg):
        raise InputError(say("gaps cannot be filled without a latitude."), code="fill.place", field="lat_deg")
    filler = _Filler(series)
    is_arid = normals is not None and normals.aridity_index < ARID_BELOW
    if series.step == "day":
        filler.temperature(("t_max_c", "t_min_c"), normals)
        filler.vapour_of_days(is_arid=is_arid)
        filler.solar_of_days(is_coastal=is_coastal)
    else:
        filler.temperature(("t_mean_c",), None)
        filler.vapour_of_hours(is_arid=is_arid)
        filler.solar_of_hours(is_coastal=is_coastal)
    filler.wind()
    filler.rain()
    return filler.result()


class _Filler:
    """Working copy of a series while its gaps are filled."""

    def __init__(self, series: WeatherSeries) -> None:
        self.series = series
        self.columns = dict(series.columns)
        self.flags = {k: v.copy() for k, v in series.flags.items()}
        self.notes = list(series.notes)
        self.step = series.step
        self.elevation_m = series.elevation_m if np.isfinite(series.elevation_m) else 0.0

    def get(self, name: str) -> FloatArray:
        values = self.columns.get(name)
        return np.full(len(self.series), np.nan) if values is None else values

    def put(self, name: str, values: FloatArray, where: Bools, flag: int, said: str) -> None:
        """Take ``values`` where ``where``; flag and count them."""
        where = where & np.isfinite(values)
        if not where.any():
            return
        self.columns[name] = np.where(where, values, self.get(name))
        marks: FlagArray = self.flags.get(name, np.zeros(len(self.series), dtype=np.uint8)).copy()
        marks[where] = flag
        self.flags[name] = marks
        if flag != MEASURED:
            n = int(where.sum())
            steps = say_n("{n} day", "{n} days", n) if self.step == "day" else say_n("{n} hour", "{n} hours", n)
            self.notes.append(say("{name}, {steps}: {said}.", name=name, steps=steps, said=said))

    def temperature(self, names: tuple[str, ...], normals: MonthlyNormals | None) -> None:
        around = say("filled from the days around") if self.step == "day" else say("filled from the hours around")
        for name in names:
            values = self.get(name)
            bridged, where = _bridge(values, LONGEST_BRIDGE[self.step])
            self.put(name, bridged, where, FILLED_NEIGHBOUR, around)
        missing = np.zeros(len(self.series), dtype=bool)
        for name in names:
            missing |= ~np.isfinite(self.get(name))
        if missing.any() and normals is not None:
            self._from_normals(names, normals)
            missing = ~np.isfinite(sum(self.get(name) for name in names))
        if missing.any():
            raise InputError(
                say(
                    "temperature is missing on {times}; gaps of up to {steps} between measured ones are filled.",
                    times=_spans(self.series.times[missing], self.step),
                    steps=steps_words(LONGEST_BRIDGE[self.step], self.step),
                ),
                code="fill.temperature",
                field=names[0],
                hint=say("Monthly normals fill longer gaps.")
                if self.step == "day"
                else say("Bring the hours to days first."),
            )
        if len(names) == 2:
            self._swap_crossed()

    def _from_normals(self, names: tuple[str, ...], normals: MonthlyNormals) -> None:
        from soakbook.weather.smooth import daily_from_months

        first, last = self.series.times[0], self.series.times[-1]
        for name, monthly in zip(names, (normals.t_max_c, normals.t_min_c), strict=True):
            usual = daily_from_months(monthly, first, last)
            where = ~np.isfinite(self.get(name))
            self.put(name, usual, where, FILLED_NORMALS, say("filled from the monthly normals"))

    def _swap_crossed(self) -> None:
        """Where only one of the extremes was filled it may cross the other; then both are the measured one's."""
        high, low = self.get("t_max_c"), self.get("t_min_c")
        crossed = high < low
        for name, other in (("t_max_c", low), ("t_min_c", high)):
            filled = self.flags.get(name, np.zeros(len(high), dtype=np.uint8)) != MEASURED
            self.put(name, other, crossed & filled, FILLED_RULE, say("set to the other extreme, which they crossed"))
            crossed = self.get("t_max_c") < self.get("t_min_c")

    def vapour_of_days(self, *, is_arid: bool) -> None:
        t_max, t_min = self.get("t_max_c"), self.get("t_min_c")
        high, low, mean = self.get("rh_max_pct"), self.get("rh_min_pct"), self.get("rh_mean_pct")
        self._humidity(
            (
                air.vapour_pressure_from_dew_point(self.get("dew_point_c")),
                air.vapour_pressure_from_rh_max_min(t_max, t_min, high, low),
                air.vapour_pressure_from_rh_max(t_min, high),
                air.vapour_pressure_from_rh_mean(t_max, t_min, mean),
            ),
            t_min,
            is_arid=is_arid,
        )

    def vapour_of_hours(self, *, is_arid: bool) -> None:
        temp = self.get("t_mean_c")
        self._humidity(
            (
                air.vapour_pressure_from_dew_point(self.get("dew_point_c")),
                air.vapour_pressure_from_rh_mean(temp, temp, self.get("rh_mean_pct")),
            ),
            self._of_day(temp)[1],
            is_arid=is_arid,
        )

    def _humidity(self, measured: tuple[FloatArray, ...], t_min: FloatArray, *, is_arid: bool) -> None:
        name = "vapour_pressure_kpa"
        for values in measured:
            self.put(name, values, ~np.isfinite(self.get(name)), MEASURED, "")
        said = (
            say(
                "dew point taken {below:g} °C below the day's minimum temperature (FAO-56 Eq. 48)",
                below=air.ARID_DEW_POINT_OFFSET_C,
            )
            if is_arid
            else say("dew point taken at the day's minimum temperature (FAO-56 Eq. 48)")
        )
        self.put(
            name,
            air.vapour_pressure_from_tmin(t_min, is_arid=is_arid),
            ~np.isfinite(self.get(name)),
            FILLED_RULE,
            said,
        )

    def solar_of_days(self, *, is_coastal: bool) -> None:
        days = self.series.times
        of_year = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(float) + 1.0
        above = sun.extraterrestrial_daily_mj_m2(self.series.lat_deg, of_year)
        longest = sun.daylight_hours(self.series.lat_deg, of_year)
        shine = self.get("sunshine_h")
        # Recorded sunshine cannot last longer than the day; half an hour is left for rounding and a raised horizon.
        possible = shine <= longest + 0.5
        by_sun = sun.solar_from_sunshine(np.where(possible, np.minimum(shine, longest), np.nan), longest, above)
        self.put("solar_mj_m2", by_sun, self._open("solar_mj_m2"), FILLED_RULE, say("from sunshine (FAO-56 Eq. 35)"))
        by_range = sun.solar_from_temperature_range(
            self.get("t_max_c"), self.get("t_min_c"), above, self.elevation_m, is_coastal=is_coastal
        )
        self.put("solar_mj_m2", by_range, self._open("solar_mj_m2"), FILLED_RULE, _by_range(is_coastal))

    def solar_of_hours(self, *, is_coastal: bool) -> None:
        if not self._open("solar_mj_m2").any():
            return
        above = sun.extraterrestrial_period_mj_m2(self.series.lat_deg, self.series.lon_deg, self.series.times)
        high, low = self._of_day(self.get("t_mean_c"))
        by_range = sun.solar_from_temperature_range(high, low, above, self.elevation_m, is_coastal=is_coastal)
        self.put("solar_mj_m2", by_range, self._open("solar_mj_m2"), FILLED_RULE, _by_range(is_coastal))

    def wind(self) -> None:
        name = "wind_2m_ms"
        usual = np.full(len(self.series), air.WIND_DEFAULT_MS)
        self.put(
            name,
            usual,
            self._open(name),
            FILLED_RULE,
            say("no wind in the source, given {wind}", wind=Measure(air.WIND_DEFAULT_MS, "speed")),
        )
        floor = np.full(len(self.series), air.WIND_FLOOR_MS)
        calm = self.get(name) < air.WIND_FLOOR_MS
        self.put(name, floor, calm, FILLED_RULE, say("calm, given {wind}", wind=Measure(air.WIND_FLOOR_MS, "speed")))

    def rain(self) -> None:
        dry = np.zeros(len(self.series))
        self.put("rain_mm", dry, self._open("rain_mm"), FILLED_RULE, say("no rain data, taken as dry"))

    def result(self) -> WeatherSeries:
        return replace(self.series, columns=self.columns, flags=self.flags, notes=tuple(self.notes))

    def _open(self, name: str) -> Bools:
        return ~np.isfinite(self.get(name))

    def _of_day(self, temp: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Highest and lowest of the day each hour lies in."""
        if len(temp) == 0:
            return temp, temp
        days = local_standard_days(self.series.times, self.series.time_zone or "UTC")
        _, index = np.unique(days, return_inverse=True)
        starts = np.flatnonzero(np.diff(index, prepend=-1))
        high = np.maximum.reduceat(temp, starts)
        low = np.minimum.reduceat(temp, starts)
        return high[index], low[index]


def _by_range(is_coastal: bool) -> Said:
    krs = sun.KRS_COASTAL if is_coastal else sun.KRS_INTERIOR
    return say("from the temperature range (FAO-56 Eq. 50, kRs {krs:g})", krs=krs)


def _bridge(values: FloatArray, longest: int) -> tuple[FloatArray, Bools]:
    """Straight lines over gaps of up to ``longest`` steps that have a value on either side."""
    good = np.isfinite(values)
    where = np.zeros(len(values), dtype=bool)
    if not good.any():
        return values, where
    at = np.arange(len(values))
    known = at[good]
    for before, after in pairwise(known):
        if 1 < after - before <= longest + 1:
            where[before + 1 : after] = True
    return np.interp(at, known, values[good]), where


def _spans(times: NDArray[np.datetime64], step: str) -> Said:
    """Days or hours as spans: ``2024-05-01 to 2024-05-09 and 2024-06-02``, the first few."""
    one = np.timedelta64(1, "D") if step == "day" else np.timedelta64(3600, "s")
    breaks = np.flatnonzero(np.diff(times) > one)
    firsts = times[np.concatenate([[0], breaks + 1])]
    lasts = times[np.concatenate([breaks, [len(times) - 1]])]
    spans = [
        first.item() if first == last else say("{first} to {last}", first=first.item(), last=last.item())
        for first, last in zip(firsts, lasts, strict=True)
    ]
    if len(spans) <= 4:
        return say("{spans}", spans=spans)
    return say("{spans} and {n} more spans", spans=spans[:4], n=len(spans) - 4)
