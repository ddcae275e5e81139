"""A plan made finer by the balance: the few patterns that came near, each with run times about the best, run through it and chosen anew."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from soakbook.delivery.timer_choose import Option, choose
from soakbook.delivery.timer_greedy import greedy_choice
from soakbook.delivery.timer_judge import Judge
from soakbook.delivery.timer_model import Programme, Rules, Timer
from soakbook.delivery.timer_need import FloatArray
from soakbook.delivery.timer_pattern import Pattern
from soakbook.delivery.timer_place import TimerPlace, needs_of
from soakbook.delivery.timer_plan import TimerPlan, first_plan, plan_from, plan_timer
from soakbook.delivery.timer_tables import Asked, Choice, Tables, span_of
from soakbook.garden.timer_text import is_daily

#: Places up to which a plan is gone over with the balance where an answer is waited for.
MOST_REFINED = 24
#: What a line must gain by running in the evening rather than in the morning, to be set so. Common practice has the early morning: leaves dry with the sun,
#: and less invites slugs. Size judged. [hundredths of growth]
EVENING, EVENING_FROM = 0.03, 15 * 60
#: Times as long as the longest run that was looked at, where that was the best.
LONGER = 1.5
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
    cost_of = _cost_of(tables, judge)

    def total(chosen: Choice) -> float:
        return sum(float(dry[i]) if o is None else cost_of(i, o[0], o[1]) for i, o in enumerate(chosen))

    if found is None:
        return plan
    found = _to_the_step(again, judge, _to_the_morning(again, judge, found))
    made = plan_from(again, found, total(found), min(bound, total(found)), False)
    costs = [judge.cost(one.setting) + _late(one.setting) for one in (made, plan)]
    return made if costs[0] <= costs[1] else plan


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
    """Options of every line with costs by the balance, those of the evening a little dearer, and the cost of no water."""
    most = tables.asked.timer.longest_minutes // tables.asked.timer.step_minutes
    options: list[Option] = []
    dry, cost_of = np.zeros(len(tables.by_line)), _cost_of(tables, judge)
    for i, line in enumerate(tables.by_line):
        dry[i] = cost_of(i, near[0], 0)
        for j in near:
            about = max(float(tables.best.steps[i, j]), 0.5 * _replaces_use(tables, line, j))
            tried = {s: cost_of(i, j, s) for s in sorted({min(max(1, round(about * share)), most) for share in ABOUT})}
            while (longest := max(tried)) < most and tried[longest] == min(tried.values()):
                longer = min(max(longest + 1, round(LONGER * longest)), most)
                tried[longer] = cost_of(i, j, longer)
            late = EVENING * _evening_share(tables, j)
            options += [Option(i, j, s, cost + late) for s, cost in tried.items() if cost + late < dry[i]]
    return options, dry


def _evening_share(tables: Tables, j: int) -> float:
    """Part of a pattern's starts on a day that lie in the evening."""
    starts = tables.patterns[j].starts
    late = sum(n for n, (begins, _) in zip(starts, tables.asked.span.windows, strict=True) if begins >= EVENING_FROM)
    return late / max(sum(starts), 1)


def _cost_of(tables: Tables, judge: Judge) -> Callable[[int, int, int], float]:
    """What a line costs under a pattern with so many steps of run time: a sum over its places, of the mean over all."""
    lines = [[k for k, one in enumerate(judge.places) if one.line == line] for line in tables.by_line]
    step, count = float(tables.asked.timer.step_minutes), len(judge.places)

    def cost(i: int, j: int, steps: int) -> float:
        return sum(_cost(judge, k, tables.patterns[j], steps * step, tables) for k in lines[i]) / count

    return cost


def _late(setting: Sequence[Programme]) -> float:
    """What the starts in the evening add to the cost of a setting."""
    shares = [sum(start >= EVENING_FROM for start in p.starts) / len(p.starts) * len(p.minutes) for p in setting]
    return EVENING * math.fsum(shares)


def _to_the_morning(tables: Tables, judge: Judge, chosen: Choice) -> Choice:
    """The choice with runs of the evening in the morning of the same days, as long in all, where that costs no more than the evening may gain.

    Run times tried of two patterns are not the same, so the one of the evening may come out ahead by the steps between them alone.
    """
    cost_of = _cost_of(tables, judge)

    def cost(choice: Choice, mine: Sequence[int]) -> float:
        runs = [(i, one) for i in mine if (one := choice[i]) is not None]
        return sum(cost_of(i, j, steps) + EVENING * _evening_share(tables, j) for i, (j, steps) in runs)

    for j in sorted({one[0] for one in chosen if one is not None and _evening_share(tables, one[0]) > 0.0}):
        mine = [i for i, one in enumerate(chosen) if one is not None and one[0] == j]
        moved = [_moved(tables, chosen, j, k) for k in _earlier(tables, j)]
        now = cost(chosen, mine)
        for found, trial in sorted((cost(trial, mine), trial) for trial in moved):
            if found <= now and tables.fits(trial):
                chosen = trial
                break
    return chosen


def _moved(tables: Tables, chosen: Choice, j: int, k: int) -> Choice:
    """The choice with pattern ``k`` for pattern ``j``, running about as long in all as far as the timer lets it."""
    times = tables.patterns[j].count / tables.patterns[k].count
    most = tables.asked.timer.longest_minutes // tables.asked.timer.step_minutes
    return tuple((k, min(round(one[1] * times), most)) if one is not None and one[0] == j else one for one in chosen)


def _earlier(tables: Tables, j: int) -> list[int]:
    """Patterns of the same days with no more starts, a smaller part of them in the evening."""
    mine, late = tables.patterns[j], _evening_share(tables, j)
    return [
        k for k, other in enumerate(tables.patterns)
        if other.days == mine.days and other.count <= mine.count and _evening_share(tables, k) < late
    ]  # fmt: skip


def _to_the_step(tables: Tables, judge: Judge, chosen: Choice) -> Choice:
    """Run times a step longer or shorter as long as that helps a line and keeps every rule."""
    cost_of = _cost_of(tables, judge)
    for i, one in enumerate(chosen):
        if one is None:
            continue
        j, steps = one
        now = cost_of(i, j, steps)
        for by in (1, -1):
            while 1 <= steps + by <= tables.asked.timer.longest_minutes // tables.asked.timer.step_minutes:
                trial = (*chosen[:i], (j, steps + by), *chosen[i + 1 :])
                if (cost := cost_of(i, j, steps + by)) >= now or not tables.fits(trial):
                    break
                chosen, steps, now = trial, steps + by, cost
    return chosen


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
