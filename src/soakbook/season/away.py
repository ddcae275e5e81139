"""The weeks away: what happens to each place with nobody, with visits, with a programme left running; what to do before leaving.

Everything is lived through by the members of each place's belief in the members of the weather ahead (:mod:`soakbook.season.away_run`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from soakbook.advice.belief import Belief, believe
from soakbook.advice.decide import HORIZON_DAYS, Advice, limits, probe_depth_m
from soakbook.advice.job import Job, make_job
from soakbook.advice.sky import members_for, weather_for
from soakbook.errors import InputError
from soakbook.garden.model import Garden, LogEntry
from soakbook.physics.covers import rain_under_cover
from soakbook.said import say
from soakbook.season.away_before import Effect, Ranked, effects_at, ranked
from soakbook.season.away_days import best_programme, best_visits, programme_days, round_on, run_programme
from soakbook.season.away_run import Leaving, Outcome, leaving_of
from soakbook.season.away_timer import OnTimer, with_timers
from soakbook.weather.members import WeatherMembers
from soakbook.weather.series import EXPECTED, WeatherSeries

if TYPE_CHECKING:
    from soakbook.season.away_days import Round

#: Days away, and days ahead of them, that can be asked for: after months nothing of this morning's soil is left in the answer.
MOST_DAYS, MOST_AHEAD = 60, 120
#: Odds from which a place is called short of water.
LIKELY = 0.5
#: A helper goes by the gauge on a bed that rain reaches by at least this part.
RAIN_REACHES = 0.2


@dataclass(frozen=True)
class Gift:
    """What a visit gives a place: ``job`` has it in the grower's measures; ``gauge_mm`` is the rain since the visit before (or since leaving) after
    which it can be left out, None where none reaches it."""

    place: str
    litres: float
    job: Job
    gauge_mm: float | None


@dataclass(frozen=True)
class Visit:
    """A day on which somebody comes, and what the places get, in walking order; places that get nothing are left out."""

    on: date
    gifts: tuple[Gift, ...]


@dataclass(frozen=True)
class PlaceAway:
    """A place over the days away. ``short_from`` is the first day on which it is likelier short of water than not, None when there is none.

    ``programme`` comes of ``programme_litres`` given each time, ``timer_now`` of the timer as it is set, ``timer_planned`` of the best it can hold for those days. ``effects`` are what can be done before leaving, the best first, then the best of them together.
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

    @property
    def days(self) -> int:
        """Days away, the first and the last among them."""
        return (self.last - self.first).days + 1

    def lost(self, what: str) -> float | None:
        """Of the garden's harvest, places counting alike: with ``nobody``, ``visited``, ``programme``, ``timer_now`` or ``timer_planned``; None where not asked for.
        [hundredths]"""
        found = [getattr(p, what) for p in self.places]
        return None if any(o is None for o in found) else math.fsum(o.mean for o in found) / len(found)

    @property
    def prepared(self) -> float:
        """What is lost when at each place all is done that helps there. [hundredths]"""
        return math.fsum(_best(p).mean for p in self.places) / len(self.places)


def _best(place: PlaceAway) -> Outcome:
    plain = place.visited or place.nobody
    return min([plain, *(e.outcome for e in place.effects)], key=lambda o: o.mean)


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
        Whether the timers are looked at too: as they are set now, and as they are best set for the days away.
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
    alone = round_on(places, ())
    coming = best_visits(places, visits) if visits else None
    plain = coming or alone
    span = ahead.between(np.datetime64(first), np.datetime64(last))
    now, best = with_timers(garden, places, alone.outcomes, weather, ahead, first, last) if timer else (None, None)
    out = []
    for k, place in enumerate(places):
        given = (litres or {}).get(place.place.name)
        programme = _programme(place, every, given) if every else None
        out.append(
            PlaceAway(
                place=place.place.name, grows=bool(place.grows.any()), nobody=alone.outcomes[k],
                short_from=_short_from(place, alone.outcomes[k]), visited=coming.outcomes[k] if coming else None,
                programme=programme[1] if programme else None, programme_litres=programme[0] if programme else 0.0,
                effects=tuple(effects_at(place, span, plain.outcomes[k], plain.days)),
                timer_now=now.outcomes[k] if now else None, timer_planned=best.outcomes[k] if best else None,
            )
        )  # fmt: skip
    return Away(
        garden.name, garden.invented, on, first, last, tuple(out), visits,
        _visits(garden, places, coming, span) if coming else (), every,
        tuple(first + timedelta(days=d) for d in programme_days(places[0].count, every)) if every else (),
        ranked([e for p in out for e in p.effects], len(out)), ahead.source, now.timers if now else (), best.timers if best else (),
    )  # fmt: skip


