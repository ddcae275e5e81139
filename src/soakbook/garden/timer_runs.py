"""What a timer has run, and will run, as waterings: nobody writes into the log what the tap does by itself."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from soakbook.garden.log import flow_lph
from soakbook.garden.model import Garden, LogEntry, Place
from soakbook.garden.timer import KeptTimer, Spell

#: Runs are counted so many days back: a season and what came before it.
DAYS_BACK = 400


def timer_entries(garden: Garden, on: date) -> list[LogEntry]:
    """The runs of all timers whose runs count, up to the end of a day, as waterings of the places on their lines.

    A place whose flow is not known gets none, for nobody knows how much that was.
    """
    return entries_between(garden, garden.places, on - timedelta(days=DAYS_BACK), on)


def entries_between(garden: Garden, places: Sequence[Place], first: date, last: date) -> list[LogEntry]:
    """The runs that count from ``first`` to ``last``, as waterings of those of the places that are on the timers' lines."""
    zone = ZoneInfo(garden.time_zone)
    made = []
    for timer in garden.timers:
        fed = [
            (p, flow) for p in places if p.line is not None and timer.has_line(p.line) and (flow := flow_lph(p, garden))
        ]
        for day, start, line, minutes in runs_between(timer, first, last):
            at = datetime.combine(day, time(start // 60, start % 60), tzinfo=zone)
            made += [
                LogEntry(f"timer {timer.name} {at.isoformat()} {p.name}", at, "water", p.name, litres=flow * minutes / 60.0, minutes=float(minutes), timer=timer.name)
                for p, flow in fed
                if p.line == line
            ]  # fmt: skip
    return made


def runs_between(timer: KeptTimer, first: date, last: date) -> Iterator[tuple[date, int, str, int]]:
    """(day, start, line, minutes) of every run that counts, from ``first`` to ``last``, in the order of their starts."""
    for spell in spells_of(timer):
        day = max(spell.since, first)
        while day <= last and (spell.until is None or day < spell.until):
            yield from sorted(
                (day, start, line, minutes)
                for programme in spell.setting
                if programme.days.runs_on(day)
                for start in programme.starts
                for line, minutes in programme.minutes
                if minutes
            )
            day += timedelta(days=1)


def spells_of(timer: KeptTimer) -> tuple[Spell, ...]:
    """What was set when, of what counts."""
    now = (Spell(timer.setting, timer.since),) if timer.since is not None and timer.setting else ()
    return (*timer.earlier, *now)
