"""Living through a season: many ways of watering one true place side by side, meeting the same weather and the same dial."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from soakbook.garden.model import Place
from soakbook.season.trial.case import Case, copies
from soakbook.season.truth.day import Account, DayWeather, Seen
from soakbook.season.truth.draw import Hidden
from soakbook.season.truth.garden import Truth

FloatArray = NDArray[np.float64]
#: What to put on each copy on a day [mm over the place] and over how many hours (0: as fast as its means gives it), from the day
#: and the copies' truth.
Decide = Callable[[int, "Copies"], tuple[FloatArray, FloatArray]]


@dataclass(frozen=True)
class Act:
    """A morning's watering: depth over the whole place [mm], and the hours it is spread over; 0 for one go at the rate of the means."""

    mm: float
    hours: float = 0.0


NOTHING = Act(0.0)
#: Dry mix, pot and plant, per litre of mix, and its spread in the logarithm: peat and bark 0.1 to 0.3, mixes with soil to 0.8. Judged. [kg/L]
DRY_KG_L, DRY_LOG_SD = 0.3, 0.3
#: A hand goes to and fro between plants while puddles soak in: half an hour for a place. Judged. [h]
BY_HAND, BY_HAND_H = ("can", "wand", "basin", "furrow", "tray", "clay_pot"), 0.5


class _Alike(np.random.Generator):
    """Chance that is the same for all copies of one place."""

    def standard_normal(self, size: Any = None, *args: Any, **kwargs: Any) -> Any:
        one = super().standard_normal(*args, **kwargs)
        return one if size is None else np.full(size, one)


class Copies(Truth):
    """One true place several times over."""

    def spread_over(self, asked_mm: FloatArray, hours: FloatArray) -> None:
        """Today's waterings come in goes that take so many hours in all, where that is slower than the means."""
        hidden = self.hidden
        wet = asked_mm * hidden.flow_factor * hidden.foot_dose[:, 0]
        hours = np.maximum(hours, self._least_hours)
        slow = np.divide(wet, hours, out=np.full(len(self), np.inf), where=hours > 0.0)
        hidden.rate_mm_h[:] = np.maximum(np.minimum(self._fastest, slow), 0.1)

    def __init__(self, hidden: Hidden, least_hours: float = 0.0) -> None:
        super().__init__(replace(hidden, rate_mm_h=hidden.rate_mm_h.copy()))
        self._fastest, self._least_hours = hidden.rate_mm_h.copy(), least_hours

    def stand_as(self, source: Copies, which: NDArray[np.int64]) -> None:
        """Stand as these of another's places do at this moment; they must be the same places."""
        self.day, self.days = source.day, []
        self._left_on = source._left_on[which]
        self._by_stage = source._by_stage[:, which]
        for mine, theirs in zip(self._feet, source._feet, strict=True):
            cells = min(mine.head_cm.shape[1], theirs.head_cm.shape[1])
            for name in ("head_cm", "rate"):
                getattr(mine, name)[:, :cells] = getattr(theirs, name)[which, :cells]
            mine.pond_cm[:], mine.dt_h[:] = theirs.pond_cm[which], theirs.dt_h[which]

    def _chance(self, what: int) -> np.random.Generator:
        return _Alike(np.random.PCG64(np.random.SeedSequence([self.hidden.seed, self.day, what])))


class Eyes:
    """All that a grower can find out about the place today; the morning's look counts before anything is put on."""

    def __init__(self, truth: Copies, copy: int) -> None:
        self._truth, self._copy = truth, copy

    def dial(self, depth_m: float) -> float:
        """What the dial probe shows at a depth, 0 to 10."""
        return float(self._truth.probe(100.0 * depth_m)[self._copy])

    def feel(self, depth_m: float) -> int:
        """The class a hand gives the soil at a depth, 0 dry to 5 wetter than drained."""
        return int(self._truth.feel(100.0 * depth_m)[self._copy])

    def water_mm(self) -> float:
        """Water in a pot by its weight, over its area; two in a hundred off. [mm]"""
        return float(self._truth.weigh()[self._copy])

    def weight_kg(self, place: Place) -> float:
        """What one pot weighs, with its mix and plant, which nobody knows: scales two in a hundred of the water off. [kg]"""
        assert place.pot is not None
        hidden = self._truth.hidden
        chance = np.random.default_rng([hidden.seed, 11])
        dry = DRY_KG_L * place.pot.volume_l * float(np.exp(DRY_LOG_SD * chance.standard_normal()))
        return self.water_mm() * place.area_m2 / place.pot.count + dry


class Policy(Protocol):
    """A way of watering one place through a season."""

    name: str

    def morning(self, day: int, eyes: Eyes) -> Act:
        """What to put on this morning."""

    def evening(self, day: int, seen: Seen, copy: int) -> None:
        """What could be seen by the end of the day."""


@dataclass(frozen=True)
class Season:
    """What became of several copies: the account, and what was asked for by day, (days, copies). [mm]"""

    account: Account
    asked_mm: FloatArray
    hours: FloatArray


def live(case: Case, count: int, decide: Decide, after: Callable[[int, Seen], None] | None = None) -> Season:
    """Live through the season with so many copies of the place. The first day all are watered in alike."""
    truth = Copies(copies(case.hidden, count), BY_HAND_H if case.place.means in BY_HAND else 0.0)
    asked, hours = np.zeros((case.days, count)), np.zeros((case.days, count))
    for day in range(case.days):
        wanted, over = decide(day, truth)
        asked[day], hours[day] = (case.watered_in_mm, 0.0) if day == 0 else (wanted, over)
        truth.spread_over(asked[day], hours[day])
        weather = DayWeather(float(case.eto_mm[day]), float(case.rain_mm[day]))
        seen = truth.step(weather, asked[day])
        if after is not None:
            after(day, seen)
    return Season(truth.account(), asked, hours)


def follow(case: Case, policies: Sequence[Policy]) -> Season:
    """Every policy in a copy of its own."""

    def decide(day: int, truth: Copies) -> tuple[FloatArray, FloatArray]:
        acts = [p.morning(day, Eyes(truth, k)) for k, p in enumerate(policies)]
        return np.array([a.mm for a in acts]), np.array([a.hours for a in acts])

    def after(day: int, seen: Seen) -> None:
        for k, policy in enumerate(policies):
            policy.evening(day, seen, k)

    return live(case, len(policies), decide, after)


def replay(case: Case, asked_mm: FloatArray, hours: FloatArray) -> Season:
    """Given amounts and hours by day, (days, copies)."""
    return live(case, asked_mm.shape[1], lambda day, truth: (asked_mm[day], hours[day]))
