"""A grower who waters by a plain budget: what the crop is said to want, less what the gauge caught."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from soakbook.catalog import read as catalog
from soakbook.season.trial.case import Case
from soakbook.season.truth.day import DayWeather
from tests.measured.scores import FloatArray

#: A bed is looked at every third day and watered from so much missing, a pot every day. [mm]
BED_EVERY, BED_FROM_MM, POT_FROM_MM = 3, 8.0, 3.0
#: Beside the crop's coefficient, for bare ground. Judged.
GROUND_KC = 0.10


class Budget:
    """The budgets of several places, day by day: :meth:`asked` in the morning, :meth:`caught` in the evening."""

    def __init__(self, cases: Sequence[Case]) -> None:
        self._cases = cases
        pot = np.array([c.place.kind == "pot" for c in cases])
        self._every, self._least = np.where(pot, 1, BED_EVERY), np.where(pot, POT_FROM_MM, BED_FROM_MM)
        self._efficiency = np.array([float(catalog.means()[c.place.means].efficiency) for c in cases])
        self._missing = np.zeros(len(cases))

    def weather(self, day: int) -> DayWeather:
        """Demand and rain of a day as they came."""
        return DayWeather(
            self._of([c.eto_mm for c in self._cases], day), self._of([c.rain_mm for c in self._cases], day)
        )

    def asked(self, day: int) -> FloatArray:
        """What is put on, over each place. [mm]"""
        due = (day % self._every == 0) & (self._missing >= self._least)
        asked = np.where(due, self._missing / self._efficiency, 0.0)
        if day == 0:
            asked = np.array([c.watered_in_mm for c in self._cases])
        self._missing = np.where(asked > 0.0, 0.0, self._missing)
        return asked

    def caught(self, day: int, gauge_mm: FloatArray) -> None:
        """Takes down a day's demand and what the gauge caught."""
        eto = self._of([c.eto_mm for c in self._cases], day)
        kc = self._of([np.asarray(c.laid.crops.kcb + GROUND_KC) for c in self._cases], day)
        self._missing = np.maximum(self._missing + eto * kc - gauge_mm, 0.0)

    def _of(self, values: Sequence[FloatArray], day: int) -> FloatArray:
        return np.array([float(v[min(day, len(v) - 1)]) for v in values])
