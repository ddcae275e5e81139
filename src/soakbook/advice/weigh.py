"""One place's acts weighed: every amount with every way of going on, over all members."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.belief import Belief
from soakbook.advice.costs import PARTS, Prices, Weights, parts_of, priced, prices
from soakbook.advice.decide import Advice
from soakbook.balance import rollout_names as names
from soakbook.balance.member_weather import eto_and_rain
from soakbook.balance.place import PlaceDays, runs_out
from soakbook.balance.rollout import LEAST_MM, Ahead, Reduced, reduce, roll
from soakbook.balance.wander import demand_factor, rain_factor
from soakbook.garden.model import Garden, Place
from soakbook.weather.members import WeatherMembers

FloatArray = NDArray[np.float64]

#: Amounts looked at, as shares of what is missing on average.
SHARES = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.15)
#: How the rule goes on after today's act: at its limit and filling up; letting a place drier, by this part of the way from the limit
#: to nothing left; at its limit and leaving room for rain. The best of the three for an act is what the act costs.
DRIER, LEAVE_ROOM = 0.35, 0.6
#: Part of what the roots can reach that must be missing before watering is looked at: less is not worth a walk. Judged.
LEAST_SHARE = 0.1
#: What an act must save over what the plain rule would do to be worth leaving it. Judged. [hundredths of the harvest]
TIE = 0.05


@dataclass(frozen=True)
class Board:
    """A place ready for weighing acts."""

    days: PlaceDays
    today: int
    belief: Belief
    reduced: Reduced
    price: Prices
    advice: Advice | None

    @cached_property
    def missing_mm(self) -> float:
        """What the watered part is thought to lack, on average over the members. [mm]"""
        return float(self.reduced.missing_mm().mean())

    @cached_property
    def store_mm(self) -> float:
        """What the watered part holds when full, likewise. [mm]"""
        return float(self.reduced.store_mm().mean())

    @cached_property
    def coming_mm(self) -> float:
        """What timers bring into the watered part today, likewise. [mm]"""
        return float(self.reduced.sky[names.COMING, : self.reduced.steps_a_day].sum(axis=0).mean())


@dataclass(frozen=True)
class Weighed:
    """Acts of one place: ``acts_mm`` (A,), the first of them nothing; ``parts`` (len(PARTS), A, M) of their costs under the best way of
    going on, ``costs`` (A, M) their sums, ``goes_on`` (A,) which way that is; ``plain`` is the act that the plain rule comes to."""

    acts_mm: FloatArray
    parts: FloatArray
    costs: FloatArray
    goes_on: NDArray[np.int64]
    plain: int = 0

    @cached_property
    def mean(self) -> FloatArray:
        """Expected cost of each act. (A,)"""
        return np.asarray(self.costs.mean(axis=1))

    @cached_property
    def best(self) -> int:
        """The act of least expected cost; the plain rule's where no other saves enough to matter."""
        return best_of(self.mean, self.plain)


@dataclass(frozen=True)
class Together:
    """Places that are decided as one: one by itself, or all that share a line and so get the same minutes. Their acts are the same in
    order, act by act; ``shares`` (adding to 1) are what each place's cost counts for, by its ground."""

    boards: tuple[Board, ...]
    weighed: tuple[Weighed, ...]
    shares: tuple[float, ...] = (1.0,)

    @cached_property
    def mean(self) -> FloatArray:
        """Expected cost of each act. (A,)"""
        return np.asarray(np.sum([s * w.mean for s, w in zip(self.shares, self.weighed, strict=True)], axis=0))

    @cached_property
    def plain(self) -> int:
        """The act of the plain rule: as long as the thirstiest place that is due asks for."""
        return max(w.plain for w in self.weighed)

    @cached_property
    def best(self) -> int:
        """The act of least expected cost; the plain rule's where no other saves enough to matter."""
        return best_of(self.mean, self.plain)


def best_of(mean: FloatArray, plain: int = 0) -> int:
    """The least of these, or the plain rule's where that is as good."""
    at = int(np.argmin(mean))
    return at if mean[plain] - mean[at] > TIE else plain


def plain_act(board: Board, acts_mm: FloatArray, missing_mm: float | None = None) -> int:
    """Which of the acts the plain rule comes to on the mean of the members: nothing, or the nearest to filling up what timers leave.

    ``missing_mm``: what the place is thought to lack, when not the mean over the members.
    """
    day = board.reduced.day[0]
    missing = board.missing_mm if missing_mm is None else missing_mm
    store = board.store_mm
    use = float(day[names.EXPECTED_USE]) * float(board.reduced.sky[names.ETO, 0].mean())
    tonight = float(day[names.JUDGE_LATER]) * (use - board.coming_mm)
    if day[names.MAY_WATER] == 0.0 or (missing + tonight) < float(day[names.LIMIT]) * store:
        return 0
    full = max(0.0, missing - board.coming_mm) / float(board.reduced.fix[names.EFFICIENCY])
    return int(np.argmin(np.abs(acts_mm - full)))


