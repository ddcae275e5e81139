"""The timer on its lines, and somebody who comes for what it does not water, or waters too little."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from soakbook.season.away_before import SMALL
from soakbook.season.away_days import NO_MATTER, Kept, Round, best_visits, cost_of
from soakbook.season.away_list import Visit
from soakbook.season.away_run import Leaving, Outcome, counting
from soakbook.season.away_timer import OnTimer, WithTimer

FloatArray = NDArray[np.float64]

#: Nobody is sent with cans to a place on a timer to save less than this there. Judged: some cans each time for a hundredth of a bed. [hundredths of the harvest]
ENOUGH = 1.0


@dataclass(frozen=True)
class Joined:
    """Visits planned over what the timer leaves. ``setting`` says what the timer is on: ``"planned"`` for those days, ``"now"`` as it is set, or
    ``"off"``; ``places`` have their timers on, with ``by_hand`` False where the timer does alone."""

    setting: Literal["planned", "now", "off"]
    timers: tuple[OnTimer, ...]
    places: tuple[Leaving, ...]
    round: Round


@dataclass(frozen=True)
class Both:
    """The answer with the timer and visits. ``alone`` names the places that the timer waters enough, which nobody else waters; ``visits`` is the list for
    the others. ``saved_on_timer`` and ``saved_on_visits`` (M,) are what less is lost than with either alone, of the garden's harvest with
    places counting alike [hundredths]; ``brought_litres`` and ``brought_alone_litres`` what is brought by hand, and would be without the timer [L]."""

    setting: Literal["planned", "now", "off"]
    timers: tuple[OnTimer, ...]
    alone: tuple[str, ...]
    visits: tuple[Visit, ...]
    saved_on_timer: FloatArray
    saved_on_visits: FloatArray
    brought_litres: float
    brought_alone_litres: float


def joined(
    now: WithTimer | None,
    planned: WithTimer,
    coming: Round,
    bare: Sequence[Leaving],
    visits: int,
    kept: Kept | None = None,
) -> Joined:
    """The timer and up to so many visits.

    The visits are planned as without a timer (:func:`soakbook.season.away_days.best_visits`), over places whose timer runs. A place on a timer that they
    would save less than :data:`ENOUGH` is left to it, and the days are planned anew for the others, until none is left to leave; all are visited where
    leaving them costs more than :data:`SMALL` in all beyond the visits alone. What is set now is kept where it does as well as what is planned. Where the
    visits alone still save more (a timer that drowns what rain has watered) the timer is off.

    Parameters
    ----------
    now, planned
        The timers as they are set (None where that is not known), and set for the days away.
    coming, bare
        The visits without a timer, and the places they go to.
    visits
        How often somebody could come.
    kept
        What was lived through already.
    """
    keep = now is not None and cost_of(now.outcomes) <= cost_of(planned.outcomes) + NO_MATTER
    on = now if keep and now is not None else planned
    kept = kept if kept is not None else Kept()
    to_all = best_visits(on.places, visits, kept)
    for places, found in (_left_to_the_timer(on, to_all, visits, kept), (on.places, to_all)):
        if found.cost <= coming.cost + SMALL:
            return Joined("now" if keep else "planned", on.timers, places, found)
    return Joined("off", (), tuple(bare), coming)


def _left_to_the_timer(on: WithTimer, to_all: Round, visits: int, kept: Kept) -> tuple[tuple[Leaving, ...], Round]:
    """The places with those left to the timer that visits would help little, and the visits to the others."""
    places, found = on.places, to_all
    while True:
        spared = tuple(
            replace(place, by_hand=False) if _does_alone(place, without, with_visits) else place
            for place, without, with_visits in zip(places, on.outcomes, found.outcomes, strict=True)
        )
        if all(a is b for a, b in zip(spared, places, strict=True)):
            return places, found
        places, found = spared, best_visits(spared, visits, kept)


def _does_alone(place: Leaving, without: Outcome, with_visits: Outcome) -> bool:
    return place.timer_mm is not None and place.by_hand and without.mean - with_visits.mean < ENOUGH


def both_of(made: Joined, listed: tuple[Visit, ...], planned: WithTimer, now: WithTimer | None, coming: Round) -> Both:
    """What the timer and visits save, against the timer alone (the better of its settings) and against the visits alone."""
    timer = now if made.setting == "now" and now is not None else planned
    mine = _lost(made.round.outcomes)
    return Both(
        made.setting, made.timers,
        tuple(p.place.name for p in made.places if p.timer_mm is not None and not p.by_hand), listed,
        _lost(timer.outcomes) - mine, _lost(coming.outcomes) - mine, _brought(made.round), _brought(coming),
    )  # fmt: skip


def _lost(outcomes: Sequence[Outcome]) -> FloatArray:
    """The garden's loss by member, places counting alike. (M,) [hundredths]"""
    return np.asarray(np.mean([o.loss for o in counting(outcomes)], axis=0))


def _brought(coming: Round) -> float:
    return math.fsum(float(o.brought.sum()) for o in coming.outcomes)
