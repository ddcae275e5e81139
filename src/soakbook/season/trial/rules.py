"""Watering by fixed rules, as people do. All amounts are common practice or judged; depths are over the whole place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from soakbook.catalog import read as catalog
from soakbook.season.trial.case import Case
from soakbook.season.trial.live import BY_HAND, NOTHING, Act, Copies, Eyes, Policy, Season, live
from soakbook.season.truth.day import Seen

FloatArray = NDArray[np.float64]

#: "An inch a week", rain counted. Common practice. [mm]
INCH_MM = 25.4
#: What is left of it after rain that nobody walks for. Judged. [mm]
NOT_WORTH_MM = 3.0
#: A good soak every third day. Common practice, the amount judged. [mm]
EVERY_DAYS, SOAK_MM = 3, 15.0
#: A timer as it is left all summer: half an hour a day, a quarter for what sprays. Common practice. [h]
TIMER_H = {"sprinkler": 0.25}
TIMER_ELSE_H = 0.5
#: By hand, where a timer does not fit: a can on one and a half square metres. Judged. [mm]
CAN_MM = 6.0
#: Part of a pot's volume that a watering is: until some runs out below. Common practice, the part judged.
POT_PART = 0.15
#: A dial below this, looked at every other day, means water. Common practice ("below 40 %"). Depth of the look. [m]
DIAL_BELOW, LOOK_EVERY, LOOK_M = 4.0, 2, 0.10

#: The grid of fixed rules that are tuned in hindsight: every so many days, and so much of the season's mean reference
#: evapotranspiration.
GRID_DAYS = (1, 2, 3, 4, 5, 7)
GRID_PARTS = (0.15, 0.3, 0.5, 0.75, 1.1, 1.6)
#: The same for a quick look.
QUICK_DAYS, QUICK_PARTS = (2, 4, 7), (0.25, 0.6, 1.3)


@dataclass
class EveryDays:
    """So much every so many days."""

    name: str
    every: int
    amount_mm: float

    def morning(self, day: int, eyes: Eyes) -> Act:
        return Act(self.amount_mm) if day % self.every == 0 else NOTHING

    def evening(self, day: int, seen: Seen, copy: int) -> None:
        """Nothing is looked at."""


@dataclass
class InchAWeek:
    """What the week's rain left of an inch, once a week."""

    name: str
    rain_mm: float = 0.0

    def morning(self, day: int, eyes: Eyes) -> Act:
        if day % 7 or day == 0:
            return NOTHING
        amount, self.rain_mm = max(INCH_MM - self.rain_mm, 0.0), 0.0
        return Act(amount) if amount > NOT_WORTH_MM else NOTHING

    def evening(self, day: int, seen: Seen, copy: int) -> None:
        self.rain_mm += float(seen.gauge_mm[copy])


@dataclass
class ByDial:
    """A probe every other day; dry: the usual amount."""

    name: str
    amount_mm: float
    every: int = LOOK_EVERY
    looks: int = field(default=0)

    def morning(self, day: int, eyes: Eyes) -> Act:
        if day % self.every:
            return NOTHING
        self.looks += 1
        return Act(self.amount_mm) if eyes.dial(LOOK_M) < DIAL_BELOW else NOTHING

    def evening(self, day: int, seen: Seen, copy: int) -> None:
        """Rain is not written down."""


def usual_rules(case: Case) -> list[Policy]:
    """The rules as people use them, for a bed or a pot."""
    if case.place.kind == "pot":
        full = POT_PART * 10.0 * case.believed.pot_height_cm
        return [
            EveryDays("every other day", 2, full),
            EveryDays("every 3 days", 3, full),
            EveryDays("fixed timer", 1, full / 2.0),
            ByDial("probe below 40 %", full, every=1),
        ]
    return [
        InchAWeek("inch a week"),
        EveryDays("every 3 days", EVERY_DAYS, SOAK_MM),
        EveryDays("fixed timer", 1, _timer_mm(case)),
        ByDial("probe below 40 %", SOAK_MM),
    ]


def _timer_mm(case: Case) -> float:
    if case.place.means in BY_HAND:
        return CAN_MM
    means = catalog.means()[case.place.means]
    hours = TIMER_H.get(case.place.means, TIMER_ELSE_H)
    return hours * float(means.rate_mm_h) * float(means.wetted_fraction)


def grid(case: Case, quick: bool = False) -> list[tuple[int, float]]:
    """Days between and amounts of the rules tried in hindsight. A pot's leaves may ask for several times its ground."""
    asks = float(np.mean(case.eto_mm[: case.days])) * max(1.0, float(np.max(case.laid.crops.base)))
    days, parts = (QUICK_DAYS, QUICK_PARTS) if quick else (GRID_DAYS, GRID_PARTS)
    return [(every, every * part * asks) for every in days for part in parts]


def tried_in_hindsight(case: Case, rules: Sequence[tuple[int, float]]) -> Season:
    """All rules of a grid in the same true place."""
    every, amount = np.array([r[0] for r in rules]), np.array([r[1] for r in rules])

    def decide(day: int, truth: Copies) -> tuple[FloatArray, FloatArray]:
        return np.where(day % every == 0, amount, 0.0), np.zeros(len(rules))

    return live(case, len(rules), decide)
