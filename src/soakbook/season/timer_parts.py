"""What a timer is planned and checked with: the timer, the rules and the garden's lines, from words and numbers somebody typed."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.delivery.timer_place import TimerPlace
    from soakbook.garden.model import Garden, LogEntry
    from soakbook.garden.timer import DayKind, KeptTimer, Rules, Timer

#: Members of the weather and of what is not known of a place.
MEMBERS = 100
#: Hours allowed when nothing is said: not the hot ones.
HOURS = "04:00-10:00,18:00-22:00"
#: Days a plan is made for, how far ahead is looked for the day to change it, and for the end of the season that is checked or planned for: the same
#: for both, or they would be judged by other weather.
PLAN_DAYS, LOOK_DAYS, AHEAD_DAYS = 14, 60, 245


def kept_timer(garden: Garden, name: str | None = None) -> KeptTimer | None:
    """The timer that the garden keeps: the one of that name, else its first; None where it keeps none.

    Raises
    ------
    InputError
        There is none of that name.
    """
    from soakbook.errors import InputError
    from soakbook.garden.words import plain

    if name is None:
        return garden.timers[0] if garden.timers else None
    found = next((one for one in garden.timers if plain(one.name) == plain(name)), None)
    if found is None:
        raise InputError(
            say('there is no timer "{name}".', name=name[:40]), code="timer.unknown", field="timer",
            hint=say("Timers of this garden: {timers}.", timers=[one.name for one in garden.timers] or [say("none")]),
        )  # fmt: skip
    return found


def timer_from(
    programmes: int | None = None, starts: int | None = None, kinds: str | None = None, step: int | None = None,
    longest: int | None = None, lines: int | None = None, together: bool | None = None, base: Timer | None = None,
) -> Timer:  # fmt: skip
    """The timer that was described, over the one that is kept (``base``): what was left out is as there."""
    from dataclasses import replace

    from soakbook.garden.timer import Timer, lengths_ok

    said = {
        "programmes": programmes, "starts": starts, "day_kinds": None if kinds is None else kinds_from(kinds), "step_minutes": step,
        "longest_minutes": longest, "lines": lines, "together": together,
    }  # fmt: skip
    timer = replace(base or Timer(), **{name: value for name, value in said.items() if value is not None})  # type: ignore[arg-type]
    lengths_ok(timer)
    return timer


def kinds_from(text: str) -> tuple[DayKind, ...]:
    """Kinds of days from "weekdays, every"."""
    from soakbook.errors import InputError
    from soakbook.garden.timer import DAY_KINDS

    asked = [part.strip().lower() for part in text.split(",") if part.strip()]
    known = tuple(kind for kind in DAY_KINDS if kind in asked)
    if len(known) < len(set(asked)) or not asked:
        raise InputError(
            say("the days a timer knows must be some of {kinds} (got {got}).", kinds=", ".join(DAY_KINDS), got=text[:60]),
            code="timer.days", field="days", hint=say("parity means odd or even dates."),
        )  # fmt: skip
    return known


def rules_from(
    hours: str | None = None, allowed: str | None = None, pause: int | None = None, flow_cap: str | None = None,
    tank: str | None = None, refill: str | None = None, base: Rules | None = None,
) -> Rules:  # fmt: skip
    """The rules that were given, over those that are kept (``base``); InputError names the option where there are none such."""
    from dataclasses import replace
    from datetime import date as day

    from soakbook.errors import InputError
    from soakbook.garden.tap_text import flow_cap_lph
    from soakbook.garden.timer import ALL_WEEK, Rules, amount_ok
    from soakbook.garden.timer_text import days_from, hours_from
    from soakbook.units import parse_quantity

    rules = base or Rules(hours=hours_from(HOURS), avoid=())
    if hours is not None:
        rules = replace(rules, hours=hours_from(hours))
    if allowed is not None:
        days = days_from(allowed, day(2026, 1, 1))
        if days.kind == "every" and days.every > 1:
            raise InputError(
                say('"{text}" is not a rule about days.', text=allowed), code="timer.allowed", field="allowed",
                hint=say("Write days of the week (mon,wed,sat), odd or even."),
            )  # fmt: skip
        weekdays = days.weekdays if days.kind == "weekdays" else ALL_WEEK
        rules = replace(rules, weekdays=weekdays, parity=days.parity if days.kind == "parity" else "any")
    if pause is not None:
        rules = replace(rules, pause_minutes=pause)
    if flow_cap:
        rules = replace(rules, flow_cap_lph=amount_ok(flow_cap_lph(flow_cap, "flow_cap"), "flow_cap", flow_cap))
    if tank:
        rules = replace(rules, tank_l=amount_ok(parse_quantity(tank, "volume", field="tank"), "tank", tank))
    if refill:
        rules = replace(rules, refill_lpd=amount_ok(parse_quantity(refill, "volume", field="refill"), "refill", refill))
    return rules


def with_capacity(rules: Rules, garden: Garden) -> Rules:
    """The rules with what the garden's tank holds when full, where there is a tank and that is known; what it holds now it can hold."""
    from dataclasses import replace

    full_l = garden.supply.tank_l
    return rules if rules.tank_l is None or full_l is None else replace(rules, tank_full_l=max(rules.tank_l, full_l))


