"""The weeks away: what happens to each place with nobody, with visits, with a timer, with both; what to do before leaving.

Everything is lived through by the members of each place's belief in the members of the weather ahead (:mod:`soakbook.season.away_run`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from soakbook.advice.belief import Belief, believe
from soakbook.advice.decide import HORIZON_DAYS
from soakbook.advice.sky import members_for, weather_for
from soakbook.errors import InputError
from soakbook.garden.model import Garden, LogEntry
from soakbook.said import say
from soakbook.season.away_before import Effect, Ranked, effects_at, ranked
from soakbook.season.away_both import Both, both_of, joined
from soakbook.season.away_days import (
    Kept,
    best_programme,
    best_visits,
    cost_of,
    programme_days,
    round_on,
    run_programme,
)
from soakbook.season.away_lines import by_lines
from soakbook.season.away_list import Visit, day_away, visits_of
from soakbook.season.away_run import Leaving, Outcome, counting, leaving_of
from soakbook.season.away_timer import OnTimer, with_timers
from soakbook.weather.members import WeatherMembers
from soakbook.weather.series import WeatherSeries

#: Days away, and days ahead of them, that can be asked for: after months nothing of this morning's soil is left in the answer.
MOST_DAYS, MOST_AHEAD = 60, 120
#: Odds from which a place is called short of water.
LIKELY = 0.5


@dataclass(frozen=True)
class PlaceAway:
    """A place over the days away. ``short_from`` is the first day on which it is likelier short of water than not, None when there is none.

    ``programme`` comes of ``programme_litres`` given each time, ``timer_now`` of the timer as it is set, ``timer_planned`` of the best it can hold for those days,
    ``both`` of the timer and visits to what it leaves. ``effects`` are what can be done before leaving beside the most of it that was asked for, the best first,
    then the best of them together.
    """

    place: str
    grows: bool
    nobody: Outcome
    short_from: date | None
    visited: Outcome | None
    programme: Outcome | None
    programme_litres: float
    effects: tuple[Effect, ...]
    timer_now: Outcome | None = None
    timer_planned: Outcome | None = None
    both: Outcome | None = None

    @property
    def plain(self) -> Outcome:
        """What becomes of it with the timer and visits, with as much of that as was asked for; measures come beside it."""
        return self.both or self.timer_planned or self.visited or self.nobody


@dataclass(frozen=True)
class Away:
    """The answer for a garden. ``visits`` may be fewer than ``visits_asked`` where more would save nothing. ``weather`` says what the members of the
    weather were made from."""

    garden: str
    invented: bool
    on: date
    first: date
    last: date
    places: tuple[PlaceAway, ...]
    visits_asked: int
    visits: tuple[Visit, ...]
    every: int
    programme_on: tuple[date, ...]
    measures: tuple[Ranked, ...]
    weather: str
    set_now: tuple[OnTimer, ...] = ()
    planned: tuple[OnTimer, ...] = ()
    both: Both | None = None

    @property
    def listed(self) -> tuple[Visit, ...]:
        """The list for whoever comes: with the timer on, where that was asked."""
        return self.both.visits if self.both is not None else self.visits

    @property
    def days(self) -> int:
        """Days away, the first and the last among them."""
        return (self.last - self.first).days + 1

    def lost(self, what: str) -> float | None:
        """Of the garden's harvest, places where something grows counting alike: with ``nobody``, ``visited``, ``programme``, ``timer_now``, ``timer_planned`` or ``both``; None where not
        asked for.
        [hundredths]"""
        found: list[Outcome] = [o for p in self.places if (o := getattr(p, what)) is not None]
        return cost_of(found) if len(found) == len(self.places) else None

    @property
    def prepared(self) -> float:
        """What is lost when at each place all is done that helps there. [hundredths]"""
        return cost_of([_best(p) for p in self.places])


def _best(place: PlaceAway) -> Outcome:
    return min([place.plain, *(e.outcome for e in place.effects)], key=lambda o: o.mean)


def checked_days(on: date, first: date, last: date) -> None:
    """InputError unless the days away lie ahead and are not too many."""
    if first < on:
        raise InputError(
            say("the first day away must not lie before {on} (got {first}).", on=on, first=first),
            code="away.past", field="from", hint=say("Give the day to answer for as well, if it is not today."),
        )  # fmt: skip
    days = (last - first).days + 1
    if not 1 <= days <= MOST_DAYS:
        raise InputError(
            say("the last day away must be the first or up to {most} days on (got {first} to {last}).", most=MOST_DAYS - 1, first=first, last=last),
            code="away.days", field="until", hint=say("For a longer absence ask for its first weeks."),
        )  # fmt: skip
    if (first - on).days > MOST_AHEAD:
        raise InputError(
            say("the first day away must lie within {most} days (got {first}).", most=MOST_AHEAD, first=first),
            code="away.far", field="from", hint=say("Ask again nearer to the day: the soil of today tells nothing about it yet."),
        )  # fmt: skip


def sky_for(
    garden: Garden, log: Sequence[LogEntry], on: date, last: date, *, folder: Path | None = None
) -> tuple[WeatherSeries, WeatherMembers]:
    """Weather up to ``on`` and on to ``last``, and the members of what may come: forecast, then past years and made weather."""
    ahead_days = (last - on).days + 1
    weather = weather_for(garden, on, log, folder=folder, ahead_days=max(HORIZON_DAYS, ahead_days))
    return weather, members_for(garden, weather, on, folder=folder, days=ahead_days)


def plan_away(
    garden: Garden, log: Sequence[LogEntry], weather: WeatherSeries, ahead: WeatherMembers, on: date, first: date, last: date, *,
    visits: int = 0, every: int = 0, litres: Mapping[str, float] | None = None, timer: bool = False, beliefs: Sequence[Belief] | None = None,
) -> Away:  # fmt: skip
    """What happens in the days away, and what helps.

    Parameters
    ----------
    garden, log
        The garden and all its entries.
    weather, ahead
        Of :func:`sky_for`, from before ``on`` to ``last``.
    on
        Today: what is held of each place is of this morning; until ``first`` it is watered by the rule.
    first, last
        The first and the last day on which nobody is there, both away in full.
    visits
        How often somebody could come; the days are chosen.
    every
        Days from one run of a programme to the next, 0 for none.
    litres
        What the programme gives each place each time; the best of some amounts where a place is not named. [L]
    timer
        Whether the timers are looked at too: as they are set now, as they are best set for the days away, and with the visits going to what they leave.
    beliefs
        What is held of each place this morning, where it is at hand.

    Returns
    -------
    Away

    Raises
    ------
    InputError
        Days in the past, too many or too far ahead; a garden without places, or without one that a timer could water where that is asked.
    """
    checked_days(on, first, last)
    if not garden.places:
        raise InputError(say("the garden has no places."), code="away.empty", field="places")
    if beliefs is None:
        beliefs = [believe(garden, place, weather, log, on) for place in garden.places]
    places = [leaving_of(garden, b, weather, log, ahead, on, first, last) for b in beliefs]
    kept = Kept()
    alone = round_on(places, (), kept)
    coming = best_visits(places, visits, kept) if visits else None
    visited: Sequence[Leaving] = places
    if coming is not None:
        visited, coming = by_lines(garden, places, coming)
    span = ahead.between(np.datetime64(first), np.datetime64(last))
    now, best = with_timers(garden, places, alone.outcomes, weather, ahead, first, last) if timer else (None, None)
    with_both = joined(now, best, coming, visited, visits, kept) if best is not None and coming is not None else None
    if with_both is not None:
        there, together = by_lines(garden, with_both.places, with_both.round)
        with_both = replace(with_both, places=there, round=together)
    days = with_both.round.days if with_both else coming.days if coming and not best else ()
    beside = with_both.places if with_both else best.places if best else visited
    out = []
    for k, place in enumerate(places):
        given = (litres or {}).get(place.place.name)
        programme = _programme(place, every, given) if every else None
        one = PlaceAway(
            place=place.place.name, grows=bool(place.grows.any()), nobody=alone.outcomes[k],
            short_from=_short_from(place, alone.outcomes[k]), visited=coming.outcomes[k] if coming else None,
            programme=programme[1] if programme else None, programme_litres=programme[0] if programme else 0.0, effects=(),
            timer_now=now.outcomes[k] if now else None, timer_planned=best.outcomes[k] if best else None,
            both=with_both.round.outcomes[k] if with_both else None,
        )  # fmt: skip
        out.append(replace(one, effects=tuple(effects_at(beside[k], span, one.plain, days))))
    return Away(
        garden.name, garden.invented, on, first, last, tuple(out), visits,
        visits_of(garden, visited, coming, span) if coming else (), every,
        tuple(first + timedelta(days=d) for d in programme_days(places[0].count, every)) if every else (),
        ranked([e for p in out for e in p.effects], len(counting([p.nobody for p in out]))), ahead.source, now.timers if now else (), best.timers if best else (),
        both_of(with_both, visits_of(garden, with_both.places, with_both.round, span), best, now, coming) if with_both and best and coming else None,
    )  # fmt: skip


def _programme(place: Leaving, every: int, litres: float | None) -> tuple[float, Outcome]:
    return best_programme(place, every) if litres is None else (litres, run_programme(place, every, litres))


def _short_from(place: Leaving, outcome: Outcome) -> date | None:
    likely = outcome.short_odds >= LIKELY
    return day_away(place, int(np.argmax(likely))) if bool(likely.any()) else None
