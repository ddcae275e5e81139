"""What a timer is planned and checked with: the timer, the rules and the garden's lines, from words and numbers somebody typed."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.delivery.timer_model import Rules, Timer
    from soakbook.delivery.timer_place import TimerPlace
    from soakbook.garden.model import Garden, LogEntry

#: Members of the weather and of what is not known of a place.
MEMBERS = 20
#: Hours allowed when nothing is said: not the hot ones.
HOURS = "04:00-10:00,18:00-22:00"
#: Days a plan is made for, how far ahead is looked for the day to change it, and for the end of the season.
PLAN_DAYS, LOOK_DAYS, SEASON_DAYS = 14, 60, 150


def timer_from(programmes: int, starts: int, kinds: str, step: int, longest: int, lines: int, together: bool) -> Timer:
    """The timer that was described."""
    from soakbook.delivery.timer_model import DAY_KINDS, Timer, lengths_ok
    from soakbook.errors import InputError

    asked = [part.strip().lower() for part in kinds.split(",") if part.strip()]
    known = tuple(kind for kind in DAY_KINDS if kind in asked)
    if len(known) < len(set(asked)) or not asked:
        raise InputError(
            say("the days a timer knows must be some of {kinds} (got {got}).", kinds=", ".join(DAY_KINDS), got=kinds[:60]),
            code="timer.days", field="days", hint=say("parity means odd or even dates."),
        )  # fmt: skip
    timer = Timer(programmes, starts, known, step, longest, lines=lines, together=together)
    lengths_ok(timer)
    return timer


def rules_from(
    hours: str, allowed: str, pause: int, flow_cap: str | None, tank: str | None, refill: str | None
) -> Rules:
    """The rules that were given."""
    from datetime import date as day

    from soakbook.delivery.timer_model import ALL_WEEK, Rules
    from soakbook.delivery.timer_words import days_from
    from soakbook.units import parse_quantity

    days = days_from(allowed, day(2026, 1, 1))
    spans = hours_from(hours)
    return Rules(
        weekdays=days.weekdays if days.kind == "weekdays" else ALL_WEEK,
        parity=days.parity if days.kind == "parity" else "any",
        hours=spans, avoid=(), pause_minutes=pause,
        flow_cap_lph=parse_quantity(flow_cap, "flow", field="flow_cap") if flow_cap else None,
        tank_l=parse_quantity(tank, "volume", field="tank") if tank else None,
        refill_lpd=parse_quantity(refill, "volume", field="refill") if refill else 0.0,
    )  # fmt: skip


def hours_from(text: str) -> tuple[tuple[int, int], ...]:
    """Spans of minutes of the day from "04:00-10:00, 18:00-22:00"."""
    return tuple(_span(part) for part in text.split(",") if part.strip())


def _span(text: str) -> tuple[int, int]:
    import re

    from soakbook.errors import InputError

    found = re.fullmatch(r"\s*(\d{1,2}):(\d\d)\s*-\s*(\d{1,2}):(\d\d)\s*", text)
    a, b = (60 * int(found[1]) + int(found[2]), 60 * int(found[3]) + int(found[4])) if found else (0, 0)
    if not 0 <= a < b <= 1440:
        raise InputError(
            say("hours must be spans within a day, such as 04:00-10:00 (got {got}).", got=text.strip()[:40]),
            code="timer.hours", field="hours", hint=say("Part several by commas; a span over midnight is two."),
        )  # fmt: skip
    return a, b


def places_ahead(
    garden: Garden, log: list[LogEntry], folder: Path, on: date, days: int
) -> tuple[tuple[TimerPlace, ...], str]:
    """The places a timer can water, as they are this morning, with the weather that may come; and where that is from."""
    from soakbook.advice.belief import believe
    from soakbook.advice.sky import members_for, weather_for
    from soakbook.delivery.timer_place import timer_places

    weather = weather_for(garden, on, log, folder=folder)
    ahead = members_for(garden, weather, on, count=MEMBERS, folder=folder, days=days)
    used: dict[str, float] = {}
    for place in garden.places:
        if place.line is not None:
            belief = believe(garden, place, weather, log, on, count=MEMBERS)
            used[place.name] = float(belief.days.used_fraction(belief.now.water_mm[0], belief.today).mean())
    return timer_places(garden, ahead, used=used), ahead.source


def flows_of(garden: Garden, places: tuple[TimerPlace, ...]) -> dict[str, float]:
    """Flow of every line with a place on it that grows something, in the garden's order. [L/h]"""
    own = {line.name: line.flow_lph for line in garden.lines}
    used = {one.line for one in places}
    return {
        name: own[name] or 60.0 * sum(p.litres_per_minute for p in places if p.line == name)
        for name in own
        if name in used
    }


def season_days(places: tuple[TimerPlace, ...]) -> int:
    """Days from the first on until nothing grows any more that has not passed its usual season."""
    import numpy as np

    from soakbook.balance.crops import NONE, OVER

    ends = [np.flatnonzero(np.isin(p.days.crops.phase, (NONE, OVER), invert=True)) for p in places]
    return max((int(found[-1]) + 1 for found in ends if len(found)), default=1)


def last_day(on: date, days: int) -> date:
    """The last of so many days."""
    return on + timedelta(days=days - 1)
