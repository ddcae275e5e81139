"""Every watering free: what a controller could do that is told anew for each day, as a bound on what any stored programme can.

The plan's costs are convex and never fall with what is missing, so that run times of any length are a linear program, solved exactly. Whole
steps make it an integer program. Pauses between runs are left out: this is what could be had at best.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from soakbook.delivery.timer_highs import Program, Solved, keep_the_tank, solve
from soakbook.delivery.timer_need import OWED_PRICE, WASTE_PRICE, FloatArray, Need, costs_of
from soakbook.delivery.timer_tables import Asked, check_asked

#: Distance to the bound that is good enough, and the least cost it is taken of. [part; hundredths of growth]
GOOD_ENOUGH, LEAST_COST = 0.01, 0.1


@dataclass(frozen=True)
class EventPlan:
    """``minutes`` (lines, days, windows) of each line; its cost and the bound below which nothing can come, in the plan's hundredths of growth."""

    lines: tuple[str, ...]
    minutes: FloatArray
    cost: float
    bound: float

    @property
    def gap(self) -> float:
        """Part of the cost by which something might be better."""
        return max(0.0, self.cost - self.bound) / max(self.cost, LEAST_COST)


def first_events(asked: Asked) -> EventPlan:
    """Run times of any length, rounded to whole steps: at once, with the bound of the linear program."""
    check_asked(asked)
    solved = _solved(asked, is_whole=False, seconds=60.0)
    assert solved.values is not None
    runs = solved.values[: _count(asked)].reshape(len(asked.by_line()), -1)
    near = np.rint(runs)
    steps = np.where(_over(asked, near) > 0.0, np.floor(runs + 1e-6), near)
    if asked.rules.tank_l is not None:
        steps = np.floor(runs + 1e-6)
    return _as_plan(asked, steps, solved.bound)


def free_bound(asked: Asked, seconds: float) -> float:
    """What no setting can come below under the same hours and tank; minus infinite where the time was up before that was known."""
    solved = _solved(asked, is_whole=False, seconds=seconds)
    return -np.inf if solved.values is None else solved.bound


def _over(asked: Asked, steps: FloatArray) -> FloatArray:
    """Steps of the span in which run times take longer than the window is, (steps,) of 0 and 1."""
    lines = list(asked.by_line())
    took = sum(
        np.max([steps[lines.index(line)] for line in group if line in lines] or [np.zeros(asked.span.steps)], axis=0)
        for group in asked.opened()
    )
    windows = np.tile([b - a for a, b in asked.span.windows], asked.span.days)
    return np.asarray(np.asarray(took) * asked.timer.step_minutes > windows, dtype=float)


def plan_events(asked: Asked, *, seconds: float = 5.0, good_enough: float = GOOD_ENOUGH) -> EventPlan:
    """Whole steps, within ``good_enough`` of the bound or as near as the time allows."""
    begun = time.perf_counter()
    best = first_events(asked)
    if best.gap <= good_enough:
        return best
    left = max(0.1, seconds - (time.perf_counter() - begun))
    solved = _solved(asked, is_whole=True, seconds=left, gap=0.8 * good_enough * max(best.bound, LEAST_COST))
    bound = max(best.bound, solved.bound)
    if solved.values is not None:
        better = _as_plan(asked, np.rint(solved.values[: _count(asked)]), bound)
        best = min(best, better, key=lambda plan: plan.cost)
    return EventPlan(best.lines, best.minutes, best.cost, min(bound, best.cost))


def _count(asked: Asked) -> int:
    return len(asked.by_line()) * asked.span.steps


def _as_plan(asked: Asked, steps: FloatArray, bound: float) -> EventPlan:
    lines = tuple(asked.by_line())
    minutes = steps.reshape(len(lines), -1) * asked.timer.step_minutes
    needs = [need for mine in asked.by_line().values() for need in mine]
    total = 0.0
    for need in needs:
        poured = minutes[lines.index(need.line)] * need.per_minute_mm
        given = np.minimum(poured, asked.timer.starts * need.takes_mm)
        total += float(costs_of([need], given[:, None, None], np.array([[poured.sum()]]))[0, 0])
    shape = (len(lines), asked.span.days, len(asked.span.windows))
    return EventPlan(lines, minutes.reshape(shape), total, min(bound, total))


