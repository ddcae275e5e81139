"""What a plan of a timer is made for, and the tables it chooses from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from soakbook.delivery.timer_cost import Best, best_of, line_costs
from soakbook.delivery.timer_model import Programme, Rules, Timer, groups, length_minutes, lengths_ok, tank_levels_l
from soakbook.delivery.timer_need import FloatArray, Need, Span
from soakbook.delivery.timer_pattern import Pattern, patterns_of
from soakbook.errors import InputError
from soakbook.garden.timer import amounts_ok
from soakbook.said import say

#: The longest plan: a growing season. [days]
MOST_DAYS = 250
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
    if not 1 <= days <= MOST_DAYS:
        raise InputError(
            say("a plan covers 1 to {most} days (got {days}).", most=MOST_DAYS, days=days),
            code="timer.days",
            field="days",
        )
    return Span(first, days, windows)


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
        return rules.tank_l is None or min(tank_levels_l(rules, self.drawn_l(chosen))) >= -1e-9

    def drawn_l(self, chosen: Choice) -> FloatArray:
        """Litres drawn each day, (days,)."""
        total = np.zeros(self.asked.span.days)
        for line, one in zip(self.by_line, chosen, strict=True):
            if one is not None:
                litres = one[1] * self.asked.timer.step_minutes * self.asked.flows_lph[line] / 60.0
                total += litres * self.goes_by_day(one[0])
        return total

    def tank_l(self) -> float:
        """Litres that the tank can give at most over all days, none of it running over."""
        rules = self.asked.rules
        return (rules.tank_l or 0.0) + rules.refill_lpd * (self.asked.span.days - 1)

    def goes_by_day(self, j: int) -> FloatArray:
        """Starts of a pattern on each day."""
        return np.asarray(self.patterns[j].goes.reshape(self.asked.span.days, -1).sum(axis=1))


def nothing_grows(field: str = "lines") -> InputError:
    """What to say where there is nothing a timer could water."""
    return InputError(
        say("nothing grows in these days in a place on a line whose flow is known."), code="timer.lines", field=field,
        hint=say("Give lines a flow (catch it in a bucket and time it), or ask for days on which something grows there. What is past its usual season counts as nothing."),
    )  # fmt: skip


def check_asked(asked: Asked) -> None:
    """Refuse what no setting could keep."""
    lengths_ok(asked.timer)
    amounts_ok(asked.rules)
    by_line = asked.by_line()
    if not by_line:
        raise nothing_grows()
    if len(by_line) > asked.timer.lines:
        raise InputError(
            say("{n} lines are wanted, the timer opens {most}.", n=len(by_line), most=asked.timer.lines),
            code="timer.lines", field="lines", hint=say("Join lines, or leave some to be opened by hand."),
        )  # fmt: skip
    step = asked.timer.step_minutes
    if max(b - a for a, b in asked.span.windows) < step:
        raise InputError(
            say("the allowed hours have no room for one step of the run times, {step} min.", step=step), code="timer.hours", field="hours",
            hint=say("Allow some hours, or avoid fewer."),
        )  # fmt: skip
    cap = asked.rules.flow_cap_lph
    for line in by_line:
        if cap is not None and asked.flows_lph[line] > cap:
            raise InputError(
                say("line {line} alone draws {flow:.0f} L/h, more than {most:.0f}.", line=line, flow=asked.flows_lph[line], most=cap),
                code="timer.flow", field="flow_cap", hint=say("Split the line in two."),
            )  # fmt: skip
