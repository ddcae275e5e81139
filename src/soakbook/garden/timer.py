"""What a simple timer stores, what is set on it, and the rules it has to keep. Frozen data; minutes of the day count from midnight."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from soakbook.errors import InputError
from soakbook.said import Measure, say

DayKind = Literal["weekdays", "every", "parity"]
Parity = Literal["any", "odd", "even"]
DAY_KINDS: tuple[DayKind, ...] = ("weekdays", "every", "parity")
ALL_WEEK = (0, 1, 2, 3, 4, 5, 6)
#: Days ahead from which nobody sets a timer: the year is likely a slip. Judged.
FAR_DAYS = 366
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
    a day, None without a tank; ``tank_full_l``: what it holds when full, where that is known.
    """

    weekdays: tuple[int, ...] = ALL_WEEK
    parity: Parity = "any"
    hours: tuple[tuple[int, int], ...] = ((4 * 60, 10 * 60), (18 * 60, 22 * 60))
    avoid: tuple[tuple[int, int], ...] = ((10 * 60, 18 * 60),)
    pause_minutes: int = 30
    flow_cap_lph: float | None = None
    tank_l: float | None = None
    refill_lpd: float = 0.0
    tank_full_l: float | None = None

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
class Spell:
    """Programmes that ran from one day to before another; None: they run still."""

    setting: tuple[Programme, ...]
    since: date
    until: date | None = None


@dataclass(frozen=True)
class KeptTimer:
    """A timer as the garden keeps it: what it can hold, the rules, and what is set on it now (nothing: ``setting`` is empty).

    ``opens`` are the lines it opens, all of the garden where none is named. ``since``: the day from which its runs count as waterings, None
    where they are not counted; ``earlier``: what ran before.
    """

    name: str
    timer: Timer = Timer()
    rules: Rules = Rules(avoid=())
    opens: tuple[str, ...] = ()
    setting: tuple[Programme, ...] = ()
    since: date | None = None
    earlier: tuple[Spell, ...] = ()

    def has_line(self, line: str) -> bool:
        """Whether it opens a line."""
        return not self.opens or line in self.opens


#: Amounts that are taken, wherever they are typed: kind of quantity, least and most in the unit used inside.
AMOUNTS: dict[str, tuple[str, float, float]] = {
    "pause": ("duration", 0.0, 10.0), "flow_cap": ("flow", 1.0, 1e5), "tank": ("volume", 1.0, 1e6), "refill": ("volume", 0.0, 1e6),
}  # fmt: skip


def amount_ok(value: float, name: str, got: str) -> float:
    """The amount of that name of :data:`AMOUNTS`; InputError where there is none such."""
    kind, low, high = AMOUNTS[name]
    if not low <= value <= high:
        raise InputError(
            say("This must be from {low} to {high} (got {got}).", low=Measure(low, kind), high=Measure(high, kind), got=got[:40]),
            code="timer.range", field=name,
        )  # fmt: skip
    return value


def amounts_ok(rules: Rules) -> None:
    """Refuse a tank or what comes into it that cannot be."""
    for name, litres in (("tank", rules.tank_l), ("refill", rules.refill_lpd)):
        if litres is not None and not 0.0 <= litres <= AMOUNTS[name][2]:  # a tank that has run empty is one too
            amount_ok(litres, name, f"{litres:g} L")


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


def clock(minute: int) -> str:
    """Minutes of the day as the clock shows them.

    Examples
    --------
    >>> clock(390)
    '06:30'
    """
    return f"{minute // 60 % 24:02d}:{minute % 60:02d}"
