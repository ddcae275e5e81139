"""Whether a simple timer can store what is set, and which rules that breaks. What it stores is :mod:`soakbook.garden.timer`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from soakbook.garden.timer import (
    ALL_WEEK,
    DAY_KINDS,
    DAY_MIN,
    Days,
    Parity,
    Programme,
    Rules,
    Timer,
    clock,
    lengths_ok,
)
from soakbook.said import Said, say

__all__ = [
    "ALL_WEEK", "DAY_KINDS", "DAY_MIN", "Days", "Parity", "Programme", "Rules", "Run", "Timer", "clock", "drawn_by_day_l", "groups",
    "length_minutes", "lengths_ok", "minutes_on", "problems", "runs_of", "tank_levels_l",
]  # fmt: skip


@dataclass(frozen=True)
class Run:
    """A line open from one minute of the day to another, ``end`` not included."""

    line: str
    start: int
    end: int
    programme: str


def groups(timer: Timer, rules: Rules, flows_lph: Mapping[str, float]) -> tuple[tuple[str, ...], ...]:
    """Lines that are opened together, group after group: one line each, or as many as the flow cap takes (largest first)."""
    if not timer.together or rules.flow_cap_lph is None:
        return tuple((name,) for name in flows_lph)
    made: list[list[str]] = []
    for name in sorted(flows_lph, key=lambda n: -flows_lph[n]):
        for group in made:
            if sum(flows_lph[n] for n in group) + flows_lph[name] <= rules.flow_cap_lph:
                group.append(name)
                break
        else:
            made.append([name])
    return tuple(tuple(group) for group in made)


def length_minutes(programme: Programme, opened: Sequence[Sequence[str]]) -> int:
    """How long one start of a programme takes from its first line to its last."""
    return sum(max((programme.minutes_of(line) for line in group), default=0) for group in opened)


def runs_of(setting: Sequence[Programme], opened: Sequence[Sequence[str]], day: date) -> tuple[Run, ...]:
    """What is open when on a day; a run may end after midnight where it was set so."""
    runs = []
    for programme in setting:
        if not programme.days.runs_on(day):
            continue
        for start in programme.starts:
            at = start
            for group in opened:
                for line in group:
                    if programme.minutes_of(line) > 0:
                        runs.append(Run(line, at, at + programme.minutes_of(line), programme.name))
                at += max((programme.minutes_of(line) for line in group), default=0)
    return tuple(sorted(runs, key=lambda run: (run.start, run.line)))


def minutes_on(setting: Sequence[Programme], line: str, day: date) -> list[tuple[int, int]]:
    """(start of its programme, minutes) of every run of a line on a day."""
    return [
        (start, p.minutes_of(line))
        for p in setting
        if p.minutes_of(line) > 0 and p.days.runs_on(day)
        for start in p.starts
    ]


def tank_levels_l(rules: Rules, drawn_l: Iterable[float]) -> list[float]:
    """What a tank holds each evening after so much was drawn by day, below zero where it had not that much; it begins the next day with nothing, then. What comes in overnight
    runs over where the tank is full."""
    left, levels = rules.tank_l or 0.0, []
    for drawn in drawn_l:
        levels.append(left - drawn)
        left = max(levels[-1], 0.0) + rules.refill_lpd
        left = left if rules.tank_full_l is None else min(left, rules.tank_full_l)
    return levels


def drawn_by_day_l(setting: Sequence[Programme], flows_lph: Mapping[str, float], first: date, days: int) -> list[float]:
    """Litres that a setting draws on each day."""
    return [
        sum(
            len(p.starts) * minutes / 60.0 * flows_lph.get(line, 0.0)
            for p in setting
            if p.days.runs_on(first + timedelta(days=d))
            for line, minutes in p.minutes
        )
        for d in range(days)
    ]


def problems(
    setting: Sequence[Programme],
    timer: Timer,
    rules: Rules,
    flows_lph: Mapping[str, float],
    first: date,
    days: int = 14,
) -> tuple[Said, ...]:
    """What a setting breaks, in plain words; empty when it can be set and keeps every rule over ``days`` from ``first``."""
    found = _not_storable(setting, timer, flows_lph)
    if any(line not in flows_lph for p in setting for line, _ in p.minutes) or any(p.days.every < 1 for p in setting):
        return tuple(found)  # nobody knows what it would do
    opened = groups(timer, rules, flows_lph)
    windows = rules.windows()
    drawn_l: list[float] = []
    found += [
        say("programme {name} leaves less than {pause} min between two runs of {line}.", name=p.name, pause=rules.pause_minutes, line=line)
        for p in setting
        for line, minutes in p.minutes
        if minutes and rules.pause_minutes and any(b - a < minutes + rules.pause_minutes for a, b in pairwise(sorted(p.starts)))
    ]  # fmt: skip
    for d in range(days):
        day = first + timedelta(days=d)
        runs = runs_of(setting, opened, day)
        if runs and not rules.allows(day):
            found.append(
                say(
                    "programme {name} runs on {day}, a day on which watering is not allowed.",
                    name=runs[0].programme,
                    day=day,
                )
            )
        found += [
            say("line {line} runs from {start} to {end}, outside the allowed hours.", line=run.line, start=clock(run.start), end=clock(run.end))
            for run in runs
            if not any(a <= run.start and run.end <= b for a, b in windows)
        ]  # fmt: skip
        found += _at_once(runs, timer, rules, flows_lph)
        drawn_l.append(sum((run.end - run.start) / 60.0 * flows_lph[run.line] for run in runs))
    if rules.tank_l is not None:
        found += [
            say("the tank is empty on {day}.", day=first + timedelta(days=d))
            for d, left in enumerate(tank_levels_l(rules, drawn_l))
            if left < -1e-6
        ]
    return tuple(dict.fromkeys(found))


_KINDS = {
    "weekdays": say("on days of the week"),
    "every": say("every so many days"),
    "parity": say("on odd or even dates"),
}


def _not_storable(setting: Sequence[Programme], timer: Timer, flows_lph: Mapping[str, float]) -> list[Said]:
    """What the timer has no room for."""
    found: list[Said] = []
    if len(setting) > timer.programmes:
        found.append(say("{n} programmes are set, the timer holds {most}.", n=len(setting), most=timer.programmes))
    for p in setting:
        if len(p.starts) > timer.starts:
            found.append(
                say(
                    "programme {name} has {n} start times, the timer holds {most}.",
                    name=p.name,
                    n=len(p.starts),
                    most=timer.starts,
                )
            )
        if any(not 0 <= start < DAY_MIN for start in p.starts) or len(set(p.starts)) < len(p.starts):
            found.append(say("the start times of programme {name} must differ and lie within the day.", name=p.name))
        if p.days.kind not in timer.day_kinds:
            found.append(say("programme {name} runs {days}; the timer cannot be set so.", name=p.name, days=_KINDS[p.days.kind]))  # fmt: skip
        if p.days.kind == "every" and not (1 <= p.days.every <= timer.longest_interval and p.days.first is not None):
            found.append(
                say("programme {name} must run every 1 to {most} days.", name=p.name, most=timer.longest_interval)
            )
        for line, minutes in p.minutes:
            if line not in flows_lph:
                found.append(say('there is no line "{line}".', line=line))
            if not 0 <= minutes <= timer.longest_minutes or minutes % timer.step_minutes:
                found.append(say(
                    "line {line}: {minutes} minutes cannot be set; the timer takes steps of {step} up to {most}.",
                    line=line, minutes=minutes, step=timer.step_minutes, most=timer.longest_minutes,
                ))  # fmt: skip
    used = {line for p in setting for line, minutes in p.minutes if minutes}
    if len(used) > timer.lines:
        found.append(say("{n} lines are set, the timer opens {most}.", n=len(used), most=timer.lines))
    return found


def _at_once(runs: Sequence[Run], timer: Timer, rules: Rules, flows_lph: Mapping[str, float]) -> list[Said]:
    """Lines that run into one another, or draw more at once than may flow."""
    found: list[Said] = []
    for run in runs:
        beside = [other for other in runs if other.start <= run.start < other.end]
        flow = sum(flows_lph[other.line] for other in beside)
        if len(beside) > 1 and not timer.together:
            found.append(
                say(
                    "{lines} run at once at {at}; the timer opens one line at a time.",
                    lines=[o.line for o in beside],
                    at=clock(run.start),
                )
            )
        elif len({other.line for other in beside}) < len(beside):
            found.append(say("line {line} is started again at {at} while it runs.", line=run.line, at=clock(run.start)))
        if rules.flow_cap_lph is not None and flow > rules.flow_cap_lph * (1.0 + 1e-9):
            found.append(
                say(
                    "{flow:.0f} L/h flow at {at}, more than {most:.0f}.",
                    flow=flow,
                    at=clock(run.start),
                    most=rules.flow_cap_lph,
                )
            )
    return found
