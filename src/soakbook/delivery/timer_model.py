"""What a simple timer stores, what is set on it, and the rules it has to keep. Frozen data; minutes of the day count from midnight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from soakbook.errors import InputError
from soakbook.said import Said, say

DayKind = Literal["weekdays", "every", "parity"]
Parity = Literal["any", "odd", "even"]
DAY_KINDS: tuple[DayKind, ...] = ("weekdays", "every", "parity")
ALL_WEEK = (0, 1, 2, 3, 4, 5, 6)
#: Minutes in a day.
DAY_MIN = 1440


@dataclass(frozen=True)
class Days:
    """The days on which a programme runs.

    ``weekdays`` (0 Monday to 6 Sunday) count for that kind; ``every`` so many days from ``first`` on for *every*; ``parity`` of the day
    of the month for the last.
    """

    kind: DayKind = "weekdays"
    weekdays: tuple[int, ...] = ALL_WEEK
    every: int = 1
    first: date | None = None
    parity: Parity = "any"

    def runs_on(self, day: date) -> bool:
        """Whether a programme with these days runs on that day."""
        if self.kind == "weekdays":
            return day.weekday() in self.weekdays
        if self.kind == "every":
            return self.first is not None and (day - self.first).days % self.every == 0
        return self.parity == "any" or (day.day % 2 == 1) == (self.parity == "odd")


@dataclass(frozen=True)
class Timer:
    """What the timer can store.

    ``programmes``; ``starts`` of each (clock times, the same on all its days); ``day_kinds`` it knows; run times in steps of
    ``step_minutes`` up to ``longest_minutes`` a start; ``longest_interval`` for *every so many days*; ``lines`` it can open; whether it
    may open lines ``together`` (else one after another).
    """

    programmes: int = 2
    starts: int = 4
    day_kinds: tuple[DayKind, ...] = ("weekdays",)
    step_minutes: int = 1
    longest_minutes: int = 240
    longest_interval: int = 7
    lines: int = 8
    together: bool = False


@dataclass(frozen=True)
class Rules:
    """What must be kept besides: by law, by the hour, by the tap.

    ``weekdays`` and ``parity``: days on which watering is allowed. ``hours``: spans of minutes of the day in which it is; ``avoid``:
    spans within them that are left out, such as the hot hours. ``pause_minutes`` between two runs of one line on a day, so that the first
    can sink in. ``flow_cap_lph``: most that may flow at once. ``tank_l``: what the tank holds now, and ``refill_lpd`` what comes into it
    a day, None without a tank.
    """

    weekdays: tuple[int, ...] = ALL_WEEK
    parity: Parity = "any"
    hours: tuple[tuple[int, int], ...] = ((4 * 60, 10 * 60), (18 * 60, 22 * 60))
    avoid: tuple[tuple[int, int], ...] = ((10 * 60, 18 * 60),)
    pause_minutes: int = 30
    flow_cap_lph: float | None = None
    tank_l: float | None = None
    refill_lpd: float = 0.0

    def allows(self, day: date) -> bool:
        """Whether watering is allowed on a day."""
        return day.weekday() in self.weekdays and Days("parity", parity=self.parity).runs_on(day)

    def windows(self) -> tuple[tuple[int, int], ...]:
        """Spans of the day in which lines may run: the allowed hours without those to avoid."""
        open_minutes = [any(a <= m < b for a, b in self.hours) for m in range(DAY_MIN)]
        for a, b in self.avoid:
            for m in range(max(a, 0), min(b, DAY_MIN)):
                open_minutes[m] = False
        spans: list[tuple[int, int]] = []
        start: int | None = None
        for m, is_open in enumerate([*open_minutes, False]):
            if is_open and start is None:
                start = m
            elif not is_open and start is not None:
                spans.append((start, m))
                start = None
        return tuple(spans)


@dataclass(frozen=True)
class Programme:
    """One programme: its days, its start times and how long each line runs at every start, in the order of the lines."""

    name: str
    days: Days
    starts: tuple[int, ...]
    minutes: tuple[tuple[str, int], ...]

    def minutes_of(self, line: str) -> int:
        """Minutes of a line at each start, 0 when it is not in the programme."""
        return next((m for name, m in self.minutes if name == line), 0)


@dataclass(frozen=True)
class Run:
    """A line open from one minute of the day to another, ``end`` not included."""

    line: str
    start: int
    end: int
    programme: str


def lengths_ok(timer: Timer) -> None:
    """Refuse a timer that cannot be."""
    checks = (
        ("programmes", timer.programmes, 1, 12),
        ("starts", timer.starts, 1, 12),
        ("step_minutes", timer.step_minutes, 1, 60),
        ("longest_minutes", timer.longest_minutes, timer.step_minutes, 720),
        ("longest_interval", timer.longest_interval, 1, 31),
        ("lines", timer.lines, 1, 64),
    )
    for field, value, least, most in checks:
        if not least <= value <= most:
            raise InputError(
                say("{field} of a timer must be {least} to {most} (got {value}).", field=field, least=least, most=most, value=value),
                code="timer.range", field=field,
            )  # fmt: skip
    if not timer.day_kinds or any(kind not in DAY_KINDS for kind in timer.day_kinds):
        raise InputError(
            say("the days a timer knows must be some of {kinds}.", kinds=", ".join(DAY_KINDS)),
            code="timer.days", field="day_kinds",
        )  # fmt: skip


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
    if found:
        return tuple(found)
    opened = groups(timer, rules, flows_lph)
    windows = rules.windows()
    left_l = rules.tank_l
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
        if left_l is not None:
            left_l -= sum((run.end - run.start) / 60.0 * flows_lph[run.line] for run in runs)
            if left_l < -1e-6:
                found.append(say("the tank is empty on {day}.", day=day))
                left_l = 0.0
            left_l += rules.refill_lpd
    return tuple(dict.fromkeys(found))


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
            found.append(
                say(
                    "programme {name} needs days by {kind}, which the timer does not know.",
                    name=p.name,
                    kind=p.days.kind,
                )
            )
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


def clock(minute: int) -> str:
    """Minutes of the day as the clock shows them.

    Examples
    --------
    >>> clock(390)
    '06:30'
    """
    return f"{minute // 60 % 24:02d}:{minute % 60:02d}"
