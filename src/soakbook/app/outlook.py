"""Demand and rain by day, as the charts and tables of pages take them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from soakbook.app.charts import DayWeather

if TYPE_CHECKING:
    from soakbook.weather.members import WeatherMembers
    from soakbook.weather.series import WeatherSeries


def outlook(series: WeatherSeries, first: date, end: date, *, with_usual: bool = False) -> list[DayWeather]:
    """The days from ``first`` to ``end`` (not included) that the series has. Rain that is merely usual counts as none and its day as
    usual, as in the days ahead of a round, unless ``with_usual``; a day counts as filled when its temperature or rain was, or is
    not observed."""
    import numpy as np

    from soakbook.weather.eto import series_eto
    from soakbook.weather.series import EXPECTED, MEASURED

    part = series.between(np.datetime64(first), np.datetime64(end) - np.timedelta64(1, "D"))
    eto, rain = series_eto(part), part.get("rain_mm")
    days = []
    for i, day in enumerate(part.times.astype("datetime64[D]")):
        usual = part.kind[i] == EXPECTED
        filled = any(part.flag(name)[i] != MEASURED for name in ("t_max_c", "t_min_c", "rain_mm"))
        on: date = day.astype(date)
        unknown = bool(usual and not with_usual)
        days.append(DayWeather(on, float(eto[i]), 0.0 if unknown else float(rain[i]), bool(usual or filled), unknown))
    return days


def usual_rain_mm(days: Sequence[DayWeather], members: WeatherMembers) -> float:
    """Rain that the days without a forecast bring on average, together: that of the members the odds on rain are counted over. [mm]"""
    import numpy as np

    unknown = np.isin(members.times, np.array([d.on for d in days if d.is_usual], dtype="datetime64[D]"))
    return float(members.get("rain_mm")[:, unknown].mean(axis=0).sum())
