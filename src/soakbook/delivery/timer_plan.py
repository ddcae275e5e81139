"""The best programme a timer can hold.

A timer stores few things: some programmes, each with its days, its start times and one run time for each line. So a plan does not
decide on every slot of the coming weeks but picks: patterns (days and starts) for the programmes, and for each line one pattern and
a run time. What a line costs under each is worked out beforehand (:mod:`soakbook.delivery.timer_cost`), and the choice is an integer
program of the kind that places depots, whose relaxation lies close to it. Each line is in at most one programme.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from soakbook.delivery.timer_choose import Option, choose
from soakbook.delivery.timer_cost import line_costs
from soakbook.delivery.timer_greedy import greedy_choice
from soakbook.delivery.timer_model import Programme, length_minutes, minutes_on, problems
from soakbook.delivery.timer_need import FloatArray, Need, costs_of
from soakbook.delivery.timer_tables import CLOSE, Asked, Choice, Tables
from soakbook.errors import SoakbookError
from soakbook.said import say

#: Days beyond which free watering is not solved for a bound: of a stretch of a season no gap is told, and it took minutes.
FREE_DAYS = 31
#: Columns of the integer program beyond which run times are thinned out (only where hours, flow or tank bind).
MOST_COLUMNS = 1200


@dataclass(frozen=True)
class TimerPlan:
    """A setting and what it costs by the plan's own reckoning.

    ``cost`` and ``bound`` in hundredths of growth, summed over the places by weight: nothing the timer can hold costs less than
    ``bound``, among the patterns and run times looked at; ``is_every_step`` says whether these were all run times the timer has.
    ``dry_cost`` is that of no water at all.
    """

    setting: tuple[Programme, ...]
    cost: float
    bound: float
    dry_cost: float
    is_every_step: bool = True

    @property
    def is_proved(self) -> bool:
        """Whether nothing looked at is better."""
        return self.cost <= self.bound + max(CLOSE, 1e-6 * abs(self.cost))

    @property
    def gap(self) -> float:
        """Part of the cost by which something might be better."""
        return max(0.0, self.cost - self.bound) / max(abs(self.cost), CLOSE)


def plan_timer(asked: Asked, *, seconds: float = 5.0) -> TimerPlan:
    """The best setting, proved so unless time runs out.

    Raises
    ------
    InputError
        When the timer cannot be, opens fewer lines than are wanted, or a line alone draws more than may flow.
    """
    tables = Tables.of(asked)
    first = greedy_choice(tables)
    chosen, bound, every = _optimum(tables, first, seconds)
    return _as_plan(tables, chosen, bound, every)


def first_plan(asked: Asked) -> TimerPlan:
    """A good setting at once, without proof; its bound is what the lines would cost with a programme each and all the time they want."""
    tables = Tables.of(asked)
    return _as_plan(tables, greedy_choice(tables), tables.least(), True)


def _optimum(tables: Tables, first: Choice, seconds: float) -> tuple[Choice, float, bool]:
    """The best choice, a proven bound, and whether every run time was looked at."""
    free = _free_optimum(tables, seconds)
    if free is not None and tables.fits(free[0]):
        return free[0], free[1], True
    listed, every = _listed(tables, tables.cost(first))
    found, bound = choose(tables, listed, 0.5 * seconds, is_bound=True)
    options = [first, *([found] if found is not None else [])]
    best = min(options, key=tables.cost)
    if not every or found is None:
        finer = choose(tables, _every_step(tables, best), 0.5 * seconds, is_bound=True)[0]
        best = best if finer is None else min(best, finer, key=tables.cost)
    if tables.cost(best) > bound + CLOSE:
        bound = max(bound, _free_bound(tables, seconds))
    return best, min(bound, tables.cost(best)), every


def _free_bound(tables: Tables, seconds: float) -> float:
    """What no setting can come below: each line at its best, and up to :data:`FREE_DAYS` free watering under the same hours and tank."""
    from soakbook.delivery.timer_event import free_bound

    if tables.asked.span.days > FREE_DAYS:
        return tables.least()
    return max(tables.least(), free_bound(tables.asked, seconds))


def _free_optimum(tables: Tables, seconds: float) -> tuple[Choice, float] | None:
    """The best choice where neither hours nor tank bind: only the best run times count."""
    best = tables.best
    cost = np.minimum(best.cost, best.dry[:, None])
    keep = _undominated(cost)
    listed = [
        Option(i, j, int(best.steps[i, j]), float(best.cost[i, j]))
        for j in keep
        for i in range(len(best.dry))
        if best.steps[i, j] > 0 and best.cost[i, j] < best.dry[i] - CLOSE
    ]
    found, bound = choose(tables, listed, seconds, is_bound=False)
    return None if found is None else (found, bound)


def _undominated(cost: FloatArray) -> list[int]:
    """Patterns that no other beats or equals for every line (of equals the first)."""
    order = np.argsort(cost.sum(axis=0), kind="stable")
    kept: list[int] = []
    for j in order:
        if not kept or not bool(np.any(np.all(cost[:, kept] <= cost[:, [j]] + 1e-12, axis=0))):
            kept.append(int(j))
    return kept


def _listed(tables: Tables, upper: float) -> tuple[list[Option], bool]:
    """Options that a choice no dearer than ``upper`` may have in it: every run time, unless there are too many."""
    best = tables.best
    cost = np.minimum(best.cost, best.dry[:, None])
    least = cost.min(axis=1)
    within = _at_least(cost, tables.asked.timer.programmes) <= upper + CLOSE
    spare = upper - least.sum() + CLOSE
    alive = [
        (i, j) for j in np.flatnonzero(within).tolist() for i in range(len(least))
        if best.steps[i, j] > 0 and best.cost[i, j] - least[i] <= spare
    ]  # fmt: skip
    total = sum(int(best.steps[i, j]) for i, j in alive)
    most = 10**9 if total <= MOST_COLUMNS else max(4, MOST_COLUMNS // max(len(alive), 1))
    options: list[Option] = []
    for i in range(len(least)):
        mine = [j for k, j in alive if k == i]
        options += [o for o in _steps_of(tables, i, mine, most) if o.cost - least[i] <= spare]
    return options, total <= MOST_COLUMNS


def _steps_of(tables: Tables, line: int, patterns: Sequence[int], most: int) -> list[Option]:
    """A line under some patterns with at most so many run times each, up to the best one: beyond it nothing is gained."""
    if not patterns:
        return []
    name, needs = list(tables.by_line.items())[line]
    top = tables.best.steps[line, list(patterns)]
    count = int(min(most, top.max()))
    ladder = np.ceil(np.arange(1, count + 1)[None, :] / count * top[:, None]).astype(np.int64)
    minutes = ladder.astype(float) * tables.asked.timer.step_minutes
    cost = line_costs({name: needs}, [tables.patterns[j] for j in patterns], minutes[None])[0]
    return [
        Option(line, j, int(s), float(c))
        for k, j in enumerate(patterns)
        for s, c in dict(zip(ladder[k].tolist(), cost[k].tolist(), strict=True)).items()
        if c < tables.best.dry[line]
    ]


def _every_step(tables: Tables, chosen: Choice) -> list[Option]:
    """Every run time under the patterns of a choice."""
    used = sorted({one[0] for one in chosen if one is not None})
    return [option for i in range(len(tables.by_line)) for option in _steps_of(tables, i, used, 10**9)]


def _at_least(cost: FloatArray, programmes: int) -> FloatArray:
    """What any choice with a pattern in it costs at least, (J,)."""
    if programmes == 1:
        return np.asarray(cost.sum(axis=0))
    if programmes == 2 and cost.shape[1] <= 400:
        return np.asarray(np.minimum(cost[:, :, None], cost[:, None, :]).sum(axis=0).min(axis=1))
    return np.full(cost.shape[1], cost.min(axis=1).sum())


def _as_plan(tables: Tables, chosen: Choice, bound: float, every: bool) -> TimerPlan:
    return plan_from(tables, chosen, tables.cost(chosen), bound, every)


def plan_from(tables: Tables, chosen: Choice, cost: float, bound: float, every: bool) -> TimerPlan:
    """Start times put in, and every rule looked at once more from the outside."""
    setting = placed(tables, chosen)
    asked = tables.asked
    broken = problems(setting, asked.timer, asked.rules, asked.flows_lph, asked.span.first, asked.span.days)
    if broken:
        raise SoakbookError(
            say("the plan breaks a rule: {what}", what=broken[0]),
            code="timer.plan",
            hint=say("This is a fault of the program; please report it with the garden file."),
        )
    return TimerPlan(setting, cost, min(bound, cost), float(tables.best.dry.sum()), every)


def placed(tables: Tables, chosen: Choice) -> tuple[Programme, ...]:
    """Programmes with their start times: in each window one after another from its beginning."""
    asked, opened = tables.asked, tables.asked.opened()
    used = sorted({one[0] for one in chosen if one is not None}, key=lambda j: (-tables.patterns[j].goes.sum(), j))
    free = [a for a, _ in asked.span.windows]
    made = []
    for name, j in zip("ABCDEFGHIJKL", used, strict=False):
        minutes = tuple(
            (line, one[1] * asked.timer.step_minutes)
            for line, one in zip(tables.by_line, chosen, strict=True)
            if one is not None and one[0] == j
        )
        at_once = _at_once(tables, minutes, tables.patterns[j].starts)
        programme = Programme(name, tables.patterns[j].days, (), tuple((line, at_once * m) for line, m in minutes))
        length, starts = length_minutes(programme, opened), []
        for w, n in enumerate(k // at_once for k in tables.patterns[j].starts):
            for k in range(n):
                starts.append(free[w] + k * (length + asked.rules.pause_minutes))
            free[w] += n * length + max(n - 1, 0) * asked.rules.pause_minutes
        made.append(replace(programme, starts=tuple(starts)))
    return tuple(made)


def _at_once(tables: Tables, minutes: Sequence[tuple[str, int]], starts: Sequence[int]) -> int:
    """How many starts of a window may be one that is as much longer: the soil takes in as much, so it costs the same and is less to set."""
    longest = tables.asked.timer.longest_minutes
    for k in range(max(starts), 1, -1):
        if all(n % k == 0 for n in starts) and all(
            k * m <= longest and all(k * m * need.per_minute_mm <= need.takes_mm for need in tables.by_line[line])
            for line, m in minutes
        ):
            return k
    return 1


def cost_of_setting(asked: Asked, setting: Sequence[Programme]) -> float:
    """What any setting costs by the plan's own reckoning; a start outside the windows counts in the last one begun before it."""
    total = 0.0
    for line, needs in asked.by_line().items():
        for need in needs:
            given, poured = _given(asked, setting, line, need)
            total += float(costs_of([need], given[:, None, None], np.array([[poured]]))[0, 0])
    return total


def _given(asked: Asked, setting: Sequence[Programme], line: str, need: Need) -> tuple[FloatArray, float]:
    """What goes in by step, and what is poured in all. [mm]"""
    span, n = asked.span, len(asked.span.windows)
    given, poured = np.zeros(span.steps), 0.0
    for d in range(span.days):
        for start, minutes in minutes_on(setting, line, span.first + timedelta(days=d)):
            w = max((k for k, (a, _) in enumerate(span.windows) if a <= start), default=0)
            depth = minutes * need.per_minute_mm
            poured += depth
            given[d * n + w] += min(depth, need.takes_mm)
    return given, poured
