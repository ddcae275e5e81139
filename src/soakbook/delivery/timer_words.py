"""A timer's programme as people write and read it: "mon,wed,sat 06:00 tomatoes 40 min"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from soakbook.delivery.timer_model import ALL_WEEK, Days, Programme
from soakbook.errors import InputError
from soakbook.said import Said, say

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_NAMES = (say("Mon"), say("Tue"), say("Wed"), say("Thu"), say("Fri"), say("Sat"), say("Sun"))
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")
_MINUTES = re.compile(r"(.+?)\s+(\d+)\s*min(?:utes)?\.?", re.IGNORECASE)


def days_text(days: Days) -> Said:
    """The days in words."""
    if days.kind == "every":
        if days.every == 1:
            return say("every day")
        return say("every {n} days from {first}", n=days.every, first=days.first)
    if days.kind == "parity":
        return {"odd": say("odd dates"), "even": say("even dates"), "any": say("every day")}[days.parity]
    if len(days.weekdays) == 7:
        return say("every day")
    return say("{days}", days=[_NAMES[d] for d in sorted(days.weekdays)])


def days_from(text: str, first: date) -> Days:
    """Days from "daily", "mon,wed", "every 3 days", "odd" or "even".

    Raises
    ------
    InputError
        When it is none of these.
    """
    word = text.strip().lower()
    if word in ("daily", "every day"):
        return Days()
    if word in ("odd", "even"):
        return Days("parity", parity="odd" if word == "odd" else "even")
    if found := re.fullmatch(r"every (\d+) days?", word):
        if not 1 <= int(found[1]) <= 31:
            raise InputError(
                say("every {n} days: it must be 1 to 31.", n=int(found[1])), code="timer.every", field="set"
            )
        return Days("every", every=int(found[1]), first=first)
    parts = [part.strip()[:3] for part in word.split(",") if part.strip()]
    if parts and all(part in WEEKDAYS for part in parts):
        return Days("weekdays", tuple(sorted({WEEKDAYS.index(part) for part in parts})))
    raise InputError(
        say('"{text}" is not a way to say days.', text=text[:40]),
        code="timer.days", field="set", hint=say("Write daily, mon,wed,sat, every 3 days, odd or even."),
    )  # fmt: skip


def programme_from(text: str, name: str, lines: Sequence[str], first: date) -> Programme:
    """A programme from one line of text: days, start times, then lines with their minutes, parted by commas.

    Examples
    --------
    >>> p = programme_from("mon,wed,sat 06:00 20:00 tomatoes 40 min, herbs 5 min", "A", ["tomatoes", "herbs"], date(2026, 6, 1))
    >>> p.days.weekdays, p.starts, p.minutes
    ((0, 2, 5), (360, 1200), (('tomatoes', 40), ('herbs', 5)))

    Raises
    ------
    InputError
        Saying which part cannot be read.
    """
    clocks = list(_CLOCK.finditer(text))
    if not clocks:
        raise InputError(
            say('"{text}" has no start time.', text=text[:60]),
            code="timer.start", field="set", hint=say('Write it like "mon,wed,sat 06:00 tomatoes 40 min".'),
        )  # fmt: skip
    days = days_from(text[: clocks[0].start()].strip(" ,") or "daily", first)
    starts = tuple(sorted({60 * int(c[1]) + int(c[2]) for c in clocks}))
    minutes: dict[str, int] = {}
    for part in text[clocks[-1].end() :].split(","):
        found = _MINUTES.fullmatch(part.strip())
        if not found:
            raise InputError(
                say('"{part}" does not say how many minutes which line runs.', part=part.strip()[:60]),
                code="timer.minutes", field="set", hint=say('Write it like "tomatoes 40 min".'),
            )  # fmt: skip
        minutes[_line(found[1], lines)] = int(found[2])
    ordered = tuple((line, minutes[line]) for line in lines if line in minutes)
    return Programme(name, days, starts, ordered)


def _line(text: str, lines: Sequence[str]) -> str:
    for line in lines:
        if line.casefold() == text.strip().casefold():
            return line
    raise InputError(
        say('there is no line "{line}".', line=text.strip()[:40]),
        code="timer.line", field="set", hint=say("Lines: {lines}.", lines=list(lines)),
    )  # fmt: skip


def is_daily(days: Days) -> bool:
    """Whether a programme with these days runs every day."""
    return (days.kind == "weekdays" and days.weekdays == ALL_WEEK) or (days.kind == "every" and days.every == 1)
