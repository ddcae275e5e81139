"""All runs of a place side by side: each leaves the sound run on its first day, so that what came before is run once.

The runs stand along the kernel's axis of places, so one call carries all of them through a stretch of days.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import DRY_BYPASS, DRY_FROM, Columns, Forcing, State
from soakbook.balance.place import PlaceDays
from soakbook.balance.run import run_columns
from soakbook.learning.faults_cases import PAN_KS, Run
from soakbook.learning.faults_see import Sight, signal

FloatArray = NDArray[np.float64]

#: The wetness below which a mix that repels lets water through: far above any, for it stays so until it is soaked.
_HOWEVER_WET = 1e3


@dataclass(frozen=True)
class Stretch:
    """Days ``first`` to ``last`` (not included), and whether any reading was taken in them."""

    first: int
    last: int
    keep: bool


def stretches(starts: Sequence[int], sights: Sequence[Sight], n: int, begin: int, end: int) -> list[Stretch]:
    """Cuts the days where a fault may begin and round the days of readings; of these the day before counts too."""
    seen = sorted({s.moment.step // n for s in sights})
    kept = {d for day in seen for d in (day - 1, day) if begin <= d < end}
    cuts = {begin, end, *(s for s in starts if begin < s < end)}
    cuts |= {d for d in range(begin + 1, end) if (d in kept) != (d - 1 in kept)}
    edges = sorted(cuts)
    return [Stretch(a, b, a in kept) for a, b in pairwise(edges)]


def signals_of(
    days: PlaceDays, runs: Sequence[Run], sights: Sequence[Sight], starts: Sequence[int], end: int
) -> FloatArray:
    """What each reading looked at, in each run and member: (readings, runs, M), by kind in the units of its observation model."""
    n, count = days.steps_a_day, days.laid.columns.shape[2]
    out = np.empty((len(sights), len(runs), count))
    state = _spread(days.start(), len(runs))
    begun: set[int] = set()
    for stretch in stretches(starts, sights, n, 0, end):
        active = [k for k, r in enumerate(runs) if r.first <= stretch.first < r.last]
        for k in active:
            if k not in begun:
                _take_over(state, k)
                begun.add(k)
        some = [runs[k] for k in active]
        before = _of(state, active)
        result = run_columns(_columns(days, some), _forcing(days, some, stretch), before, keep=stretch.keep)
        _put(state, active, result.end)
        for at, sight in enumerate(sights):
            if stretch.keep and stretch.first <= sight.moment.step // n < stretch.last:
                found = signal(days, sight, result, before, stretch.first * n)
                out[at] = found[0]  # runs not begun, or over, are the sound one
                out[at, active] = found
    return out


def _spread(state: State, count: int) -> State:
    return State(*(np.repeat(a, count, axis=0) for a in _parts(state)))


def _parts(state: State) -> tuple[FloatArray, ...]:
    return state.water_mm, state.surface_mm, state.held_mm, state.saucer_mm, state.airless, state.area_wet


def _take_over(state: State, k: int) -> None:
    """A run begins where the sound one stands."""
    for part in _parts(state):
        part[k] = part[0]


def _of(state: State, active: list[int]) -> State:
    return State(*(np.ascontiguousarray(a[active]) for a in _parts(state)))


def _put(state: State, active: list[int], end: State) -> None:
    for part, new in zip(_parts(state), _parts(end), strict=True):
        part[active] = new


def _columns(days: PlaceDays, runs: Sequence[Run]) -> Columns:
    """The place once for each run, with what the run changes of it."""
    c, count = days.laid.columns, len(runs)

    def each(values: FloatArray) -> FloatArray:
        return np.repeat(values, count, axis=0)

    ks, delivery, fixed = each(c.ks_mm_h), each(c.delivery), each(c.fixed)
    weather_of, rows = np.zeros(count, dtype=np.int64), 1
    for k, run in enumerate(runs):
        if run.delivered is not None:
            delivery[k] *= run.delivered
        if run.pan_m is not None:
            ks[k, days.laid.edges_m[1:] > run.pan_m] *= PAN_KS
        if run.bypass is not None:
            fixed[k, DRY_FROM], fixed[k, DRY_BYPASS] = _HOWEVER_WET, run.bypass
        if run.rain is not None:
            weather_of[k], rows = rows, rows + 1
    return replace(
        c, wp_mm=each(c.wp_mm), fc_mm=each(c.fc_mm), sat_mm=each(c.sat_mm), ks_mm_h=ks, thickness_mm=each(c.thickness_mm),
        evaporating=each(c.evaporating), rew_mm=each(c.rew_mm), tew_mm=each(c.tew_mm), suction_mm=each(c.suction_mm),
        intake_mm_h=each(c.intake_mm_h), demand=each(c.demand), catch=each(c.catch), delivery=delivery, fixed=fixed,
        weather_of=weather_of,
    )  # fmt: skip


def _forcing(days: PlaceDays, runs: Sequence[Run], stretch: Stretch) -> Forcing:
    one, n = days.part(stretch.first, stretch.last), days.steps_a_day
    count = len(runs)
    put = np.repeat(one.irrigation_mm, count, axis=0)
    roots = np.repeat(one.roots, count, axis=0)
    rain = [one.rain_mm[0]]
    for k, run in enumerate(runs):
        if run.shut_until is not None and run.shut_until > stretch.first:
            put[k, : (run.shut_until - stretch.first) * n] = 0.0
        if run.extra is not None and stretch.first <= run.extra[0] < stretch.last:
            put[k, (run.extra[0] - stretch.first) * n + (7 if n > 1 else 0), 0] += run.extra[1]
        if run.rain is not None:
            rain.append(one.rain_mm[0] * run.rain)
        if run.pan_m is not None:
            roots[k] = _stopped(roots[k], days.laid.edges_m, run.pan_m)
    return Forcing(
        np.repeat(one.eto_mm, len(rain), axis=0), np.stack(rain), put, np.repeat(one.crop, count, axis=0), roots,
        one.step_hours,
    )  # fmt: skip


def _stopped(roots: FloatArray, edges_m: FloatArray, pan_m: float) -> FloatArray:
    """Shares of uptake (T, F, L) when no root goes below a depth: what was deeper is drawn above."""
    above = np.clip((pan_m - edges_m[:-1]) / np.diff(edges_m), 0.0, 1.0)
    left = roots * above
    whole, kept = roots.sum((1, 2), keepdims=True), left.sum((1, 2), keepdims=True)
    return np.asarray(left * np.where(kept > 0.0, whole / np.maximum(kept, 1e-12), 0.0))
