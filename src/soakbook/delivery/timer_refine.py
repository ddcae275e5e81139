"""A plan made finer by the balance: the few patterns that came near, each with run times about the best, run through it and chosen anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from soakbook.delivery.timer_choose import Option, choose
from soakbook.delivery.timer_greedy import greedy_choice
from soakbook.delivery.timer_judge import Judge
from soakbook.delivery.timer_model import Rules, Timer
from soakbook.delivery.timer_need import FloatArray
from soakbook.delivery.timer_pattern import Pattern
from soakbook.delivery.timer_place import TimerPlace, needs_of
from soakbook.delivery.timer_plan import TimerPlan, first_plan, plan_from, plan_timer
from soakbook.delivery.timer_tables import Asked, Choice, Tables, span_of
from soakbook.garden.timer_text import is_daily

#: Places up to which a plan is gone over with the balance where an answer is waited for.
MOST_REFINED = 24
#: Patterns of each line that are looked at again, and run times about the best one.
NEAR, ABOUT = 4, (0.15, 0.25, 0.4, 0.55, 0.7, 0.85, 1.0, 1.2, 1.45, 1.8, 2.6, 4.0)


def best_setting(
    places: Sequence[TimerPlace], timer: Timer, rules: Rules, flows_lph: Mapping[str, float], first: date, days: int, *, seconds: float = 5.0,
    most_refined: int | None = None,
) -> TimerPlan | None:  # fmt: skip
    """The best setting for so many days from the first of the places, planned and then made finer; None when nothing grows in them.

    ``seconds`` for each integer program, 0 for a good setting at once; with more than ``most_refined`` places it is not gone over with the balance.
    """
    span = span_of(rules, first, days)
    needs = needs_of(places, span) if places else ()
    if not needs:
        return None
    asked = Asked(timer, rules, span, flows_lph, needs)
    plan = plan_timer(asked, seconds=seconds) if seconds > 0.0 else first_plan(asked)
    if most_refined is not None and len(places) > most_refined:
        return plan
    return refined(Tables.of(asked), Judge(places, days), plan, seconds=seconds)


def refined(tables: Tables, judge: Judge, plan: TimerPlan, *, seconds: float = 5.0) -> TimerPlan:
    """The best setting by the balance among those looked at; the plan itself is one of them.

    Costs and bound of what is returned are the balance's, of all places looked at, in hundredths of growth.
    """
    options, dry = judged_options(tables, judge, _near(tables))
    again = replace(tables, best=replace(tables.best, dry=dry))
    found, bound = choose(again, options, seconds, is_bound=True)
    cost = {(o.line, o.pattern, o.steps): o.cost for o in options}

    def total(chosen: Choice) -> float:
        return sum(float(dry[i]) if o is None else cost[i, o[0], o[1]] for i, o in enumerate(chosen))

    if found is None:
        return plan
    made = plan_from(again, found, total(found), bound, False)
    return made if judge.cost(made.setting) <= judge.cost(plan.setting) else plan


def _near(tables: Tables) -> list[int]:
    """Patterns that suit some line well, those a greedy choice takes, those that suit all together, and every day: little and often is what
    rain takes least from, which the simple store does not see."""
    best = tables.best.cost
    near = {int(j) for row in np.argsort(best, axis=1)[:, :NEAR] for j in row}
    near |= {one[0] for one in greedy_choice(tables) if one is not None}
    near |= {int(j) for j in np.argsort(best.sum(axis=0))[: 2 * NEAR]}
    near |= {j for j, pattern in enumerate(tables.patterns) if is_daily(pattern.days)}
    return sorted(near)


def judged_options(tables: Tables, judge: Judge, near: Sequence[int]) -> tuple[list[Option], FloatArray]:
    """Options of every line with costs by the balance, and the cost of no water."""
    step, most = tables.asked.timer.step_minutes, tables.asked.timer.longest_minutes // tables.asked.timer.step_minutes
    options, dry = [], np.zeros(len(tables.by_line))
    count = len(judge.places)
    for i, line in enumerate(tables.by_line):
        mine = [k for k, one in enumerate(judge.places) if one.line == line]
        dry[i] = sum(_cost(judge, k, tables.patterns[near[0]], 0.0, tables) for k in mine) / count
        for j in near:
            about = max(float(tables.best.steps[i, j]), 0.5 * _replaces_use(tables, line, j))
            for s in sorted({min(max(1, round(about * share)), most) for share in ABOUT}):
                cost = sum(_cost(judge, k, tables.patterns[j], float(s * step), tables) for k in mine) / count
                if cost < dry[i]:
                    options.append(Option(i, j, s, cost))
    return options, dry


def _replaces_use(tables: Tables, line: str, j: int) -> float:
    """Steps of run time that bring a line's places what they use, rain left out."""
    needs = tables.by_line[line]
    use = np.mean([float(need.use_mm.sum(axis=1).mean()) / need.per_minute_mm for need in needs])
    return float(use) / float(tables.patterns[j].goes.sum()) / tables.asked.timer.step_minutes


def _cost(judge: Judge, k: int, pattern: Pattern, minutes: float, tables: Tables) -> float:
    one = judge.places[k]
    put, off = water_of(one, pattern, minutes, tables, judge.days)
    return judge.of_water(k, put, off).cost


def water_of(one: TimerPlace, pattern: Pattern, minutes: float, tables: Tables, days: int) -> tuple[FloatArray, float]:
    """What a pattern brings into a place's soil by step, and what runs off in all, starts taken at their windows' beginnings. [mm]

    ``days``: those of the plan.
    """
    n, windows = one.days.steps_a_day, tables.asked.span.windows
    depth = minutes * one.depth_per_minute_mm
    goes = pattern.goes.reshape(days, len(windows))
    put = np.zeros((days, n))
    for w, (begins, _) in enumerate(windows):
        put[:, begins // 60 if n > 1 else 0] += goes[:, w] * min(depth, one.takes_mm)
    return put.ravel(), float(goes.sum()) * max(depth - one.takes_mm, 0.0)
