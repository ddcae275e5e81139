"""How likely what leaves the tap is when a fault of the delivery has begun: flows measured there, and what a water meter counted.

Both hang on the usual flow, over that of the garden file, which is summed over a grid. Which day a fault began on, how large it is and
how long it lasts is summed over as well, within what a case leaves open.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import log

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.place import PlaceDays
from soakbook.garden.log import flow_lph
from soakbook.learning import observe
from soakbook.learning.faults_cases import LEFT_ON_H, SHUT_LASTS, Case
from soakbook.learning.faults_see import Sight
from soakbook.learning.metered import Stretch
from soakbook.learning.normal import log_normal, normal_cdf
from soakbook.learning.reading import flow_meant

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Values of the usual flow, and of the part of it that leaves a faulty line, in the sums.
_USUAL, _PARTS = 91, 16
_NEVER = 1 << 30


@dataclass(frozen=True)
class _Ways:
    """Ways in which one case may have come about, (K,): from day ``begun`` on and before day ``over`` the part ``part`` of what was
    meant leaves the tap for the place; or, where ``runs_on``, it ran for longer once, at the watering of day ``begun``."""

    begun: IntArray
    over: IntArray
    part: FloatArray
    runs_on: bool = False

    def touches(self, stretch: Stretch) -> bool:
        """Whether any of them changes a stretch."""
        own = [day for day, _ in stretch.own]
        return bool(own) and bool(((self.begun <= own[-1]) & (self.over > own[0])).any())


_SOUND = _Ways(np.array([_NEVER]), np.array([_NEVER]), np.ones(1))


@dataclass(frozen=True)
class Tap:
    """What was seen of the tap of a place: flows, and the stretches of each meter; ``usual_sd`` is how far the usual flow may be from that of
    the garden file, in the logarithm."""

    days: PlaceDays
    flows: Sequence[Sight]
    meters: Sequence[Sequence[Stretch]]
    usual_sd: float

    def log_evidence(self, case: Case | None) -> float:
        """Logarithm of how likely all of it is in a case; None where nothing is wrong. Flows of which the garden file says nothing do
        not count."""
        if not self.flows and not self.meters:
            return 0.0
        ways, grid = _ways(case), np.linspace(-3.0, 3.0, _USUAL)[:, None]
        total = np.zeros((_USUAL, len(ways.begun)))
        for sight in self.flows:
            total += self._flow(sight, ways)
        for meter in self.meters:
            honest = self._meter(meter, ways) + np.log1p(-observe.METER_OFF)
            total += np.logaddexp(honest, sum(log(_anything(s)) for s in meter) + log(observe.METER_OFF))
        shares = -0.5 * grid**2
        return float(np.logaddexp.reduce((total + shares).ravel()) - np.logaddexp.reduce(shares.ravel()) - log(total.shape[1]))  # fmt: skip

    @cached_property
    def _usual(self) -> FloatArray:
        return np.exp(self.usual_sd * np.linspace(-3.0, 3.0, _USUAL)[:, None])

    @cached_property
    def _watering_l(self) -> float:
        """The largest watering, or what counts as one."""
        given = [litres for meter in self.meters for s in meter for _, litres in s.own]
        return max([*given, observe.METER_LEAST_L])

    @cached_property
    def _unwritten_l(self) -> tuple[float, float]:
        """What one brings that nobody wrote down: as those that were written down, and a fifth beyond. Judged."""
        given = [litres for meter in self.meters for s in meter for _, litres in s.own]
        return 0.8 * min(given, default=0.0), 1.2 * self._watering_l

    @cached_property
    def _left_on_l(self) -> tuple[float, float]:
        """What a line left on adds; an hour of a flow that is not known is taken for a watering."""
        flow = flow_lph(self.days.place, self.days.garden) or self._watering_l
        return LEFT_ON_H[0] * flow, LEFT_ON_H[1] * flow

    @cached_property
    def _sound(self) -> dict[str, FloatArray]:
        """Stretches in which nothing is wrong, by what they span."""
        return {}

    def _flow(self, sight: Sight, ways: _Ways) -> FloatArray | float:
        """A flow caught in a bucket; a shut tap is opened for it."""
        meant = flow_meant(self.days, sight.reading)
        if meant is None:
            return 0.0
        day = sight.moment.step // self.days.steps_a_day
        part = np.where((ways.begun <= day) & (day < ways.over) & (ways.part > 0.0), ways.part, 1.0)
        ratio = log(max(sight.reading.value / meant, observe.FLOW_LEAST))
        plain = np.exp(log_normal(ratio, np.log(self._usual * part), observe.FLOW_SD))
        return np.asarray(sight.counts * np.log((1.0 - observe.SLIP) * plain + observe.SLIP * 0.25))

    def _meter(self, meter: Sequence[Stretch], ways: _Ways) -> FloatArray | float:
        """All stretches of a meter, when any of its readings but the first may be wrong: then what is known is the two stretches about it
        together."""
        wrong, right = log(observe.MISREAD), np.log1p(-observe.MISREAD)
        before: FloatArray = np.array(-np.inf)
        now = np.zeros((_USUAL, len(ways.begun)))
        for k, stretch in enumerate(meter):
            after = now + right + self._stretch(stretch, ways)
            if k:
                both = meter[k - 1].and_then(stretch)
                skipped = before + wrong + right + log(_anything(meter[k - 1])) + self._stretch(both, ways)
                after = np.logaddexp(after, skipped)
            before, now = now, after
        return np.logaddexp(now, before + wrong + log(_anything(meter[-1]))) if meter else 0.0

    def _stretch(self, stretch: Stretch, ways: _Ways) -> FloatArray:
        """What a meter counted between two readings, by usual flow and way."""
        if ways.touches(stretch):
            return self._counted(stretch, ways)
        key = f"{stretch.last.id}/{stretch.litres}/{len(stretch.own)}"
        if key not in self._sound:
            self._sound[key] = self._counted(stretch, _SOUND)
        return self._sound[key]

    def _counted(self, stretch: Stretch, ways: _Ways) -> FloatArray:
        day = np.array([d for d, _ in stretch.own], dtype=np.int64)[:, None]
        litres = np.array([w for _, w in stretch.own])[:, None]
        part = np.where((ways.begun <= day) & (day < ways.over), ways.part, 1.0)
        put = stretch.others_l + (litres * part).sum(0)
        more = (day == ways.begun).any(0) & ways.runs_on
        plain = observe.metered(stretch.litres, self._usual * put)
        if more.any():
            plain = np.where(more, self._between(stretch.litres, put, *self._left_on_l), plain)
        unwritten = self._between(stretch.litres, put, *self._unwritten_l)
        odds = (1.0 - observe.METER_SLIP - observe.UNWRITTEN) * plain + observe.UNWRITTEN * unwritten
        return np.asarray(np.log(odds + observe.METER_SLIP * _anything(stretch)))

    def _between(self, litres: float, put: FloatArray, least: float, most: float) -> FloatArray:
        """Density of litres counted when anything between two amounts ran beside what was put on. [1/L]"""
        sd = observe.metered_sd(litres)
        low, high = self._usual * (put + least), self._usual * (put + most)
        inside = normal_cdf((litres - low) / sd) - normal_cdf((litres - high) / sd)
        return np.asarray(np.maximum(inside, 0.0) / (high - low))


def _ways(case: Case | None) -> _Ways:
    if case is None or not case.may_begin:
        return _SOUND
    days = np.array(case.may_begin)
    if case.fault == "left on":
        return _Ways(days, days + 1, np.ones(len(days)), runs_on=True)
    if case.fault == "never opened":
        begun, lasts = (a.ravel() for a in np.meshgrid(days, np.arange(*SHUT_LASTS)))
        return _Ways(begun, begun + lasts, np.zeros(len(begun)))
    begun, part = (a.ravel() for a in np.meshgrid(days, np.linspace(*case.flow, _PARTS)))
    return _Ways(begun, np.full(len(begun), _NEVER), part)


def _anything(stretch: Stretch) -> float:
    """Density of a stretch of a meter that says nothing. [1/L]"""
    return 1.0 / (3.0 * max(stretch.written_l, abs(stretch.litres), observe.METER_LEAST_L))