def of_timer(kept: KeptTimer | None, places: tuple[TimerPlace, ...]) -> tuple[TimerPlace, ...]:
    """The places on lines that the timer opens."""
    return places if kept is None else tuple(one for one in places if kept.has_line(one.line))


def not_reached(garden: Garden, opens: tuple[str, ...], reached: list[str]) -> list[str]:
    """Places to be watered by hand: planted ones that are not reached, and not on a line that another timer opens.

    One on a line of this timer whose flow is known is left out: nothing grows there in the days that were looked at.
    """
    from soakbook.garden.log import flow_lph

    others = {line for one in garden.timers if one.opens != opens for line in one.opens} - set(opens)
    idle = {p.name for p in garden.places if p.line and flow_lph(p, garden) and (not opens or p.line in opens)}
    return [p.name for p in garden.places if p.plantings and p.name not in {*reached, *idle} and p.line not in others]


def places_ahead(
    garden: Garden, log: list[LogEntry], folder: Path, on: date, days: int
) -> tuple[tuple[TimerPlace, ...], str]:
    """The places a timer can water, as they are this morning, with the weather that may come; and where that is from."""
    import numpy as np

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
    past = weather.between(weather.times[0], np.datetime64(on) - np.timedelta64(1, "D"))
    return timer_places(garden, ahead, used=used, past=past), ahead.source


def flows_of(garden: Garden, places: tuple[TimerPlace, ...]) -> dict[str, float]:
    """Flow of every line with a place on it that grows something, in the garden's order. [L/h]"""
    own = {line.name: line.flow_lph for line in garden.lines}
    used = {one.line for one in places}
    return {
        name: own[name] or 60.0 * sum(p.litres_per_minute for p in places if p.line == name)
        for name in own
        if name in used
    }


def flows_of_all(garden: Garden, places: tuple[TimerPlace, ...]) -> dict[str, float]:
    """Flow of every line of the garden, whatever grows on it: what a setting may draw; 0 where nobody knows it. [L/h]"""
    return {**{line.name: line.flow_lph or 0.0 for line in garden.lines}, **flows_of(garden, places)}


def season_days(places: tuple[TimerPlace, ...]) -> int:
    """Days from the first on until nothing grows any more that has not passed its usual season; 0 where nothing does."""
    import numpy as np

    ends = [np.flatnonzero(p.grows) for p in places]
    return max((int(found[-1]) + 1 for found in ends if len(found)), default=0)


def last_day(on: date, days: int) -> date:
    """The last of so many days."""
    return on + timedelta(days=days - 1)
