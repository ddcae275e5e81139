"""Check my timer: what is set now does to every planting, and the smallest single change that helps most."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from soakbook.delivery.timer_judge import Judge, Judged, growth_lost
from soakbook.delivery.timer_model import ALL_WEEK, DAY_MIN, Days, Programme, Rules, Timer, clock, groups, problems
from soakbook.delivery.timer_place import TimerPlace
from soakbook.delivery.timer_tank import tank_shares
from soakbook.garden.timer_text import days_text
from soakbook.said import Said, say, say_n

#: Factors on one line's minutes that are looked at.
TIMES = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.55, 0.7, 0.85, 1.15, 1.3, 1.5, 1.75, 2.0, 2.5, 3.5, 5.0)
#: Hours tried for a start. [minutes of the day]
HOURS = (5 * 60, 7 * 60, 19 * 60)
#: A change must help by this much to be named at all, and one that helps nearly as much as the best is preferred where it changes less.
#: Judged. [hundredths of growth, mean over the places; part of the best gain]
WORTH, NEARLY = 0.1, 0.85
#: No change may lose so much more of the growth, whatever water it saves: nobody waters to let plants dry. Judged. [part of the growth, mean over the places]
LOST_MORE = 0.005


@dataclass(frozen=True)
class Change:
    """One change of a setting: in words, what it makes of the setting, what it saves, and how much it changes (0 little to 1 much)."""

    text: Said
    setting: tuple[Programme, ...]
    saves: float
    size: float


@dataclass(frozen=True)
class Check:
    """What a setting does, place by place, what it costs, and the change that helps most (None: none is worth it).

    ``tried`` of ``changes`` single changes were looked at before the time was up.
    """

    judged: tuple[Judged, ...]
    cost: float
    change: Change | None
    after: tuple[Judged, ...]
    tried: int
    changes: int


def judge_of(
    places: Sequence[TimerPlace], days: int, timer: Timer, rules: Rules, flows_lph: Mapping[str, float]
) -> Judge:
    """A judge of settings whose lines get nothing where the tank is empty."""
    if rules.tank_l is None:
        return Judge(places, days)
    first: date = places[0].days.days[0].astype(date)
    opened, looked = groups(timer, rules, flows_lph), max(len(one.days.days) for one in places)
    return Judge(places, days, lambda setting: tank_shares(setting, opened, rules, flows_lph, first, looked))


def check_timer(
    judge: Judge, setting: Sequence[Programme], timer: Timer, rules: Rules, flows_lph: Mapping[str, float],
    *, seconds: float = math.inf,
) -> Check:  # fmt: skip
    """Judge a setting and every single change of it.

    Parameters
    ----------
    judge
        The places over the days in question, such as what is left of the season (:func:`judge_of`).
    setting
        What is set now.
    timer, rules, flows_lph
        A change must not break a rule that the setting keeps (:func:`soakbook.delivery.timer_model.problems`), on any of those days.
    seconds
        No further change is begun after so long; those that change little are looked at first.
    """
    until = time.monotonic() + seconds
    judged, now = judge.judge(setting), judge.cost(setting)
    most_lost = growth_lost(judged) + LOST_MORE
    first: date = judge.places[0].days.days[0].astype(date)
    broken = len(problems(setting, timer, rules, flows_lph, first, judge.days))
    found, tried = [], 0
    listed = sorted(changes(setting, timer, rules), key=lambda one: one[2])
    for text, changed, size in listed:
        if time.monotonic() > until:
            break
        tried += 1
        saves = now - judge.cost(changed)
        if saves < WORTH or growth_lost(judge.judge(changed)) > most_lost:
            continue
        if len(problems(changed, timer, rules, flows_lph, first, judge.days)) <= broken:
            found.append(Change(text, changed, saves, size))
    most = max((one.saves for one in found), default=0.0)
    good = [one for one in found if one.saves >= NEARLY * most]
    change = min(good, key=lambda one: (one.size, -one.saves), default=None)
    after = judge.judge(change.setting) if change is not None else ()
    return Check(judged, now, change, after, tried, len(listed))


def told(broken: Sequence[Said]) -> tuple[Said, ...]:
    """What a setting breaks, each kind once: of days only the first, and how many there are more."""
    kinds: dict[tuple[str, str], list[Said]] = {}
    for one in broken:
        rest = {name: value for name, value in one.values.items() if name != "day"}
        kinds.setdefault((one.template, repr(rest)), []).append(one)
    return tuple(
        mine[0] if len(mine) == 1
        else say_n("{what} So on one day more.", "{what} So on {n} days more.", len(mine) - 1, what=mine[0])
        for mine in kinds.values()
    )  # fmt: skip


def changes(
    setting: Sequence[Programme], timer: Timer, rules: Rules
) -> Iterator[tuple[Said, tuple[Programme, ...], float]]:
    """Single changes: minutes of one line, one day more or less, another hour, a start more or less. Each with its size."""
    for k, programme in enumerate(setting):
        for changed, text, size in (
            *_minutes(programme, timer),
            *_days(programme, rules, timer),
            *_starts(programme, timer, rules),
        ):
            yield text, (*setting[:k], changed, *setting[k + 1 :]), size


def _minutes(programme: Programme, timer: Timer) -> Iterator[tuple[Programme, Said, float]]:
    step = timer.step_minutes
    most = timer.longest_minutes // step * step
    for line, minutes in programme.minutes:
        for new in sorted(
            {0, *(min(max(round(minutes * times / step), 1) * step, most) for times in TIMES)} - {minutes}
        ):
            mine = tuple((name, new if name == line else m) for name, m in programme.minutes)
            text = say(
                "programme {name}: {line} {new} min instead of {old}",
                name=programme.name,
                line=line,
                new=new,
                old=minutes,
            )
            size = min(0.25 * abs(math.log2(new / minutes)), 0.6) if new and minutes else 0.6
            yield replace(programme, minutes=mine), text, size


def _days(programme: Programme, rules: Rules, timer: Timer) -> Iterator[tuple[Programme, Said, float]]:
    days = programme.days
    others: list[Days] = []
    if days.kind == "weekdays":
        others += [replace(days, weekdays=tuple(d for d in days.weekdays if d != out)) for out in days.weekdays]
        more = [d for d in ALL_WEEK if d not in days.weekdays and d in rules.weekdays]
        others += [replace(days, weekdays=tuple(sorted((*days.weekdays, d)))) for d in more]
        others = [other for other in others if other.weekdays]
    elif days.kind == "every":
        others += [replace(days, every=n) for n in (days.every - 1, days.every + 1) if 1 <= n <= timer.longest_interval]
    for other in others:
        text = say(
            "programme {name}: {new} instead of {old}", name=programme.name, new=days_text(other), old=days_text(days)
        )
        yield replace(programme, days=other), text, 0.4


def _starts(programme: Programme, timer: Timer, rules: Rules) -> Iterator[tuple[Programme, Said, float]]:
    windows = rules.windows()
    hours = [h for h in HOURS if any(a <= h < b for a, b in windows) and h not in programme.starts]
    for hour in hours:
        for old in programme.starts:
            starts = tuple(sorted(hour if s == old else s for s in programme.starts))
            text = say(
                "programme {name}: start at {new} instead of {old}",
                name=programme.name,
                new=clock(hour),
                old=clock(old),
            )
            yield replace(programme, starts=starts), text, 0.3
        if len(programme.starts) < timer.starts:
            starts = tuple(sorted((*programme.starts, hour)))
            yield (
                replace(programme, starts=starts),
                say("programme {name}: also start at {new}", name=programme.name, new=clock(hour)),
                0.8,
            )
    if len(programme.starts) > 1:
        for old in programme.starts:
            starts = tuple(s for s in programme.starts if s != old)
            yield (
                replace(programme, starts=starts),
                say("programme {name}: no start at {old}", name=programme.name, old=clock(old)),
                0.5,
            )


def in_hot_hours(setting: Sequence[Programme]) -> tuple[Said, ...]:
    """Starts between ten and six, when more of what is sprayed is lost and leaves are hot."""
    return tuple(
        say("programme {name} starts at {at}, in the hot hours.", name=p.name, at=clock(s))
        for p in setting
        for s in p.starts
        if 600 <= s % DAY_MIN < 1080
    )
