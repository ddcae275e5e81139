"""The timer over the days away: as it is set now, and as it is best set for those days; what becomes of every place with either."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from soakbook.errors import InputError
from soakbook.garden.timer import KeptTimer, Programme, Rules
from soakbook.said import say
from soakbook.season.away_minutes import brought, gone_over, timed
from soakbook.season.away_run import Leaving, Outcome, live

if TYPE_CHECKING:
    from soakbook.delivery.timer_place import TimerPlace
    from soakbook.garden.model import Garden
    from soakbook.weather.members import WeatherMembers
    from soakbook.weather.series import WeatherSeries

#: Members of the weather that a setting is chosen by, as for the card; what comes of it is then lived through by all.
PLAN_MEMBERS = 20
#: Seconds for each integer program, as on the pages of the timer.
SOLVE_S = 1.5


@dataclass(frozen=True)
class OnTimer:
    """A timer of the garden with the programmes that run, and its name; empty where the garden keeps none."""

    timer: str
    programmes: tuple[Programme, ...]


@dataclass(frozen=True)
class WithTimer:
    """The programmes of every timer; each place, in walking order, with them on, and what becomes of it with nobody else."""

    timers: tuple[OnTimer, ...]
    places: tuple[Leaving, ...]
    outcomes: tuple[Outcome, ...]


def with_timers(
    garden: Garden, places: Sequence[Leaving], alone: Sequence[Outcome], weather: WeatherSeries, ahead: WeatherMembers, first: date, last: date
) -> tuple[WithTimer | None, WithTimer]:  # fmt: skip
    """The timers as they are set now (None where nothing is said to be set), and as they are best set for the days away.

    Parameters
    ----------
    garden
        With the timers it keeps; without any, a plain one of two programmes is taken.
    places, alone
        Every place on the morning of leaving, and what becomes of it with nobody: so it goes too where no timer reaches.
    weather
        What was observed and is forecast.
    ahead
        Members of the weather that cover the days away.
    first, last
        The first and the last day away.

    Raises
    ------
    InputError
        Nothing grows on a line whose flow is known, or a timer that cannot be planned for.
    """
    from soakbook.delivery.timer_place import timer_places
    from soakbook.delivery.timer_tables import nothing_grows
    from soakbook.season.timer_parts import with_capacity

    timers = garden.timers or (KeptTimer("", rules=Rules(avoid=())),)
    kept = tuple(replace(one, rules=with_capacity(one.rules, garden)) for one in timers)
    span = ahead.between(np.datetime64(first), np.datetime64(last))
    few = replace(span, columns={name: values[:PLAN_MEMBERS] for name, values in span.columns.items()})
    used = {p.place.name: float(p.days.used_fraction(p.now.water_mm[0], p.first).mean()) for p in places}
    past = weather.between(weather.times[0], np.datetime64(first) - np.timedelta64(1, "D"))
    on_lines = timer_places(garden, few, used=used, past=past)
    if not on_lines:
        raise nothing_grows("timer")
    now = tuple(OnTimer(one.name, one.setting) for one in kept)
    best = tuple(OnTimer(one.name, _planned(garden, places, one, on_lines, first)) for one in kept)
    lived = [_lived(garden, first, places, alone, on_lines, kept, set_so) for set_so in (now, best)]
    return (lived[0] if any(one.programmes for one in now) else None), lived[1]


def _planned(
    garden: Garden, places: Sequence[Leaving], kept: KeptTimer, on_lines: Sequence[TimerPlace], first: date
) -> tuple[Programme, ...]:
    """The best setting of a timer for the days away: days and starts as its card would have them, minutes by living through."""
    from soakbook.delivery.timer_refine import MOST_REFINED, best_setting
    from soakbook.season.timer_parts import flows_of

    mine = tuple(one for one in on_lines if kept.has_line(one.line))
    flows = flows_of(garden, mine)
    try:
        plan = best_setting(
            mine, kept.timer, kept.rules, flows, first, places[0].count, seconds=SOLVE_S, most_refined=MOST_REFINED
        )
    except InputError as error:
        raise InputError(
            say("{timer}: {what}", timer=kept.name or say("timer"), what=error.message), code=error.code, field="timer", hint=error.hint
        ) from None  # fmt: skip
    return gone_over(places, mine, kept, plan.setting, flows, first) if plan is not None else ()


def _lived(
    garden: Garden, first: date, places: Sequence[Leaving], alone: Sequence[Outcome], on_lines: Sequence[TimerPlace], kept: Sequence[KeptTimer], timers: Sequence[OnTimer],
) -> WithTimer:  # fmt: skip
    """Live through the days away with the programmes of every timer; a tank that is empty gives nothing."""
    from soakbook.delivery.timer_model import groups
    from soakbook.delivery.timer_tank import tank_shares
    from soakbook.season.timer_parts import flows_of_all

    flows, count = flows_of_all(garden, tuple(on_lines)), len(on_lines[0].days.days)
    shares = []
    for timer, run in zip(kept, timers, strict=True):
        mine = {line: flow if timer.has_line(line) else 0.0 for line, flow in flows.items()}
        shares.append(
            tank_shares(run.programmes, groups(timer.timer, timer.rules, mine), timer.rules, mine, first, count)
        )
    by_name = {one.name: one for one in on_lines}
    on, out = [], []
    for place, left in zip(places, alone, strict=True):
        one = by_name.get(place.place.name)
        litres = np.zeros(place.count)
        if one is not None:
            for timer, run, share in zip(kept, timers, shares, strict=True):
                if timer.has_line(one.line):
                    litres += brought(run.programmes, one, place.count, share)[0]
        reached = bool(litres.any())
        if reached:
            place = timed(place, litres)
        on.append(place)
        out.append(live(place) if reached else left)
    return WithTimer(tuple(timers), tuple(on), tuple(out))
