"""What a reading is worth before it is taken.

A finger or probe at the usual depth tells dry, moist or wet, with an error. Each answer changes how likely the members are and what
the place is thought to lack; the act that is then best is rolled forward anew. What a reading saves is the cost without it less
the costs with each answer, weighed by how likely the answers are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.decide import probe_depth_m
from soakbook.advice.weigh import Board, Together, best_of, weigh
from soakbook.learning.normal import normal_cdf

if TYPE_CHECKING:
    from soakbook.advice.plan import Plan

FloatArray = NDArray[np.float64]

DRY, MOIST, WET = range(3)
#: Where dry ends and wet begins, as parts of the available water (the feel method's quarter and three quarters), and the error of one
#: feel with its texture's spread. Judged, as in :mod:`soakbook.learning.observe`.
CUTS, ERROR = (0.25, 0.75), 0.2
#: Answers less likely than this are not looked into.
RARE = 0.03
#: Members that differ by no more than this in what they lack are not worth telling apart. [mm over the watered part]
ALIKE_MM = 1.5
#: Amounts closer than this are the same act.
SAME_SHARE = 0.25


@dataclass(frozen=True)
class Answers:
    """What each answer would come to: its ``odds`` (3,), the best act then ``acts_mm`` (3,) (as without a reading where the answer is
    rare), and ``worth``, what asking saves; 0 where no answer would change the act."""

    odds: FloatArray
    acts_mm: FloatArray
    worth: float


def wetness_there(board: Board) -> FloatArray:
    """Available water at the probe's depth in the watered part, 0 at the wilting point and 1 at field capacity, per member."""
    days = board.days
    depth = probe_depth_m(days, board.today)
    edges = days.laid.edges_m
    layer = int(np.clip(np.searchsorted(edges, depth, side="left") - 1, 0, len(edges) - 2))
    c = days.laid.columns
    wp, fc = c.wp_mm[0, layer], c.fc_mm[0, layer]
    return np.asarray((board.belief.now.water_mm[0, 0, layer] - wp) / (fc - wp))


def chances(wetness: FloatArray) -> FloatArray:
    """How likely each member is felt dry, moist and wet, (3, M)."""
    low, high = (normal_cdf((cut - wetness) / ERROR) for cut in CUTS)
    return np.stack([low, high - low, 1.0 - high])


def answers(together: Together, which: int = 0) -> Answers:
    """What a reading today of one of the places could tell and what it would save there: on a line the minutes of all hang on it."""
    board, weighed, share = together.boards[which], together.weighed[which], together.shares[which]
    best, rest = together.best, together.mean - share * weighed.mean
    same = Answers(np.array([0.0, 1.0, 0.0]), np.full(3, weighed.acts_mm[best]), 0.0)
    missing = board.reduced.missing_mm()
    if float(missing.std()) < ALIKE_MM or len(weighed.acts_mm) < 2:
        return same
    chance = chances(wetness_there(board))
    odds = chance.mean(axis=1)
    way = (int(weighed.goes_on[best]),)
    cost, acts = 0.0, np.full(3, weighed.acts_mm[best])
    for told in (DRY, MOIST, WET):
        if odds[told] < RARE:
            cost += share * float(np.mean(chance[told] * weighed.costs[best])) + float(odds[told] * rest[best])
            continue
        likely = chance[told] / chance[told].sum()
        then = weigh(board, weighed.acts_mm, ways=way, seen_mm=float(likely @ missing))
        mean = share * (then.costs @ likely) + rest
        others = [w.plain for k, w in enumerate(together.weighed) if k != which]
        chosen = best_of(mean, max(then.plain, *others) if others else then.plain)
        acts[told] = weighed.acts_mm[chosen]
        cost += float(odds[told] * mean[chosen])
    if all(is_same_act(a, acts[MOIST]) for a in acts[odds >= RARE]):
        return Answers(odds, acts, 0.0)
    return Answers(odds, acts, max(0.0, (float(together.mean[best]) - cost) / share))


def is_same_act(one_mm: float, other_mm: float) -> bool:
    """Whether two amounts come to the same: both nothing, or within a quarter of each other."""
    if min(one_mm, other_mm) <= 0.0:
        return max(one_mm, other_mm) <= 0.0
    return abs(one_mm - other_mm) <= SAME_SHARE * max(one_mm, other_mm)


def which_to_probe(plans: Sequence[Plan]) -> str | None:
    """The place to probe when there is time for one; None where no reading could save anything."""
    best = max(plans, key=lambda plan: plan.reading_worth, default=None)
    return best.place if best is not None and best.reading_worth > 0.0 else None
