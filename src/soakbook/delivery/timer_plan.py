"""The best programme a timer can hold.

A timer stores few things: some programmes, each with its days, its start times and one run time for each line. So a plan does not
decide on every slot of the coming weeks but picks: patterns (days and starts) for the programmes, and for each line one pattern and
a run time. What a line costs under each is worked out beforehand (:mod:`soakbook.delivery.timer_cost`), and the choice is an integer
program of the kind that places depots, whose relaxation lies close to it. Each line is in at most one programme.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from soakbook.delivery.timer_cost import Best, best_of, line_costs
from soakbook.delivery.timer_highs import Program, solve
from soakbook.delivery.timer_model import (
    Programme,
    Rules,
    Timer,
    groups,
    length_minutes,
    lengths_ok,
    minutes_on,
    problems,
)
from soakbook.delivery.timer_need import FloatArray, Need, Span, costs_of
from soakbook.delivery.timer_pattern import Pattern, patterns_of
from soakbook.errors import InputError, SoakbookError
from soakbook.said import say

#: Columns of the integer program beyond which run times are thinned out (only where hours, flow or tank bind).
MOST_COLUMNS = 1200
#: Prices of run time tried where it is short.
PRICES_TRIED = 10
#: Costs nearer than this count as one. [hundredths of growth]
CLOSE = 1e-6


@dataclass(frozen=True)
class Asked:
    """What a plan is made for: the timer, the rules, the days, each line's flow [L/h] in the order they are opened, and what places need."""

    timer: Timer
    rules: Rules
    span: Span
    flows_lph: Mapping[str, float]
    needs: tuple[Need, ...]

    def by_line(self) -> dict[str, list[Need]]:
        """Needs by line, in the order of the lines; lines without a place are left out."""
        made = {line: [n for n in self.needs if n.line == line] for line in self.flows_lph}
        return {line: needs for line, needs in made.items() if needs}

    def opened(self) -> tuple[tuple[str, ...], ...]:
        """Lines that are opened together, group after group."""
        return groups(self.timer, self.rules, self.flows_lph)


#: For each line: the pattern (index) and the steps of run time it has, or None.
Choice = tuple[tuple[int, int] | None, ...]


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


def span_of(rules: Rules, first: date, days: int) -> Span:
    """The days of a plan under rules.

    Raises
    ------
    InputError
        When no hour or no day is left to water in.
    """
    windows = rules.windows()
    if not windows:
        raise InputError(
            say("the rules leave no hour to water in."),
            code="timer.hours", field="hours", hint=say("Allow some hours, or avoid fewer."),
        )  # fmt: skip
    if not rules.weekdays:
        raise InputError(say("the rules leave no day to water on."), code="timer.days", field="weekdays")
    if not 1 <= days <= 60:
        raise InputError(say("a plan covers 1 to 60 days (got {days}).", days=days), code="timer.days", field="days")
    return Span(first, days, windows)


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


@dataclass(frozen=True)
class Tables:
    """What the choice is made from."""

    asked: Asked
    by_line: dict[str, list[Need]]
    patterns: tuple[Pattern, ...]
    best: Best

    @classmethod
    def of(cls, asked: Asked) -> Tables:
        """Work out patterns and the best run times."""
        check_asked(asked)
        by_line = asked.by_line()
        patterns = patterns_of(asked.timer, asked.rules, asked.span, asked.needs)
        if not patterns:
            raise InputError(
                say("the timer knows no days that the watering-day rules allow."), code="timer.days", field="day_kinds",
                hint=say("Use a timer that can be set by weekday or by odd and even dates, as the rules are."),
            )  # fmt: skip
        return cls(asked, by_line, patterns, best_of(by_line, patterns, asked.timer))

    def least(self) -> float:
        """What all lines would cost at their best, each for itself."""
        return float(np.minimum(self.best.cost.min(axis=1), self.best.dry).sum())

    def cost(self, chosen: Choice) -> float:
        """What a choice costs."""
        total = 0.0
        for i, (line, needs) in enumerate(self.by_line.items()):
            one = chosen[i]
            if one is None:
                total += float(self.best.dry[i])
            elif one[1] == self.best.steps[i, one[0]]:
                total += float(self.best.cost[i, one[0]])
            else:
                minutes = np.array([[[float(one[1] * self.asked.timer.step_minutes)]]])
                total += float(line_costs({line: needs}, [self.patterns[one[0]]], minutes)[0, 0, 0])
        return total

    def fits(self, chosen: Choice) -> bool:
        """Whether a choice keeps number of programmes, hours and tank."""
        used = sorted({one[0] for one in chosen if one is not None})
        if len(used) > self.asked.timer.programmes:
            return False
        rules, step = self.asked.rules, self.asked.timer.step_minutes
        minutes = {line: one for line, one in zip(self.by_line, chosen, strict=True) if one is not None}
        for w, (a, b) in enumerate(self.asked.span.windows):
            taken = 0
            for j in used:
                mine = tuple((line, one[1] * step) for line, one in minutes.items() if one[0] == j)
                length = length_minutes(Programme("", self.patterns[j].days, (), mine), self.asked.opened())
                n = self.patterns[j].starts[w]
                taken += n * length + max(n - 1, 0) * rules.pause_minutes
            if taken > b - a:
                return False
        return rules.tank_l is None or bool(np.all(self.drawn_l(chosen) <= self.tank_l() + 1e-9))

    def drawn_l(self, chosen: Choice) -> FloatArray:
        """Litres drawn up to the end of each day, (days,)."""
        total = np.zeros(self.asked.span.days)
        for line, one in zip(self.by_line, chosen, strict=True):
            if one is not None:
                litres = one[1] * self.asked.timer.step_minutes * self.asked.flows_lph[line] / 60.0
                total += litres * self.goes_by_day(one[0])
        return np.cumsum(total)

    def tank_l(self) -> FloatArray:
        """Litres that may have been drawn by the end of each day."""
        rules = self.asked.rules
        return np.asarray((rules.tank_l or 0.0) + rules.refill_lpd * np.arange(self.asked.span.days))

    def goes_by_day(self, j: int) -> FloatArray:
        """Starts of a pattern on each day."""
        return np.asarray(self.patterns[j].goes.reshape(self.asked.span.days, -1).sum(axis=1))


