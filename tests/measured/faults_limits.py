"""What a dial probe could tell of two faults at all: hidden gardens lived through twice, with the fault and without it.

Everything else is the same: weather, waterings, soil, roots and the probe. For a gauge in a rain shadow the sound garden gets the rain
that the gauge showed, for that is what the grower would be told it got. If all of that were known to the last figure, readings with the error the
fault finder takes a dial to have would be worth, on the mean, the sum of (difference / error)² / 2 in the logarithm of the odds. What is found must do
with less, for nothing of it is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from soakbook.learning import observe
from soakbook.season.trial.case import Case
from soakbook.season.truth.day import DayWeather
from soakbook.season.truth.draw import Fault
from soakbook.season.truth.garden import Truth
from tests.measured.budget import Budget
from tests.measured.faults import DEEPER, FIRST_READING, MOST_DAYS, NAMES, READ_EVERY, SEED, depths_m, drawn, together
from tests.measured.kept import keep, kept
from tests.measured.scores import FloatArray

#: Faults that leave the tap alone and the pot as it is; gardens of each; and where their chance starts.
FAULTS, GARDENS, LIMITS_SEED = (Fault.COMPACTED, Fault.GAUGE_IN_SHADOW), 28, SEED + 700_300


@dataclass(frozen=True)
class Limit:
    """What a season's weekly readings at one depth, and at two, are worth in the logarithm of the odds, were all else known."""

    fault: str
    kind: str
    one: float
    two: float


def limits_of(fault: Fault) -> list[Limit]:
    """All gardens with a fault, over the setups and climates in turn."""
    cases = [drawn(k, 7 * (k // 5), LIMITS_SEED + k, fault) for k in range(GARDENS)]
    sound = [replace(c, spread=replace(c.spread, faults=0.0)) for c in cases]
    length = np.array([min(c.days, MOST_DAYS) for c in cases])
    one, two = _worth(cases, sound, fault, length)
    return [Limit(NAMES[fault], c.place.kind, float(a), float(b)) for c, a, b in zip(cases, one, two, strict=True)]


def _worth(
    cases: Sequence[Case], sound: Sequence[Case], fault: Fault, length: FloatArray
) -> tuple[FloatArray, FloatArray]:
    hidden, other = (together([c.hidden for c in some], LIMITS_SEED) for some in (cases, sound))
    if (
        np.any(other.fault != Fault.NONE)
        or np.any(other.kc != hidden.kc)
        or np.any(other.probe.high != hidden.probe.high)
    ):
        raise AssertionError("the twins differ by more than the fault")
    # A dial's noise is the same in both, and is gone in the difference; halves of a mark are not looked at.
    truth, twin, budget, depth = Truth(hidden), Truth(other), Budget(cases), depths_m(cases)
    worth = np.zeros((2, len(cases)))
    for day in range(int(length.max())):
        asked, weather = budget.asked(day), budget.weather(day)
        seen = truth.step(weather, asked)
        rain = seen.gauge_mm if fault is Fault.GAUGE_IN_SHADOW else weather.rain_mm
        twin.step(DayWeather(weather.eto_mm, rain), asked)
        budget.caught(day, seen.gauge_mm)
        if day % READ_EVERY == FIRST_READING:
            for k, deep in enumerate((depth, DEEPER * depth)):
                off = truth.dial_mean(100.0 * deep) - twin.dial_mean(100.0 * deep)
                worth[k] += np.where(day < length, 0.5 * (off / observe.DIAL_SD) ** 2, 0.0)
    return worth[0], worth.sum(0)


def keep_limits() -> None:
    """What is kept: every fault's gardens."""
    keep("faults_limits", {NAMES[fault]: limits_of(fault) for fault in FAULTS})


def kept_limits() -> dict[str, tuple[Limit, ...]]:
    """What was kept, by fault."""
    return kept("faults_limits", Limit)