class WeatherHere:
    """Members of the weather from today on, as they reach places: worked out once for places that stand alike."""

    def __init__(self, ahead: WeatherMembers) -> None:
        self._ahead = ahead
        self._done: dict[tuple[object, ...], Ahead] = {}

    @property
    def dates(self) -> NDArray[np.datetime64]:
        """The days."""
        return self._ahead.times

    def at(self, place: Place, count: int) -> Ahead:
        """Of one place, for so many members; they go round where they are fewer."""
        key = (place.exposure, place.kind, count)
        if key not in self._done:
            n = len(self._ahead)
            ahead = self._ahead if n == count else self._ahead.pick(np.arange(count) % n)
            self._done[key] = Ahead(*eto_and_rain(place, ahead))
        return self._done[key]


def board_of(
    garden: Garden, belief: Belief, weather: WeatherHere, weights: Weights, advice: Advice | None = None
) -> Board:
    """Lump a place and price what happens there."""
    days, today = belief.days, belief.today
    ahead = weather.at(days.place, belief.now.airless.shape[1])
    if days.paths is not None:  # what single days may differ by goes on
        n, dates = days.steps_a_day, weather.dates
        ahead = Ahead(
            ahead.eto_mm * np.repeat(demand_factor(dates, days.paths), n, axis=0),
            ahead.rain_mm * np.repeat(rain_factor(dates, days.paths), n, axis=0),
        )
    reduced = priced(reduce(days, today, belief.now, ahead), days, today)
    out = runs_out(days.place)
    if out > 0.0:  # of what a pot is given, today and later, that part is not looked for in it
        fix, lane = reduced.fix.copy(), reduced.lane.copy()
        fix[names.EFFICIENCY] *= 1.0 - out
        lane[names.DELIVERY] *= 1.0 - out
        reduced = replace(reduced, fix=fix, lane=lane)
    price = prices(garden, days, reduced, today, weights)
    price = replace(price, leaching=max(price.leaching - out, 0.0))
    if price.leaching > 0.0:  # a full soak, and what the rule gives later, has on top what is to wash the salt down
        fix = reduced.fix.copy()
        fix[names.EFFICIENCY] *= 1.0 - price.leaching
        reduced = replace(reduced, fix=fix)
    return Board(days, today, belief, reduced, price, advice)


def amounts(board: Board) -> FloatArray:
    """Depths over the watered part to look at today, nothing first, rising. [mm]

    Shares of what is missing, and what the plain rule would give. Less than :data:`soakbook.balance.rollout.LEAST_MM` is no act, and
    a place that lacks less than :data:`LEAST_SHARE` of its store is left alone.
    """
    if board.missing_mm < LEAST_SHARE * board.store_mm:
        return np.zeros(1)
    full = board.missing_mm / board.reduced.fix[names.EFFICIENCY]
    depths = [s * full for s in SHARES]
    if board.advice is not None and board.advice.depth_mm > 0.0:
        depths.append(board.advice.depth_mm)
    kept = sorted({round(d, 6) for d in depths if d >= LEAST_MM})
    return np.array([0.0, *kept])


def weigh(
    board: Board, acts_mm: FloatArray, *, ways: Sequence[int] = (0, 1, 2), seen_mm: float | None = None,
    sky: FloatArray | None = None,
) -> Weighed:  # fmt: skip
    """Roll acts forward, each with every way of going on named, and keep the way that is best for each.

    ``seen_mm``: what the place is thought to lack, when not the mean over the members. ``sky``: other weather.
    """
    reduced = board.reduced if sky is None else replace(board.reduced, sky=sky)
    limit = float(reduced.day[:, names.LIMIT].mean())
    patience = np.array([1.0, 1.0 + DRIER * (1.0 - limit) / limit, 1.0])[list(ways)]
    fill = np.array([1.0, 1.0, LEAVE_ROOM])[list(ways)]
    a, w = len(acts_mm), len(ways)
    sums = roll(
        reduced,
        np.repeat(acts_mm, w),
        np.tile(patience, a),
        np.tile(fill, a),
        seen_mm=board.missing_mm if seen_mm is None else seen_mm,
    )
    parts = parts_of(sums, board.price)
    parts = parts.reshape(len(PARTS), a, w, -1)
    costs = parts.sum(axis=0)
    way = costs.mean(axis=2).argmin(axis=1)
    pick = np.arange(a)
    plain = plain_act(board, acts_mm, seen_mm)
    return Weighed(acts_mm, parts[:, pick, way], costs[pick, way], np.asarray(ways)[way], plain)