def check_asked(asked: Asked) -> None:
    """Refuse what no setting could keep."""
    lengths_ok(asked.timer)
    by_line = asked.by_line()
    if not by_line:
        raise InputError(
            say("nothing grows in these days in a place on a line whose flow is known."), code="timer.lines", field="lines",
            hint=say("Give lines a flow in the garden file: catch it in a bucket and time it."),
        )  # fmt: skip
    if len(by_line) > asked.timer.lines:
        raise InputError(
            say("{n} lines are wanted, the timer opens {most}.", n=len(by_line), most=asked.timer.lines),
            code="timer.lines", field="lines", hint=say("Join lines, or leave some to be opened by hand."),
        )  # fmt: skip
    cap = asked.rules.flow_cap_lph
    for line in by_line:
        if cap is not None and asked.flows_lph[line] > cap:
            raise InputError(
                say("line {line} alone draws {flow:.0f} L/h, more than {most:.0f}.", line=line, flow=asked.flows_lph[line], most=cap),
                code="timer.flow", field="flow_cap", hint=say("Split the line in two."),
            )  # fmt: skip


def greedy_choice(tables: Tables) -> Choice:
    """Pattern by pattern the one that helps most. Where hours or tank are too short for that, run time is given a price, the least one at
    which all fits; or all run times are cut alike, whichever costs less."""
    free = _greedy(tables, tables.best)
    if tables.fits(free):
        return free
    found = [_cut_to_fit(tables, free)]
    low, high = 0.0, float(tables.best.dry.sum())
    for _ in range(PRICES_TRIED):
        price = 0.5 * (low + high) * _share_per_step(tables)
        best = best_of(tables.by_line, tables.patterns, tables.asked.timer, price)
        chosen = _greedy(tables, best)
        if tables.fits(chosen):
            found.append(chosen)
            high = 0.5 * (low + high)
        else:
            low = 0.5 * (low + high)
    return min(found, key=tables.cost)


def _share_per_step(tables: Tables) -> FloatArray:
    """What part of all hours and, with a tank, of all its water a step of run time takes, (L, J)."""
    asked, step = tables.asked, tables.asked.timer.step_minutes
    hours = sum(b - a for a, b in asked.span.windows)
    of_hours = np.array([p.count for p in tables.patterns]) * step / hours
    shares = np.broadcast_to(of_hours, tables.best.cost.shape)
    if asked.rules.tank_l is None:
        return shares
    litres = np.array([asked.flows_lph[line] * step / 60.0 for line in tables.by_line])
    goes = np.array([p.goes.sum() for p in tables.patterns])
    return np.asarray(shares + np.outer(litres, goes) / max(float(tables.tank_l()[-1]), 1.0))


def _greedy(tables: Tables, best: Best) -> Choice:
    cost = np.minimum(best.cost, best.dry[:, None])
    now, used = best.dry.copy(), []
    for _ in range(tables.asked.timer.programmes):
        with_each = np.minimum(now[:, None], cost).sum(axis=0)
        j = int(np.argmin(with_each))
        if with_each[j] >= now.sum() - CLOSE:
            break
        used.append(j)
        now = np.minimum(now, cost[:, j])
    made: list[tuple[int, int] | None] = []
    for i in range(len(best.dry)):
        j = min(used, key=lambda k: float(best.cost[i, k]), default=-1)
        helps = j >= 0 and best.steps[i, j] > 0 and best.cost[i, j] < best.dry[i]
        made.append((j, int(best.steps[i, j])) if helps else None)
    return tuple(made)