def _solved(asked: Asked, *, is_whole: bool, seconds: float, gap: float = 1e-6) -> Solved:
    """The program in steps of run time, line by line and step by step; cost and bound with what no watering changes added."""
    program = Program()
    by_line, span, timer = asked.by_line(), asked.span, asked.timer
    open_days = [asked.rules.allows(span.first + timedelta(days=d)) for d in range(span.days)]
    run: dict[str, list[int]] = {}
    for line, needs in by_line.items():
        poured = sum(n.scale * WASTE_PRICE * n.waste_times * n.per_minute_mm for n in needs) * timer.step_minutes
        run[line] = []
        for t in range(span.steps):
            a, b = span.windows[t % len(span.windows)]
            most = min(b - a, timer.starts * timer.longest_minutes) // timer.step_minutes
            is_open = open_days[t // len(span.windows)]
            run[line].append(program.column(poured, float(most) if is_open else 0.0, is_whole))
    _capacity(asked, program, run)
    same = 0.0
    for needs in by_line.values():
        for need in needs:
            same += stores(program, need, run[need.line], step_minutes=timer.step_minutes, goes=timer.starts)
    solved = solve(program, seconds=seconds, gap=gap)
    return Solved(solved.values, solved.cost + same, solved.bound + same)


def stores(program: Program, need: Need, run: list[int], *, step_minutes: int, goes: int) -> float:
    """Stores of one place under every picture, filled by the columns ``run`` (in steps of minutes, in at most so many goes a time); returns the part of its
    cost that no watering changes."""
    pictures, steps = need.use_mm.shape
    most = goes * need.takes_mm
    rate = need.per_minute_mm * step_minutes
    given = []
    for t in range(steps):
        column = program.column(0.0, most)
        program.row([(column, 1.0), (run[t], -rate)], -np.inf, 0.0)
        given.append(column)
    price = WASTE_PRICE * need.waste_times
    bare_mean = 0.0
    for s in range(pictures):
        bare, before = need.missing_mm, -1
        for t in range(steps):
            use, rain = float(need.use_mm[s, t]), float(need.rain_mm[s, t])
            bare = max(0.0, bare + use - rain)
            after_water = program.column(0.0)
            held = [(after_water, 1.0), (given[t], 1.0)]
            if before < 0:
                program.row(held, need.missing_mm, np.inf)
            else:
                program.row([*held, (before, -1.0)], 0.0, np.inf)
            lack = program.column(need.scale * use / (need.store_mm - need.easy_mm) / pictures)
            program.row([(lack, 1.0), (after_water, -1.0)], 0.5 * use - need.easy_mm, np.inf)
            end = need.scale * (price + OWED_PRICE) / pictures if t == steps - 1 else 0.0
            before_next = program.column(end)
            program.row([(before_next, 1.0), (after_water, -1.0)], use - rain, np.inf)
            before = before_next
        bare_mean += bare / pictures
    return -need.scale * price * bare_mean


def _capacity(asked: Asked, program: Program, run: dict[str, list[int]]) -> None:
    """Hours and tank, in steps of run time."""
    span, step = asked.span, float(asked.timer.step_minutes)
    for t in range(span.steps):
        a, b = span.windows[t % len(span.windows)]
        terms: list[tuple[int, float]] = []
        for group in asked.opened():
            mine = [run[line][t] for line in group if line in run]
            if len(mine) == 1:
                terms.append((mine[0], step))
            elif mine:
                longest = program.column(0.0)
                for column in mine:
                    program.row([(longest, 1.0), (column, -step)], 0.0, np.inf)
                terms.append((longest, 1.0))
        program.row(terms, -np.inf, float(b - a))
    if asked.rules.tank_l is None:
        return
    n = len(span.windows)
    drawn = [
        [
            (column, step * asked.flows_lph[line] / 60.0)
            for line, columns in run.items()
            for column in columns[d * n : (d + 1) * n]
        ]
        for d in range(span.days)
    ]
    keep_the_tank(asked.rules, program, drawn)
