"""The grower's own rain gauge beside the rain of a grid or a station."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from soakbook.errors import InputError
from soakbook.said import say
from soakbook.weather.series import EXPECTED, MEASURED, OWN_GAUGE, WeatherSeries

#: A gauge left longer than this has lost water to the sun or run over: common practice is to read it daily.
MOST_DAYS_UNREAD = 7


def with_own_gauge(
    series: WeatherSeries, readings: Sequence[tuple[date, float]], *, most_days: int = MOST_DAYS_UNREAD
) -> WeatherSeries:
    """The series with the rain of the grower's gauge on the days it was read.

    Parameters
    ----------
    series
        Daily weather.
    readings
        Day and rain found in the gauge since it was last emptied. [mm] Several on a day add up. A reading of zero says
        that it did not rain.
    most_days
        The first reading, and one after a longer pause than this, counts for its own day only.

    Returns
    -------
    WeatherSeries
        A reading after days without one is the total since the reading before. It is shared among the days in
        proportion to the series' own rain, or falls on the last day where the series had none. Days so changed are
        flagged as from the own gauge; what the source itself had on them, where it had measured it, stands beside (``rain_source_mm``).

    Raises
    ------
    InputError
        A reading that is no amount of rain or lies outside the series; an hourly series.
    """
    if series.step != "day":
        raise InputError(say("a gauge reading belongs to a day; bring the series to days first."), code="weather.step")
    totals = _by_day(series, readings)
    rain = series.get("rain_mm").copy()
    flags = series.flag("rain_mm").copy()
    measured = np.where((flags == MEASURED) & (series.kind != EXPECTED), rain, np.nan)
    before: int | None = None
    n_shared = 0
    for at, total in sorted(totals.items()):
        first = at if before is None or at - before > most_days else before + 1
        n_shared += first < at
        _share(rain, first, at, total)
        flags[first : at + 1] = OWN_GAUGE
        before = at
    notes = [*series.notes, say("The own gauge gives the rain of {n} days.", n=int(np.sum(flags == OWN_GAUGE)))]
    if n_shared:
        notes.append(
            say(
                "{n_shared} gauge readings stand for several days and are shared in proportion to the rain of the source.",
                n_shared=n_shared,
            )
        )
    return replace(
        series,
        columns={
            **series.columns,
            "rain_mm": rain,
            "rain_source_mm": np.where(flags == OWN_GAUGE, measured, np.nan),
        },
        flags={**series.flags, "rain_mm": flags},
        notes=tuple(notes),
    )


def _by_day(series: WeatherSeries, readings: Sequence[tuple[date, float]]) -> dict[int, float]:
    totals: dict[int, float] = {}
    for day, rain_mm in readings:
        if not 0.0 <= rain_mm <= 1900.0:
            raise InputError(
                say(
                    "gauge reading of {day} must be between 0 and 1900 mm (got {rain_mm:g}).", day=day, rain_mm=rain_mm
                ),
                code="gauge.range",
                field="rain_mm",
            )
        at = int((np.datetime64(day, "D") - series.times[0]).astype(int)) if len(series) else -1
        if not 0 <= at < len(series):
            raise InputError(
                say("gauge reading of {day} lies outside the weather ({span}).", day=day, span=_span(series)),
                code="gauge.day",
                field="day",
            )
        totals[at] = totals.get(at, 0.0) + float(rain_mm)
    return totals


def _span(series: WeatherSeries) -> str:
    if not len(series):
        return say("no days")
    return say("{first} to {last}", first=series.times[0].item(), last=series.times[-1].item())


def _share(rain: np.ndarray[tuple[int, ...], np.dtype[np.float64]], first: int, last: int, total: float) -> None:
    """Put a total on the days, in proportion to what is there; changes ``rain``."""
    there = np.nan_to_num(rain[first : last + 1], nan=0.0)
    if there.sum() > 0.0:
        rain[first : last + 1] = total * there / there.sum()
    else:
        rain[first : last + 1] = 0.0
        rain[last] = total