def _programme(place: Leaving, every: int, litres: float | None) -> tuple[float, Outcome]:
    return best_programme(place, every) if litres is None else (litres, run_programme(place, every, litres))


def _short_from(place: Leaving, outcome: Outcome) -> date | None:
    likely = outcome.short_odds >= LIKELY
    return _day(place, int(np.argmax(likely))) if bool(likely.any()) else None


def _day(place: Leaving, k: int) -> date:
    day: date = place.days.days[place.first + k].astype(date)
    return day


def _visits(garden: Garden, places: Sequence[Leaving], coming: Round, ahead: WeatherMembers) -> tuple[Visit, ...]:
    out, before = [], 0
    for k in coming.days:
        rain_mm = float(ahead.get("rain_mm")[:, before:k].sum(axis=1).mean())
        gifts = [
            _gift(garden, place, outcome, k, rain_mm)
            for place, outcome in zip(places, coming.outcomes, strict=True)
            if outcome.litres[k] > 0.0
        ]
        out.append(Visit(_day(places[0], k), _on_lines(garden, gifts)))
        before = k
    return tuple(out)


def _on_lines(garden: Garden, gifts: Sequence[Gift]) -> tuple[Gift, ...]:
    """Places on one line are opened together: how long, when they ask for different times."""
    by_line: dict[str, list[Gift]] = {}
    for gift in gifts:
        line = garden.place(gift.place).line
        if line and gift.job.minutes:
            by_line.setdefault(line, []).append(gift)
    notes = {}
    for name, shared in by_line.items():
        if len(shared) > 1:
            minutes = math.fsum(g.job.minutes or 0.0 for g in shared) / len(shared)
            note = say(
                "line {name} is opened once for all its places, for {minutes:.0f} min", name=name, minutes=minutes
            )
            notes.update({g.place: note for g in shared})
    return tuple(replace(g, job=replace(g.job, note=notes[g.place])) if g.place in notes else g for g in gifts)


def _gift(garden: Garden, place: Leaving, outcome: Outcome, k: int, rain_mm: float) -> Gift:
    """``rain_mm`` is what the weather brings on average since the visit before: the amount counts on it already."""
    days, day, litres = place.days, place.first + k, float(outcome.litres[k])
    depth = days.depth_mm(litres, day)
    efficiency = float(days.laid.columns.delivery[0, 0])
    used = float(outcome.used[k - 1].mean()) if k else 0.0
    limit = float(limits(days)[day])
    advice = Advice(
        place=place.place.name, on=_day(place, k), verdict="soak", litres=litres, depth_mm=depth, missing_mm=depth * efficiency,
        missing_litres=litres * efficiency, efficiency=efficiency, reach_m=float(days.crops.reach_m[day]),
        probe_depth_m=probe_depth_m(days, day), used=used, used_tonight=used, limit=limit,
        chance=float(outcome.short[k - 1].mean()) if k else 0.0, count=int(days.crops.count[day]), phase=int(days.crops.phase[day]),
        next_due=None, next_due_kind=EXPECTED, why=say("{used:.0f} % used by then", used=100 * used), reasons=(), since=_day(place, 0),
        demand_mm=float(days.eto_mm[day]), rain_soon_mm=0.0, if_dry_litres=0.0, twice_a_day=False, assumptions=(),
    )  # fmt: skip
    sky = place.place.exposure
    share = float(rain_under_cover(np.ones(1), sky.cover, sky.rain_fraction)[0])
    gauge = rain_mm + depth * efficiency / share if place.place.kind == "bed" and share >= RAIN_REACHES else None
    return Gift(place.place.name, litres, make_job(garden, days, advice), gauge)
