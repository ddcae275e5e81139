"""The one thing that would turn the advice round: rain on a named day, or how the soil feels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.costs import with_owed
from soakbook.advice.weigh import Board, Together, weigh
from soakbook.advice.worth import DRY, RARE, WET, Answers
from soakbook.balance import columns as full
from soakbook.balance import rollout_names as names
from soakbook.balance.crops import ESTABLISHING, SEEDBED
from soakbook.balance.rollout import with_rain_by_night
from soakbook.balance.wander import rain_factor
from soakbook.physics import covers

FloatArray = NDArray[np.float64]

#: Days whose rain may turn the advice round, and the most that is looked at. [mm]
NEAR_DAYS, MOST_RAIN_MM = 4, 30.0
#: Days on which forecast rain is waited for: without rain on them the advice may be another.
RAIN_DAYS = 3
#: Rain is waited for where at least this share of the members brings, on those days, this part of what is missing. Judged.
LIKELY, BRINGS = 0.5, 0.5
#: How finely the turning point is found. [mm]
FINE_MM = 1.0
#: Acts looked at besides nothing, as shares of the largest.
FEW = (0.3, 0.55, 0.8, 1.0)


@dataclass(frozen=True)
class RainTurn:
    """The advice turns round at ``rain_mm`` on the day so many days from today: with less it is to water, with more to leave."""

    days_on: int
    rain_mm: float


@dataclass(frozen=True)
class FeelTurn:
    """It turns round where the soil feels dry (it is then to water) or wet (then to leave)."""

    is_dry: bool


def turn(together: Together, told: Answers) -> RainTurn | FeelTurn | None:
    """What would turn the advice round soonest: rain where it can, else the feel of the soil that ``told`` is of."""
    waters = together.best > 0
    by_rain = _rain_turn(together, waters)
    if by_rain is not None:
        return by_rain
    if waters and told.odds[WET] >= RARE and told.acts_mm[WET] <= 0.0:
        return FeelTurn(is_dry=False)
    if not waters and told.odds[DRY] >= RARE and told.acts_mm[DRY] > 0.0:
        return FeelTurn(is_dry=True)
    return None


def rain_does_it(together: Together, which: int = 0) -> bool:
    """Whether nothing is best because rain is likely at one of the places within :data:`RAIN_DAYS`: without it, watering would be."""
    board = together.boards[which]
    near = _rain(board.reduced.sky)[: RAIN_DAYS * board.reduced.steps_a_day].sum(axis=0)
    return float(np.mean(near >= BRINGS * board.missing_mm)) >= LIKELY and _waters(together, _without_rain)


def _without_rain(board: Board) -> FloatArray:
    sky = board.reduced.sky.copy()
    steps = RAIN_DAYS * board.reduced.steps_a_day
    sky[names.RAIN, :steps] = sky[names.COMING, :steps]
    sky[names.RAIN_REST, :steps] = 0.0
    return with_rain_by_night(sky, board.reduced.steps_a_day)


def _rain(sky: FloatArray) -> FloatArray:
    """Rain alone, without what timers run. (T, M)"""
    return np.asarray(sky[names.RAIN] - sky[names.COMING])


def _waters(together: Together, sky_of: Callable[[Board], FloatArray]) -> bool:
    """Whether it would be best to water under another sky; a few acts tell."""
    weighed = []
    for board, before in zip(together.boards, together.weighed, strict=True):
        acts = np.array([0.0, *(share * float(before.acts_mm[-1]) for share in FEW)])
        other = replace(board.reduced, sky=sky_of(board))
        there = replace(board, reduced=other, price=with_owed(board.price, other))
        weighed.append(weigh(there, acts, ways=(int(before.goes_on[together.best]),)))
    return replace(together, weighed=tuple(weighed)).best > 0


def _rain_turn(together: Together, waters: bool) -> RainTurn | None:
    """The day among the next that brings most rain, and the rain at which it turns; None where it does not.

    None also where the advice hangs on how unsure the rain is rather than on its amount: watering is advised though more than
    the turning point is expected, or the other way round; and where seeds or fresh transplants are due, which cannot wait for another day.
    """
    board = together.boards[0]
    reduced, sub = board.reduced, board.reduced.steps_a_day
    reaches = _reaches(board)
    if reaches <= 0.0 or together.weighed[0].acts_mm[-1] <= 0.0:
        return None
    near = _rain(reduced.sky)[: NEAR_DAYS * sub].mean(axis=1)
    by_day = near.reshape(-1, sub).sum(axis=1)
    day = int(np.argmax(by_day)) if by_day.max() > 0.5 else min(1, reduced.days - 1)
    if (
        day > 0
        and waters
        and any(one.days.crops.phase[one.today] in (SEEDBED, ESTABLISHING) for one in together.boards)
    ):
        return None
    low, high = 0.0, MOST_RAIN_MM
    if not _waters(together, partial(_with_rain, day=day, rain_mm=low)):
        return None
    if _waters(together, partial(_with_rain, day=day, rain_mm=high)):
        return None
    while high - low > FINE_MM:
        middle = 0.5 * (low + high)
        if _waters(together, partial(_with_rain, day=day, rain_mm=middle)):
            low = middle
        else:
            high = middle
    middle = 0.5 * (low + high)
    expected = float(by_day[day]) / reaches
    return RainTurn(day, round(middle)) if waters == (expected < middle) else None


def _reaches(board: Board) -> float:
    """Part of the rain that reaches the place."""
    exposure = board.days.place.exposure
    return float(covers.rain_under_cover(np.ones(1), exposure.cover, exposure.rain_fraction)[0])


def _with_rain(board: Board, day: int, rain_mm: float) -> FloatArray:
    """The weather with so much rain on a day in the open; what the spot gets of it is off in each member as on any day."""
    reduced, sub = board.reduced, board.reduced.steps_a_day
    days = board.days
    c = days.laid.columns
    sky = reduced.sky.copy()
    on = days.days[board.today + day]
    off = 1.0 if days.paths is None else rain_factor(np.array([on]), days.paths)[0]
    caught = np.maximum(_reaches(board) * rain_mm * off * c.catch[0] - c.fixed[0, full.HOLD], 0.0)
    at = slice(day * sub, (day + 1) * sub)
    sky[names.RAIN, at] = sky[names.COMING, at]
    sky[names.RAIN, (day + 1) * sub - 1] += caught
    if reduced.feet == 2:
        sky[names.RAIN_REST, at] = _rain(sky)[at]
    return with_rain_by_night(sky, sub)
