"""How likely what the own gauge caught is, beside the rain of the weather's source, when the gauge stands in a rain shadow from some day on.

A source some kilometres off has showers of its own: a week means little, many weeks tell. The sizes were looked up at ten pairs of stations
3.8 to 40 km apart (NOAA's U.S. Climate Reference Network, 2020, weeks with 5 mm at either): the logarithm of the ratio of a week's rain has
a middling spread of 0.1 to 0.8, half of the pairs above 0.4, one week in eight is off by more than e times, and means of 16 weeks differ by 0.28.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.place import PlaceDays
from soakbook.learning.faults_cases import MORE_RAIN, Case
from soakbook.learning.normal import log_normal
from soakbook.weather.series import OWN_GAUGE, WeatherSeries

FloatArray = NDArray[np.float64]

#: Error of the source's rain over a season, and of a week's beside it, in the logarithm; every so many weeks one is off as the last has it.
SOURCE_SD, WEEK_SD, ODD_WEEKS, ODD_SD = 0.22, 0.45, 0.15, 1.5
#: Weeks with less at either tell nothing; added to both, so that little rain tells little. Judged. [mm]
LEAST_MM, ADDED_MM = 5.0, 1.0
_OFF, _SHARES = 31, 12


@dataclass(frozen=True)
class Week:
    """Rain of days that the gauge gives, from day ``first`` of the run on: by the gauge and by the source. [mm]"""

    first: int
    gauge_mm: float
    source_mm: float


def weeks_of(days: PlaceDays, weather: WeatherSeries, end: int) -> list[Week]:
    """Rainy weeks of the days before ``end``, in which the gauge stands beside a source that measured."""
    at = int((days.days[0] - weather.times[0]) / np.timedelta64(1, "D"))
    span = slice(at, at + end)
    gauge, source = weather.get("rain_mm")[span], weather.get("rain_source_mm")[span]
    both = (weather.flag("rain_mm")[span] == OWN_GAUGE) & np.isfinite(source)
    found = []
    for first in range(0, end, 7):
        here = slice(first, first + 7)
        sums = [float(rain[here][both[here]].sum()) for rain in (gauge, source)]
        if max(sums) >= LEAST_MM:
            found.append(Week(first, *sums))
    return found


def log_beside(weeks: Sequence[Week], case: Case | None) -> float:
    """Logarithm of how likely the weeks' rain by the gauge is beside that of the source; None where nothing is wrong, and for cases that leave
    the gauge alone. How far the source is off all season, and how much the shadow keeps off, is summed over."""
    if not weeks:
        return 0.0
    shares = np.linspace(log(MORE_RAIN[0]), log(MORE_RAIN[1]), _SHARES) if _shades(case) else np.zeros(1)
    since = case.first or 0 if case is not None else 0
    z = np.linspace(-3.0, 3.0, _OFF)[:, None]
    total = np.zeros((_OFF, len(shares)))
    for week in weeks:
        ratio = log((week.gauge_mm + ADDED_MM) / (week.source_mm + ADDED_MM))
        middle = SOURCE_SD * z - shares * (week.first >= since)
        usual, odd = (np.exp(log_normal(ratio, middle, sd)) for sd in (WEEK_SD, ODD_SD))
        total += np.log((1.0 - ODD_WEEKS) * usual + ODD_WEEKS * odd)
    weight = -0.5 * z**2 + np.zeros_like(total)
    return float(np.logaddexp.reduce((total + weight).ravel()) - np.logaddexp.reduce(weight.ravel()))


def _shades(case: Case | None) -> bool:
    return case is not None and case.fault == "gauge in rain shadow" and case.more
