"""A bare sand column drying in the laboratory, against evaporation in two stages as FAO-56 has it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from soakbook.physics.evaporation import evaporation_reduction
from tests.measured.scores import FloatArray, numbers, read_rows

#: Stage one ends where evaporation has fallen below this part of its mean over the second day (our choice).
STAGE_ONE_ENDS = 0.9
#: Parts of the falling-rate stage over which the exponent is taken: whole, beginning, end. [d since the end of stage one]
SPANS = ((0.0, 99.0), (0.0, 2.0), (4.0, 99.0))
#: Steps of the two-stage computation. [d]
STEP_D = 0.01


@dataclass(frozen=True)
class Drying:
    """Times [d], evaporation so far [mm], and how it grows after stage one: the exponent of time since its end."""

    stage_one_days: float
    stage_one_mm_day: float
    rew_mm: float
    tew_mm: float
    days: FloatArray
    measured_mm: FloatArray
    two_stage_mm: FloatArray
    root_of_time_mm: FloatArray
    measured_exponents: tuple[float, ...]
    two_stage_exponents: tuple[float, ...]
    worst_two_stage_mm: float
    worst_root_of_time_mm: float


def drying() -> Drying:
    """Measured and computed evaporation from the column.

    The two-stage form is given the best it can have: readily evaporable water as measured to the end of stage one, total
    evaporable water as measured over the whole record. So only its shape is tested. Beside it stands what the theory of the
    falling-rate stage says (W. R. Gardner, Soil Sci. 88:244, 1959; from memory): the root of time, through the same two
    points.
    """
    rows = read_rows("sand/sand_evap_rate.csv")
    days = numbers(rows, "time_s") / 86400.0
    rate = numbers(rows, "flux_m_s") * 1000.0 * 86400.0
    so_far = np.concatenate([[0.0], np.cumsum(np.diff(days) * 0.5 * (rate[1:] + rate[:-1]))])
    steady = float(rate[(days >= 1.0) & (days < 2.0)].mean())
    end = float(days[np.flatnonzero((rate < STAGE_ONE_ENDS * steady) & (days > 1.0))[0]])
    rew, tew = float(np.interp(end, days, so_far)), float(so_far[-1])
    after = days > end
    two_stage = _two_stage(days, end, steady, rew, tew)
    root = rew + (tew - rew) * np.sqrt(np.maximum(days - end, 0.0) / (days[-1] - end))
    return Drying(
        stage_one_days=end,
        stage_one_mm_day=steady,
        rew_mm=rew,
        tew_mm=tew,
        days=days[after],
        measured_mm=so_far[after],
        two_stage_mm=two_stage[after],
        root_of_time_mm=root[after],
        measured_exponents=_exponents(days[after] - end, so_far[after] - rew),
        two_stage_exponents=_exponents(days[after] - end, two_stage[after] - rew),
        worst_two_stage_mm=float(np.abs(two_stage - so_far)[after].max()),
        worst_root_of_time_mm=float(np.abs(root - so_far)[after].max()),
    )


def _two_stage(days: FloatArray, end: float, steady: float, rew: float, tew: float) -> FloatArray:
    """Evaporation so far when it is ``steady`` times Kr after stage one. [mm]"""
    times = np.arange(end, days[-1] + STEP_D, STEP_D)
    so_far = np.empty(len(times))
    gone = rew
    for i in range(len(times)):
        so_far[i] = gone
        gone += STEP_D * steady * evaporation_reduction(gone, tew, rew)
    return np.asarray(np.interp(days, times, so_far))


def _exponents(time_d: FloatArray, gone_mm: FloatArray) -> tuple[float, ...]:
    """Slope of the logarithms over each of :data:`SPANS`, by least squares."""
    found = []
    for first, last in SPANS:
        span = (time_d > first) & (time_d <= last)
        found.append(float(np.polyfit(np.log(time_d[span]), np.log(gone_mm[span]), 1)[0]))
    return tuple(found)