def _cut_to_fit(tables: Tables, chosen: Choice) -> Choice:
    share, cut = 1.0, chosen
    while not tables.fits(cut):
        share *= 0.92
        cut = tuple(
            (one[0], int(one[1] * share)) if one is not None and int(one[1] * share) > 0 else None for one in chosen
        )
    return cut


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
        bound = max(bound, _free_bound(tables))
    return best, min(bound, tables.cost(best)), every


def _free_bound(tables: Tables) -> float:
    """What no setting can come below: free watering under the same hours and tank, and each line at its best."""
    from soakbook.delivery.timer_event import first_events

    return max(tables.least(), first_events(tables.asked).bound)


@dataclass(frozen=True)
class Option:
    """A line under a pattern with a run time in steps, and its cost."""

    line: int
    pattern: int
    steps: int
    cost: float


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


def choose(tables: Tables, options: Sequence[Option], seconds: float, *, is_bound: bool) -> tuple[Choice | None, float]:
    """The integer program: one option for each line or none, so many patterns in all; with ``is_bound`` also hours and tank."""
    program = Program()
    dry, timer = tables.best.dry, tables.asked.timer
    patterns = sorted({option.pattern for option in options})
    y = {j: program.column(0.0, 1.0, True) for j in patterns}
    z = [program.column(option.cost - float(dry[option.line]), 1.0, True) for option in options]
    of_line: dict[int, list[int]] = {}
    of_both: dict[tuple[int, int], list[int]] = {}
    for k, option in enumerate(options):
        of_line.setdefault(option.line, []).append(k)
        of_both.setdefault((option.line, option.pattern), []).append(k)
    for mine in of_line.values():
        program.row([(z[k], 1.0) for k in mine], 0.0, 1.0)
    for (_, j), mine in of_both.items():
        program.row([*((z[k], 1.0) for k in mine), (y[j], -1.0)], -np.inf, 0.0)
    if y:
        program.row([(column, 1.0) for column in y.values()], 0.0, float(timer.programmes))
    if is_bound:
        _hours(tables, program, options, z, y)
        _tank(tables, program, options, z)
    solved = solve(program, seconds=seconds)
    bound = solved.bound + float(dry.sum())
    if solved.values is None:
        return None, bound
    made: list[tuple[int, int] | None] = [None] * len(dry)
    for k, option in enumerate(options):
        if solved.values[z[k]] > 0.5:
            made[option.line] = (option.pattern, option.steps)
    return tuple(made), bound


def _hours(tables: Tables, program: Program, options: Sequence[Option], z: Sequence[int], y: Mapping[int, int]) -> None:
    """In each window all starts of all programmes with their pauses, one after another."""
    asked, lines = tables.asked, list(tables.by_line)
    length: dict[int, list[tuple[int, float]]] = {j: [] for j in y}
    step = float(asked.timer.step_minutes)
    for group in asked.opened():
        mine = [i for i, line in enumerate(lines) if line in group]
        for j in y:
            terms = {
                i: [(z[k], step * o.steps) for k, o in enumerate(options) if o.line == i and o.pattern == j]
                for i in mine
            }
            if len(mine) == 1:
                length[j] += terms[mine[0]]
            elif any(terms.values()):
                longest = program.column(0.0)
                for one in terms.values():
                    if one:
                        program.row([(longest, 1.0), *((c, -v) for c, v in one)], 0.0, np.inf)
                length[j].append((longest, 1.0))
    for w, (a, b) in enumerate(asked.span.windows):
        row = [(c, v * tables.patterns[j].starts[w]) for j in y for c, v in length[j] if tables.patterns[j].starts[w]]
        row += [
            (y[j], float((tables.patterns[j].starts[w] - 1) * asked.rules.pause_minutes))
            for j in y
            if tables.patterns[j].starts[w] > 1
        ]
        if row:
            program.row(row, -np.inf, float(b - a))


def _tank(tables: Tables, program: Program, options: Sequence[Option], z: Sequence[int]) -> None:
    if tables.asked.rules.tank_l is None or not options:
        return
    lines = list(tables.by_line)
    each = np.array([tables.goes_by_day(o.pattern) for o in options]).cumsum(axis=1)
    litres = np.array(
        [o.steps * tables.asked.timer.step_minutes * tables.asked.flows_lph[lines[o.line]] / 60.0 for o in options]
    )
    for d, most in enumerate(tables.tank_l()):
        terms = [(z[k], float(litres[k] * each[k, d])) for k in range(len(options)) if each[k, d] > 0]
        if terms:
            program.row(terms, -np.inf, float(most))


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
        programme = Programme(name, tables.patterns[j].days, (), minutes)
        length, starts = length_minutes(programme, opened), []
        for w, n in enumerate(tables.patterns[j].starts):
            for k in range(n):
                starts.append(free[w] + k * (length + asked.rules.pause_minutes))
            free[w] += n * length + max(n - 1, 0) * asked.rules.pause_minutes
        made.append(replace(programme, starts=tuple(starts)))
    return tuple(made)


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
