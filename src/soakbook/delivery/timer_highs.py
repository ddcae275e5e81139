"""Linear and integer programs by HiGHS, silent, from rows of (column, coefficient)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from soakbook.delivery.timer_need import FloatArray
from soakbook.errors import SoakbookError
from soakbook.garden.timer import Rules
from soakbook.said import say


@dataclass
class Program:
    """A program while it is written down: columns with cost, upper bound (lower bound 0) and whether whole; rows with bounds."""

    cost: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    starts: list[int] = field(default_factory=lambda: [0])
    index: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def column(self, cost: float, upper: float = np.inf, whole: bool = False) -> int:
        """Add a column; its number."""
        self.cost.append(cost)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(self, terms: list[tuple[int, float]], low: float, high: float) -> None:
        """Add ``low <= sum of terms <= high``."""
        self.index += [column for column, _ in terms]
        self.value += [value for _, value in terms]
        self.starts.append(len(self.index))
        self.low.append(low)
        self.high.append(high)


def keep_the_tank(rules: Rules, program: Program, drawn: Sequence[Sequence[tuple[int, float]]]) -> None:
    """Rows that let no day draw more than the tank holds: what is ``drawn`` each day in terms of columns, in litres.

    A column for each morning holds no more than what the evening before left and what came in, and no more than a full tank.
    """
    if rules.tank_l is None:
        return
    level = program.column(0.0, rules.tank_l)
    full = np.inf if rules.tank_full_l is None else rules.tank_full_l
    for terms in drawn[:-1]:
        morning = program.column(0.0, full)
        program.row([(morning, 1.0), (level, -1.0), *terms], -np.inf, rules.refill_lpd)
        program.row([*terms, (level, -1.0)], -np.inf, 0.0)
        level = morning
    program.row([*drawn[-1], (level, -1.0)], -np.inf, 0.0)


@dataclass(frozen=True)
class Solved:
    """Values of the columns (None when none were found in time), their cost, and the proven bound below it."""

    values: FloatArray | None
    cost: float
    bound: float


def solve(program: Program, *, seconds: float = 60.0, gap: float = 1e-6) -> Solved:
    """Minimise.

    Parameters
    ----------
    program
        What to solve; it must have a solution.
    seconds
        Time limit.
    gap
        Distance to the bound, in units of the cost, at which an integer program may stop.

    Raises
    ------
    SoakbookError
        When it has no solution: our bug, for doing nothing always keeps every rule.
    """
    if not program.cost:
        return Solved(np.empty(0), 0.0, 0.0)
    import highspy

    highs = _silent()
    highs.setOptionValue("time_limit", max(seconds, 0.01))
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.setOptionValue("mip_abs_gap", gap)
    highs.setOptionValue("threads", 1)
    highs.passModel(_model(program))
    highs.run()
    status, info = highs.getModelStatus(), highs.getInfo()
    stopped = (highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kTimeLimit)
    if status not in stopped:
        raise SoakbookError(
            say("the timer plan could not be solved ({status}).", status=highs.modelStatusToString(status)),
            code="timer.solve", hint=say("This is a fault of the program; please report it with the garden file."),
        )  # fmt: skip
    is_whole = any(program.whole)
    found = info.primal_solution_status == 2
    values = np.array(highs.getSolution().col_value) if found else None
    cost = float(info.objective_function_value) if found else np.inf
    done = status == highspy.HighsModelStatus.kOptimal
    bound = float(info.mip_dual_bound) if is_whole else (cost if done else -np.inf)
    return Solved(values, cost, bound)


def _silent() -> Any:
    """A solver that prints nothing: it would say its name as soon as it is made, when it puts its callbacks in place, which we have no use for."""
    import highspy

    class Silent(highspy.Highs):
        def enableCallbacks(self) -> None:  # noqa: N802 (the library's name)
            self.setOptionValue("output_flag", False)

    made: Any = Silent
    return made()


def _model(program: Program) -> object:
    import highspy

    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(program.cost), len(program.low)
    lp.col_cost_, lp.col_lower_ = np.array(program.cost), np.zeros(len(program.cost))
    lp.col_upper_ = np.array(program.upper)
    lp.row_lower_, lp.row_upper_ = np.array(program.low), np.array(program.high)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.array(program.starts)
    lp.a_matrix_.index_, lp.a_matrix_.value_ = np.array(program.index), np.array(program.value)
    if any(program.whole):
        kinds = highspy.HighsVarType
        lp.integrality_ = [kinds.kInteger if whole else kinds.kContinuous for whole in program.whole]
    return lp
