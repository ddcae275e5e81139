"""What each place on a timer's lines needs over the days ahead, reduced to what a plan works with: use, rain, what the soil holds.

A store that empties by the day's use and is filled by what the timer gives; what it cannot take runs away. Costs are hundredths of the
place's growth over these days, at about the prices the advice goes by (1 % of growth: 1; water wasted that equals 1 % of the use: 0.11).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.said import say

FloatArray = NDArray[np.float64]

#: Price of water wasted, of the growth lost with as much use lacking; as in the advice (40 mm are a hundredth of a harvest of about 450 mm).
WASTE_PRICE = 0.11
#: What a mm still lacking at the end of the plan costs: its water, and a little more, for a store run down is a reserve gone. Judged.
OWED_PRICE = 0.15


@dataclass(frozen=True)
class Need:
    """One place on a line.

    Depths are over the watered part. ``use_mm`` and ``rain_mm`` (S, T): by picture of the weather and step; a day has as many steps as
    the rules leave windows, each beginning with its window. ``store_mm`` is what the roots' reach holds, ``easy_mm`` the part of it that
    is drawn on without loss, ``missing_mm`` what is missing at first. ``per_minute_mm``: what a minute of the line brings to the roots;
    ``litres_per_minute`` what flows to the place in it. ``takes_mm``: the most that one run brings in before the rest runs off.
    ``waste_times``: how much more waste counts here, where soil that drains badly is left without air. ``weight``: of the place in the sum.
    """

    place: str
    line: str
    use_mm: FloatArray
    rain_mm: FloatArray
    store_mm: float
    easy_mm: float
    missing_mm: float
    per_minute_mm: float
    litres_per_minute: float
    takes_mm: float = math.inf
    waste_times: float = 1.0
    weight: float = 1.0

    def __post_init__(self) -> None:
        if self.use_mm.shape != self.rain_mm.shape or self.use_mm.ndim != 2:
            raise InputError(say("use and rain of {place} must have one shape.", place=self.place), code="timer.need")
        if not 0.0 <= self.easy_mm < self.store_mm or self.per_minute_mm <= 0.0:
            raise InputError(
                say("{place}: what is easily drawn must be less than what the soil holds, and the line must bring water.", place=self.place),
                code="timer.need", field="store_mm",
            )  # fmt: skip

    @cached_property
    def scale(self) -> float:
        """Hundredths of growth per mm lacking. [1/mm]"""
        return 100.0 * self.weight / max(float(self.use_mm.sum(axis=1).mean()), 0.1)

    @cached_property
    def bare_mm(self) -> float:
        """Depth that is missing in the end without a drop given, mean over the pictures. [mm]"""
        missing = np.full(len(self.use_mm), self.missing_mm)
        for net in (self.use_mm - self.rain_mm).T:
            missing = np.maximum(missing + net, 0.0)
        return float(missing.mean())


def costs_of(needs: Sequence[Need], given_mm: FloatArray, poured_mm: FloatArray) -> FloatArray:
    """What schedules cost places, (N, K). [hundredths of growth, weighted]

    Parameters
    ----------
    needs
        The places, with as many pictures and steps each.
    given_mm
        What goes in at the beginning of each step, (T, N, K).
    poured_mm
        What is poured in all, (N, K): what of it does not go in runs off.

    Notes
    -----
    With D the depth missing, g given, r rain and u use: ``D' = max(0, D - g)``, ``D+ = max(0, D' + u - r)``. Lost growth of a step is
    ``u max(0, D' + u/2 - easy) / (store - easy)``; wasted is what was poured less what it changed in the end. All of it is convex in g
    and never falls with D, so that the best free schedule is a linear program.
    """
    use = np.array([need.use_mm.T for need in needs]).transpose(1, 2, 0)[..., None]  # (T, S, N, 1)
    net = use - np.array([need.rain_mm.T for need in needs]).transpose(1, 2, 0)[..., None]
    at_ease = 0.5 * use - np.array([need.easy_mm for need in needs])[:, None]
    start = np.array([need.missing_mm for need in needs])[:, None]
    missing = np.broadcast_to(start, (use.shape[1], *poured_mm.shape)).copy()
    bare = np.broadcast_to(start, net.shape[1:]).copy()
    lost, dry = np.zeros_like(missing), np.empty_like(missing)
    for t in range(len(use)):
        missing -= given_mm[t]
        np.maximum(missing, 0.0, out=missing)
        np.add(missing, at_ease[t], out=dry)
        np.maximum(dry, 0.0, out=dry)
        dry *= use[t]
        lost += dry
        missing += net[t]
        np.maximum(missing, 0.0, out=missing)
        bare = np.maximum(bare + net[t], 0.0)
    lost /= np.array([need.store_mm - need.easy_mm for need in needs])[:, None]
    price = np.array([WASTE_PRICE * need.waste_times for need in needs])[:, None]
    cost = (lost + (price + OWED_PRICE) * missing).mean(axis=0) + price * (poured_mm - bare.mean(axis=0))
    return np.asarray(np.array([need.scale for need in needs])[:, None] * cost)


def shares_of_day(windows: Sequence[tuple[int, int]]) -> FloatArray:
    """Parts of a day's use that fall after each window's beginning and before the next one's: half a sine from 6 to 20 (judged)."""

    def so_far(minute: float) -> float:
        hour = min(max(minute / 60.0, 6.0), 20.0)
        return 0.5 * (1.0 - math.cos(math.pi * (hour - 6.0) / 14.0))

    starts = [so_far(a) for a, _ in windows]
    ends = [*starts[1:], 1.0 + starts[0]]
    return np.array([b - a for a, b in zip(starts, ends, strict=True)])


def mean_use_mm(needs: Sequence[Need], days: int) -> dict[str, float]:
    """Mean use of each place a day. [mm over the watered part]"""
    return {need.place: float(need.use_mm.sum(axis=1).mean()) / days for need in needs}


@dataclass(frozen=True)
class Span:
    """The days of a plan: the first, how many, and the windows of the day."""

    first: date
    days: int
    windows: tuple[tuple[int, int], ...]

    @property
    def steps(self) -> int:
        """Steps in all."""
        return self.days * len(self.windows)
