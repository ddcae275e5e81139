"""A season of settings: what to set on a timer now, and on which days to set it anew, until nothing grows on its lines any more.

The season is cut into stretches by what its weeks need (:mod:`soakbook.delivery.timer_weeks`). Each stretch gets the best programme the
timer can hold, found as for two weeks, from what the stretch before has left in the soil. Then run times and days of change are made finer
by running the whole season through the balance. At last it is told what fewer changes would cost: stretches are joined where that costs least.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial

import numpy as np

from soakbook.delivery.timer_judge import Judge, Judged
from soakbook.delivery.timer_model import Rules, Timer
from soakbook.delivery.timer_need import FloatArray
from soakbook.delivery.timer_place import TimerPlace, from_day, kept_full
from soakbook.delivery.timer_refine import MOST_REFINED, best_setting
from soakbook.delivery.timer_series import SeasonJudge, Series, Stretch, Times, ends, tank_after
from soakbook.delivery.timer_tables import nothing_grows
from soakbook.delivery.timer_weeks import LEAST_WEEKS, WEEK, cut_at, stretch_costs, weekly_need_minutes

#: Factors on the minutes of a line in one stretch that are tried, times that all is gone through, and the least gain. Judged.
TIMES, ROUNDS, GAIN = (0.8, 0.9, 1.12, 1.25), 3, 0.005
#: Setting the timer once more must save so much, mean over the places. Judged. [hundredths of growth]
WORTH_SETTING = 0.25


@dataclass(frozen=True)
class SeasonPlan:
    """The series that is worth its changes, what it does, and what more and fewer changes would do (by their number, fewest first).

    ``is_whole``: whether all was tried before the time was up. ``is_over``: whether nothing grows after these days; else no farther was looked.
    """

    first: date
    days: int
    chosen: Times
    judged: tuple[Judged, ...]
    by_count: tuple[Times, ...]
    is_whole: bool = True
    is_over: bool = True


def plan_season(
    places: Sequence[TimerPlace], timer: Timer, rules: Rules, flows_lph: Mapping[str, float], days: int, *, most: int, seconds: float = 5.0,
    within: float = math.inf,
) -> SeasonPlan:  # fmt: skip
    """The best series of at most so many settings.

    Parameters
    ----------
    places
        What the timer waters, with members of the weather for at least ``days``.
    timer, rules, flows_lph
        What it can hold, what must be kept, each line's flow. [L/h]
    days
        Days of the season.
    most
        Settings at most.
    seconds
        For each integer program.
    within
        Seconds after which nothing is made finer any more and a good setting at once is taken for each stretch that is left; where there is an end to them, more than :data:`~soakbook.delivery.timer_refine.MOST_REFINED`
        places are planned without going over each stretch with the balance.

    Raises
    ------
    InputError
        Nothing grows, or nothing can be planned under these rules (:func:`soakbook.delivery.timer_tables.check_asked`).
    """
    if not places or not days:
        raise nothing_grows()
    if rules.tank_l is not None:  # what it holds now it can hold; more only where that is known
        rules = replace(rules, tank_full_l=max(rules.tank_l, rules.tank_full_l or 0.0))
    until = time.monotonic() + within
    places = [replace(one, use_mm=kept_full(one, days)) for one in places]
    judge = SeasonJudge(Judge(places, days), timer, rules, flows_lph)
    needs = [weekly_need_minutes(one, days) for one in places]
    costs = stretch_costs([one.line for one in places], needs)
    litres = [need.mean(axis=1) * one.litres_per_minute for need, one in zip(needs, places, strict=True)]
    weights = np.sum(litres, axis=0)
    if not weights.any():
        raise nothing_grows()
    best: dict[int, Times] = {}
    for count in sorted({most, 1}, reverse=True):
        begins = tuple(WEEK * week for week in cut_at(costs, count))
        for series in _fewer_and_fewer(judge, _planned(judge, begins, weights, seconds, until), until):
            found = judge.times(series)
            if found.count not in best or found.cost < best[found.count].cost:
                best[found.count] = found
    by_count = _falling([best[count] for count in sorted(best)])
    chosen = by_count[0]
    for more in by_count[1:]:
        if chosen.cost - more.cost >= WORTH_SETTING * (more.count - chosen.count):
            chosen = more
    is_whole = time.monotonic() < until
    is_over = days < max(len(one.days.days) for one in places)
    return SeasonPlan(judge.first, days, chosen, judge.judged(chosen.series), tuple(by_count), is_whole, is_over)


def _falling(found: Sequence[Times]) -> list[Times]:
    """Only those that cost less than all with fewer settings."""
    return [one for k, one in enumerate(found) if all(one.cost < fewer.cost for fewer in found[:k])]


def _planned(judge: SeasonJudge, begins: Sequence[int], weights: FloatArray, seconds: float, until: float) -> Series:
    """A setting for each stretch, planned from what the one before has left in the soil and in the tank."""
    places, rules = judge.judge.places, judge.rules
    states = [one.start for one in places]
    made: list[Stretch] = []
    for k, first in enumerate(begins):
        last = begins[k + 1] if k + 1 < len(begins) else judge.days
        day = judge.first + timedelta(days=first)
        here = [from_day(one, first, state) for one, state in zip(places, states, strict=True)]
        share = float(weights[first // WEEK : -(-last // WEEK)].sum() / max(weights[first // WEEK :].sum(), 1e-9))
        asked = rules if rules.tank_l is None else replace(rules, tank_l=share * rules.tank_l)
        is_late = time.monotonic() > until
        most_refined = 0 if is_late else None if math.isinf(until) else MOST_REFINED
        plan = best_setting(
            here, judge.timer, asked, judge.flows_lph, day, last - first, seconds=0.0 if is_late else seconds,
            most_refined=most_refined,
        )  # fmt: skip
        setting = plan.setting if plan is not None else ()
        made.append(Stretch(first, setting))
        rules = tank_after(rules, setting, judge.flows_lph, day, last - first)
        for i, one in enumerate(places):
            n = one.days.steps_a_day
            put, _ = judge.water(i, tuple(made))
            states[i] = one.run(put[first * n : last * n], first, last, states[i], keep=False).end
    return _told_apart(made)


def _told_apart(series: Sequence[Stretch]) -> Series:
    """Without stretches that set nothing else than the one before."""
    return tuple(one for k, one in enumerate(series) if k == 0 or one.setting != series[k - 1].setting)


def finer(judge: SeasonJudge, series: Series, until: float = math.inf) -> Series:
    """The series with run times and days of change moved while that helps, keeps the rules, and there is time (``until``, monotonic)."""
    cost = judge.cost(series)
    for _ in range(ROUNDS):
        before = cost
        for k in range(len(series)):
            for change in _changes(judge, k):
                if time.monotonic() > until:
                    return _told_apart(series)
                tried = change(series)
                new = judge.cost(tried) if tried is not None else np.inf
                if tried is not None and new < cost - GAIN and not judge.problems(tried):
                    series, cost = tried, new
        if cost > before - GAIN:
            break
    return _told_apart(series)


def _changes(judge: SeasonJudge, k: int) -> Iterator[Callable[[Series], Series | None]]:
    """What is tried with stretch ``k``: other minutes of each line, a week sooner or later."""
    for line in judge.flows_lph:
        for times in TIMES:
            yield partial(_with_minutes, k, line, times, judge.timer)
    if k:
        for by in (-WEEK, WEEK):
            yield partial(_moved, k, by, judge.days)


def _with_minutes(k: int, line: str, times: float, timer: Timer, series: Series) -> Series | None:
    """Other minutes of a line in one stretch, by at least one step; None where it does not run or cannot run so long."""
    old = next((p.minutes_of(line) for p in series[k].setting if p.minutes_of(line)), 0)
    step = timer.step_minutes
    new = round(old * times / step) * step
    if new == old:
        new += step if times > 1.0 else -step
    if not old or not 0 < new <= timer.longest_minutes:
        return None
    setting = tuple(
        replace(p, minutes=tuple((name, new if name == line else m) for name, m in p.minutes))
        for p in series[k].setting
    )
    return (*series[:k], replace(series[k], setting=setting), *series[k + 1 :])


def _moved(k: int, by: int, days: int, series: Series) -> Series | None:
    """A stretch begun sooner or later; None where it or the one before would be too short."""
    new = series[k].first + by
    least = LEAST_WEEKS * WEEK
    if not series[k - 1].first + least <= new <= ends(series, days)[k] - least:
        return None
    return (*series[:k], replace(series[k], first=new), *series[k + 1 :])


def _fewer_and_fewer(judge: SeasonJudge, series: Series, until: float) -> Iterator[Series]:
    """The series made finer, then with one setting less, and again, down to a single one; each time those are joined that cost least so."""
    series = finer(judge, series, until)
    yield series
    while len(series) > 1:
        tried: list[Series] = [
            (*series[:k], Stretch(series[k].first, keeps.setting), *series[k + 2 :])
            for k in range(len(series) - 1)
            for keeps in (series[k], series[k + 1])
        ]
        kept = [one for one in tried if not judge.problems(one)]
        if not kept:
            return
        joined: Series = min(kept, key=judge.cost)
        series = finer(judge, _told_apart(joined), until)
        yield series
