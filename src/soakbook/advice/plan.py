"""Advice by expected cost: acts rolled forward over everything that may be, and the one that costs least on average.

For every place a dozen amounts (nothing among them) are given today and the plain rule goes on after that, in one of three
ways, for 16 days over all members of what is held and of the weather. Places on one line are decided together, by the minute.
Every part of the cost is summed by itself, so that the reasons add up to the number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.belief import Belief
from soakbook.advice.costs import CAUSES, PARTS, Weights
from soakbook.advice.decide import TOO_WET, Advice, Verdict, probe_depth_m
from soakbook.advice.flip import rain_does_it, turn
from soakbook.advice.plan_words import differs_text, turn_text
from soakbook.advice.weigh import Board, Together, WeatherHere, Weighed, amounts, board_of, weigh
from soakbook.advice.worth import DRY, Answers, answers, is_same_act
from soakbook.balance import rollout_names as names
from soakbook.balance.crops import NONE
from soakbook.balance.rollout import LEAST_MM
from soakbook.garden.log import flow_lph
from soakbook.garden.model import Garden
from soakbook.said import say
from soakbook.weather.members import WeatherMembers

FloatArray = NDArray[np.float64]

__all__ = ["Alone", "Flip", "Part", "Plan", "Weights", "plan_round", "weights_of"]

#: What a reading must save before the advice is to probe first: about a walk. Judged. [hundredths of the harvest]
PROBE_WALK = 0.15
#: Parts smaller than this are told together.
SMALL = 0.005
#: Minutes looked at for a line, as shares of what its thirstiest place would want.
MINUTES = (0.12, 0.25, 0.4, 0.55, 0.7, 0.85, 1.0, 1.15, 1.3, 1.5)


@dataclass(frozen=True)
class Part:
    """A part of a cost. [hundredths of the place's harvest]"""

    cause: str
    cost: float


@dataclass(frozen=True)
class Flip:
    """The one thing that would turn the advice round, in words."""

    text: str


@dataclass(frozen=True)
class Alone:
    """What a place would take today if its line were its own, over the whole place, and what sharing the line costs it. [hundredths of its harvest]"""

    litres: float
    cost_of_sharing: float


@dataclass(frozen=True)
class Plan:
    """What to do at a place today, and what it is expected to cost.

    ``litres`` over the whole place, ``depth_mm`` over its wetted part; with the verdict *probe first* they are what to give where it
    is found dry. ``parts`` add up to ``cost``, that of the act (of doing nothing, for *probe first*); ``saved`` to the cost of doing
    nothing today less ``cost``. ``reading_worth`` is what a reading today would save, 0 where none could change the act.
    ``unread_mm`` is the depth that is best where nobody reads: that of the act, and with *probe first* what to give without a probe.
    ``acts_mm`` (A,) are the depths today that were looked at, ``costs`` (A, M) what each costs each member. ``alone`` is set where a
    line is shared. Costs are hundredths of the place's harvest.
    """

    place: str
    on: date
    verdict: Verdict
    litres: float
    depth_mm: float
    cost: float
    parts: tuple[Part, ...]
    saved: tuple[Part, ...]
    flip: Flip | None
    reading_worth: float
    differs: str
    acts_mm: FloatArray
    costs: FloatArray
    unread_mm: float = 0.0
    alone: Alone | None = None


@dataclass(frozen=True)
class _Choice:
    """What was decided for a place, by itself or with all on its line, and which of them it is."""

    together: Together
    which: int = 0

    @property
    def board(self) -> Board:
        """The place's own board."""
        return self.together.boards[self.which]

    @property
    def weighed(self) -> Weighed:
        """Its own costs."""
        return self.together.weighed[self.which]

    @property
    def is_shared(self) -> bool:
        """Whether a line decided it."""
        return len(self.together.boards) > 1


def weights_of(garden: Garden) -> Weights:
    """The grower's wishes as weights."""
    wishes = garden.wishes
    return Weights(wishes.spare_water, wishes.spare_time, wishes.best_crop)


def plan_round(
    garden: Garden,
    beliefs: Sequence[Belief],
    ahead: WeatherMembers,
    on: date,
    weights: Weights | None = None,
    *,
    advices: Sequence[Advice] = (),
    reasons: bool = True,
) -> tuple[Plan, ...]:
    """The plan of every place of a round.

    Parameters
    ----------
    garden
        The garden; its wishes are the weights where none are given.
    beliefs
        What is held of each place this morning, in the order of ``advices``.
    ahead
        Members of the weather from ``on`` (or earlier) to some 16 days on.
    on
        The day.
    weights
        What matters to the grower.
    advices
        What the plain rule advises for each place: looked at as acts too, and compared with.
    reasons
        Whether to look for what would turn the advice round and to say why it differs. Without it a plan takes about half the
        time.

    Returns
    -------
    tuple[Plan, ...]
    """
    weights = weights_of(garden) if weights is None else weights
    ahead = ahead.between(np.datetime64(on, "D"), ahead.times[-1])
    rules: Sequence[Advice | None] = advices if advices else [None] * len(beliefs)
    here = WeatherHere(ahead)
    boards = [board_of(garden, b, here, weights, a) for b, a in zip(beliefs, rules, strict=True)]
    choices: dict[int, _Choice] = {}
    for group in _lines(garden, boards):
        line = _together(garden, [boards[i] for i in group])
        choices.update({i: _Choice(line, k) for k, i in enumerate(group)})
    for i, board in enumerate(boards):
        if i not in choices:
            choices[i] = _Choice(Together((board,), (weigh(board, amounts(board)),)))
    return tuple(_plan(choices[i], on, reasons) for i in range(len(boards)))


def _lines(garden: Garden, boards: Sequence[Board]) -> list[list[int]]:
    """Places that share a line whose flow to each is known: they get water together or not at all."""
    by_line: dict[str, list[int]] = {}
    for i, board in enumerate(boards):
        place = board.days.place
        if place.line and flow_lph(place, garden):
            by_line.setdefault(place.line, []).append(i)
    return [group for group in by_line.values() if len(group) > 1]


def _together(garden: Garden, boards: Sequence[Board]) -> Together:
    """Places on a line, by the minute; each counts by its ground, and the walk to the tap is shared."""
    mine = [replace(b, price=replace(b.price, per_visit=b.price.per_visit / len(boards))) for b in boards]
    rates = [_mm_per_minute(garden, board) for board in mine]
    wants = max(
        b.missing_mm / float(b.reduced.fix[names.EFFICIENCY]) / rate for b, rate in zip(mine, rates, strict=True)
    )
    minutes = np.array([0.0, *(share * wants for share in MINUTES if min(rates) * share * wants >= 0.2 * LEAST_MM)])
    weighed = tuple(weigh(board, minutes * rate) for board, rate in zip(mine, rates, strict=True))
    ground = np.array([b.days.laid.ground_m2 for b in mine])
    return Together(tuple(mine), weighed, tuple((ground / ground.sum()).tolist()))


def _mm_per_minute(garden: Garden, board: Board) -> float:
    flow = flow_lph(board.days.place, garden)
    assert flow is not None
    return board.days.depth_mm(flow / 60.0, board.today)


def _plan(choice: _Choice, on: date, reasons: bool) -> Plan:
    board, weighed, act = choice.board, choice.weighed, choice.together.best
    days, today = board.days, board.today
    grows = int(days.crops.phase[today]) != NONE
    if not grows:
        act = 0
    asks = grows and not board.belief.is_read_today  # nobody is sent twice on a day
    told = answers(choice.together, choice.which) if asks else _nothing_told(weighed, act)
    verdict = _verdict(choice, act, told, grows)
    depth = _if_dry(weighed, told, act) if verdict == "probe first" else float(weighed.acts_mm[act])
    done = 0 if verdict == "probe first" else act
    mean = weighed.parts.mean(axis=2)
    parts = _told(mean[:, done])
    litres = days.litres(depth, today)
    flip = differs = None
    if reasons and grows:
        found = turn(choice.together, told)
        if found is not None and verdict != "probe first":
            flip = Flip(turn_text(found, act > 0, on, probe_depth_m(days, today)))
        if board.advice is not None:
            differs = differs_text(board.advice, verdict, litres, _over_rule(board, weighed, done))
    return Plan(
        place=days.place.name, on=on, verdict=verdict, litres=litres, depth_mm=depth,
        cost=float(sum(p.cost for p in parts)), parts=parts, saved=_told(mean[:, 0] - mean[:, done]), flip=flip,
        reading_worth=told.worth, differs=differs or "", acts_mm=weighed.acts_mm, costs=weighed.costs,
        unread_mm=float(weighed.acts_mm[act]), alone=_alone(choice, act, reasons) if grows else None,
    )  # fmt: skip


def _alone(choice: _Choice, act: int, reasons: bool) -> Alone | None:
    """What this place would pick by itself; without reasons, of the acts looked at for the line."""
    if not choice.is_shared:
        return None
    board, line = choice.board, choice.weighed
    own = weigh(board, amounts(board)) if reasons else line
    cost = float(line.mean[act] - own.mean[own.best])
    return Alone(board.days.litres(float(own.acts_mm[own.best]), board.today), max(cost, 0.0))


def _nothing_told(weighed: Weighed, act: int) -> Answers:
    return Answers(np.array([0.0, 1.0, 0.0]), np.full(3, weighed.acts_mm[act]), 0.0)


def _verdict(choice: _Choice, act: int, told: Answers, grows: bool) -> Verdict:
    """What to do in a word. A line is not held up for a reading of one of its places, but the reading's worth is told."""
    board, weighed = choice.board, choice.weighed
    if not grows:
        return "hold"
    if act == 0 and float(board.reduced.held[names.AIRLESS].mean()) > TOO_WET:
        return "let drain"
    if not choice.is_shared and told.worth > PROBE_WALK and _turns(told):
        return "probe first"
    if act > 0:
        return "soak"
    if len(weighed.acts_mm) > 1 and rain_does_it(choice.together, choice.which):
        return "rain will do"
    return "hold"


def _turns(told: Answers) -> bool:
    """Whether answers differ in watering at all, not only in how much."""
    return bool(np.any(told.acts_mm > 0.0)) and bool(np.any(told.acts_mm <= 0.0))


def _if_dry(weighed: Weighed, told: Answers, act: int) -> float:
    return float(max(told.acts_mm[DRY], weighed.acts_mm[act]))


def _told(costs: FloatArray) -> tuple[Part, ...]:
    """Parts by cause; those too small to tell are put together, so that the sum is exact."""
    told = [Part(CAUSES[name], float(c)) for name, c in zip(PARTS, costs, strict=True) if abs(c) >= SMALL]
    rest = float(sum(c for c in costs if abs(c) < SMALL))
    return (*told, Part(say("smaller parts"), rest)) if rest != 0.0 else tuple(told)


def _over_rule(board: Board, weighed: Weighed, done: int) -> FloatArray | None:
    """What the plain rule's act would cost beyond this one, by part; None where it was not looked at."""
    assert board.advice is not None
    depth = board.advice.depth_mm if board.advice.verdict == "soak" else 0.0
    at = int(np.argmin(np.abs(weighed.acts_mm - depth)))
    if not is_same_act(float(weighed.acts_mm[at]), depth):
        return None
    mean = weighed.parts.mean(axis=2)
    return np.asarray(mean[:, at] - mean[:, done])
