"""The choice of patterns and run times as an integer program."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from soakbook.delivery.timer_highs import Program, keep_the_tank, solve
from soakbook.delivery.timer_tables import Choice, Tables


@dataclass(frozen=True)
class Option:
    """A line under a pattern with a run time in steps, and its cost."""

    line: int
    pattern: int
    steps: int
    cost: float


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
        _hours(tables, program, {both: [(z[k], options[k].steps) for k in mine] for both, mine in of_both.items()}, y)
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


def _hours(
    tables: Tables, program: Program, of_both: Mapping[tuple[int, int], Sequence[tuple[int, int]]], y: Mapping[int, int]
) -> None:
    """In each window all starts of all programmes with their pauses, one after another; ``of_both``: columns and steps by line and pattern."""
    asked, lines = tables.asked, list(tables.by_line)
    length: dict[int, list[tuple[int, float]]] = {j: [] for j in y}
    step = float(asked.timer.step_minutes)
    for group in asked.opened():
        mine = [i for i, line in enumerate(lines) if line in group]
        for j in y:
            terms = {i: [(column, step * steps) for column, steps in of_both.get((i, j), ())] for i in mine}
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
    goes = [tables.goes_by_day(o.pattern) for o in options]
    litres = [o.steps * tables.asked.timer.step_minutes * tables.asked.flows_lph[lines[o.line]] / 60.0 for o in options]
    drawn = [
        [(z[k], float(litres[k] * goes[k][d])) for k in range(len(options)) if goes[k][d] > 0]
        for d in range(tables.asked.span.days)
    ]
    keep_the_tank(tables.asked.rules, program, drawn)
