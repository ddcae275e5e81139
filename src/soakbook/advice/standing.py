"""Every place as it stands this morning: run up to it, corrected by what was read, and what the plain rule makes of it.

Without readings the rule is checked with the nine what-ifs about the best guess (:mod:`soakbook.advice.members`). With readings
the best guess gives way to the mean of the members weighed by them, and those members take the place of the what-ifs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.belief import Belief, belief_from, mean_members
from soakbook.advice.decide import Advice, Known, advise, run_to
from soakbook.advice.members import nine
from soakbook.advice.start import start_of, unless_it_rains
from soakbook.balance.columns import IntArray, State
from soakbook.balance.layout import Members, best_guess
from soakbook.balance.place import PlaceDays, place_days, with_members
from soakbook.catalog.words import SQUEEZED
from soakbook.garden.model import SQUEEZES, Garden, LogEntry, Place
from soakbook.said import Said, say
from soakbook.weather.series import WeatherSeries

if TYPE_CHECKING:
    from soakbook.advice.plan import Plan
    from soakbook.learning.filter import Learnt

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Standing:
    """A place run to this morning, and its advice before anything is done today. What was read today counts.

    ``advice`` is what is advised: by expected cost where there is a ``plan``, else by the plain rule; ``rule`` is the rule's in
    either case, and ``weather`` what both rest on. ``read`` is today's reading in words, empty without one; ``unread`` is the fraction used this morning as it would be taken without any reading; None where none counts.
    """

    days: PlaceDays
    known: Known
    advice: Advice
    rule: Advice
    belief: Belief
    weather: WeatherSeries
    read: str = ""
    plan: Plan | None = None
    unread: float | None = None

    @property
    def is_read_today(self) -> bool:
        """Whether a reading of today counts in it."""
        return self.belief.is_read_today

    @property
    def moved(self) -> str:
        """By how much readings moved the picture, in words; empty without readings."""
        if self.unread is None:
            return ""
        before, after = 100 * self.unread, 100 * self.rule.used
        if round(before) == round(after):
            return say("the readings bear out what was worked out: {after:.0f} % used", after=after)
        return say("the readings moved it from {before:.0f} % used to {after:.0f} %", before=before, after=after)


def standings_of(
    garden: Garden, weather: WeatherSeries, on: date, log: Sequence[LogEntry] = (), members: Members | None = None
) -> tuple[Standing, ...]:
    """Every place as it stands on the morning of ``on``.

    Parameters
    ----------
    garden, weather, on, log
        As for :func:`soakbook.advice.round.today_round`.
    members
        What-ifs for places without readings; the nine of :mod:`soakbook.advice.members` by default.
    """
    return tuple(standing_of(garden, place, weather, on, log, members) for place in garden.places)


def standing_of(
    garden: Garden, place: Place, weather: WeatherSeries, on: date, log: Sequence[LogEntry] = (),
    members: Members | None = None,
) -> Standing:  # fmt: skip
    """That of one place."""
    start = start_of(garden, place, unless_it_rains(weather, on), on, log)
    days = place_days(garden, place, start.weather, start.log, members or nine(), until=on)
    if start.notes:
        days = replace(days, notes=(*days.notes, *start.notes))
    belief = belief_from(days, start, log, on)
    ahead = start.weather
    if belief.learnt is None:
        known = run_to(days, on)
        rule = advise(known, ahead)
        return Standing(days, known, rule, rule, belief, ahead)
    return _corrected(days, belief, belief.learnt, ahead, on, _said_of(log, place, on))


def _corrected(
    days: PlaceDays, belief: Belief, learnt: Learnt, weather: WeatherSeries, on: date, words: Said | None
) -> Standing:
    """The standing of a place with readings: first the mean of what they leave, in parameters and in what is held this morning;
    then the members of the belief. Its past is run with the mean parameters; what that misses of this morning is told among the
    reasons as what the readings add."""
    from soakbook.learning.filter import pick

    today = belief.today
    mean = mean_members(learnt)
    alone = with_members(days, mean)
    past = alone.run(alone.start(), 0, today)
    picked, _ = pick(learnt, belief.now.water_mm.shape[-1])
    both = with_members(days, _side_by_side(mean, picked))
    end = _states_beside(_mean_state(alone, belief), belief.now)
    known = Known(both, replace(past, end=end), today)
    rule = advise(known, weather, is_read=belief.is_read_today)
    words = words if belief.is_read_today else None
    if words is not None:
        rule = replace(rule, why=say("{why}; {reading}", why=rule.why, reading=words))
    return Standing(both, known, rule, rule, belief, weather, words or "", unread=_unread(days, today))


def _unread(days: PlaceDays, today: int) -> float:
    """The fraction used this morning by the best guess before any reading."""
    best = with_members(days, best_guess())
    held = best.run(best.start(), 0, today, keep=False).end.water_mm[0]
    return float(best.used_fraction(held, today)[0])


def _mean_state(alone: PlaceDays, belief: Belief) -> State:
    """What a place of mean parameters holds when each layer is as full as it is in the members on average."""
    c, each = alone.laid.columns, belief.days.laid.columns
    wp, taw = each.wp_mm[:, None], (each.fc_mm - each.wp_mm)[:, None]
    share = ((belief.now.water_mm - wp) / taw).mean(axis=-1, keepdims=True)
    wp, fc, sat = c.wp_mm[:, None], c.fc_mm[:, None], c.sat_mm[:, None]
    water = np.minimum(wp + share * (fc - wp), sat)
    surface = np.minimum(belief.now.surface_mm.mean(axis=-1, keepdims=True), c.tew_mm[:, None])
    held, saucer, airless = (
        np.ascontiguousarray(v.mean(axis=-1, keepdims=True))
        for v in (belief.now.held_mm, belief.now.saucer_mm, belief.now.airless)
    )
    return State(
        np.ascontiguousarray(water), np.ascontiguousarray(surface), held, saucer, airless, belief.now.area_wet.copy()
    )  # fmt: skip


def _side_by_side(one: Members, other: Members) -> Members:
    """Members of both, in turn."""

    def drainage(members: Members) -> FloatArray:
        return np.zeros(len(members)) if members.drainage_z is None else members.drainage_z

    def paths(members: Members) -> IntArray:
        return np.zeros(len(members), dtype=np.int64) if members.paths is None else members.paths

    def both(first: FloatArray, second: FloatArray) -> FloatArray:
        return np.concatenate([first, second])

    return Members(
        both(one.store_z, other.store_z), both(one.demand, other.demand), both(one.catch, other.catch),
        both(one.delivery, other.delivery), both(drainage(one), drainage(other)),
        np.concatenate([paths(one), paths(other)]),
    )  # fmt: skip


def _states_beside(one: State, other: State) -> State:
    def both(first: FloatArray, second: FloatArray) -> FloatArray:
        return np.ascontiguousarray(np.concatenate([first, second], axis=-1))

    return State(
        both(one.water_mm, other.water_mm), both(one.surface_mm, other.surface_mm), both(one.held_mm, other.held_mm),
        both(one.saucer_mm, other.saucer_mm), both(one.airless, other.airless), one.area_wet.copy(),
    )  # fmt: skip


def _said_of(log: Sequence[LogEntry], place: Place, on: date) -> Said | None:
    """The last reading of today in words; None without one."""
    today = [e for e in log if e.kind == "reading" and e.place == place.name and e.at.date() == on]
    if not today:
        return None
    last = sorted(today, key=lambda e: e.at)[-1]  # of two in one minute the one written down later
    if last.feel is not None:
        return {"dry": say("read dry today"), "moist": say("read moist today"), "wet": say("read wet today")}[last.feel]
    if last.reading == "squeeze" and last.value is not None:
        words, _ = SQUEEZED[SQUEEZES[int(last.value)]]
        return say("a handful squeezed today: {what}", what=words)
    if last.dial is not None:
        return say("the dial stood at {dial:g} today", dial=last.dial)
    return say("read today")
