"""What a season cost, in one unit for all ways of watering: hundredths of the place's harvest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.costs import HAND_VISIT, LINE_VISIT, POT_VISIT, WATER_MM
from soakbook.season.trial.case import Case
from soakbook.season.trial.live import Season

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Outcome:
    """One way of watering one place for one season. Depths over the place [mm], ``loss_pct`` of the harvest."""

    policy: str
    water_mm: float
    stress_days: float
    loss_pct: float
    wet_days: float
    drained_mm: float
    ran_off_mm: float
    visits: float
    readings: float
    cost: float
    regret: float = float("nan")


def costs(case: Case, season: Season) -> FloatArray:
    """Cost of each copy of a season: harvest lost, water and visits at the prices the advice goes by.

    Days on which roots lack air cost the harvest they cost (Feddes), and nothing besides.
    """
    a = season.account
    ground = max(float(np.max(case.laid.crops.base)), 1.0)
    by_hand = HAND_VISIT if case.place.kind == "bed" else POT_VISIT
    visit = LINE_VISIT if case.place.line else by_hand
    return np.asarray(100.0 * a.yield_loss + a.put_on_mm / (WATER_MM * ground) + visit * a.waterings)


def outcome(case: Case, season: Season, copy: int, name: str, readings: float = 0.0) -> Outcome:
    """The outcome of one copy."""
    a = season.account
    return Outcome(
        policy=name,
        water_mm=float(a.put_on_mm[copy]),
        stress_days=float(a.stress_days[copy]),
        loss_pct=100.0 * float(a.yield_loss[copy]),
        wet_days=float(a.wet_days[copy]),
        drained_mm=float(a.drainage_mm[copy]),
        ran_off_mm=float(a.runoff_mm[copy]),
        visits=float(a.waterings[copy]),
        readings=readings,
        cost=float(costs(case, season)[copy]),
    )
