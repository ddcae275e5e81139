"""The card to print and tape to the timer: what to set, what to mind, and when to change it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from soakbook.balance.layout import BENEATH
from soakbook.delivery.timer_model import Programme, Rules, Timer, clock, drawn_by_day_l, tank_levels_l
from soakbook.delivery.timer_place import TimerPlace, kept_full
from soakbook.delivery.timer_series import Series
from soakbook.garden.timer_text import days_text
from soakbook.said import Said, join_said, say

#: Part by which a place's need must have moved before the setting is called off. Judged: flows are known no better.
OFF_BY = 0.25
#: Days over which need is averaged when it is looked for. [days]
OVER_DAYS = 7
#: Starts from this minute of the day on leave leaves wet overnight. Judged.
EVENING = 17 * 60
CAUTIONS = (
    say("Look at the soil a finger deep once a week: the timer does not see rain, heat or a blocked emitter."),
    say("Any line on drinking water needs backflow protection at the tap, as your local code asks."),
    say("Drip lines and soakers need a pressure reducer and a filter; keep to the pressure printed on them."),
    say("Before frost: take the timer in, open the lines and let them drain."),
    say("Local watering rules and plumbing codes, and a licensed plumber's advice, come first."),
)
#: What a season of settings cannot know.
USUAL_ONLY = say(
    "This goes by the weather that is usual here: in a spell of heat or rain set more or less, by the card for two weeks."
)


@dataclass(frozen=True)
class ChangeDay:
    """The day from which a setting is off, and why: the ``need`` of a place has ``moved`` by that part (above 0: it needs more); it is ``sown`` or
    planted then; it is ``over``, or all that the timer waters is (``done``); or the ``tank`` is empty. ``place``: empty for the last two."""

    on: date
    place: str = ""
    moved: float = 0.0
    why: Literal["need", "sown", "over", "done", "tank"] = "need"


@dataclass(frozen=True)
class CardProgramme:
    """A programme as it is set: everything in words and figures."""

    name: str
    days: Said
    starts: tuple[str, ...]
    minutes: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Card:
    """What the card says. ``unused``: programmes of the timer to be switched off; ``by_hand``: places the timer does not reach."""

    garden: str
    made: date
    programmes: tuple[CardProgramme, ...]
    unused: int
    change: ChangeDay | None
    looked_days: int
    by_hand: tuple[str, ...]
    cautions: tuple[Said, ...] = CAUTIONS


@dataclass(frozen=True)
class SeasonCard:
    """The settings of a season: from which day on what is set. ``over``: the day from which nothing grows any more, or where not ``is_over``
    the day up to which was looked."""

    garden: str
    made: date
    stretches: tuple[tuple[date, tuple[CardProgramme, ...], int], ...]
    over: date
    by_hand: tuple[str, ...]
    cautions: tuple[Said, ...] = (USUAL_ONLY, *CAUTIONS)
    is_over: bool = True


def next_change(
    places: Sequence[TimerPlace], planned_days: int, setting: Sequence[Programme], rules: Rules, flows_lph: Mapping[str, float],
    off_by: float = OFF_BY,
) -> ChangeDay | None:  # fmt: skip
    """The first day on which a setting is off: after those planned for some place's need has moved by more than ``off_by``, something is sown or over
    there; or the tank is empty, or all is over. None within what is looked at.

    Need is the use of the watered part kept moist, meaned over the members and :data:`OVER_DAYS`, against its mean over the planned days.
    Bare soil that is kept moist uses water too; so the day on which a place is sown or planted counts by itself. Where a line is off, only a need that
    grows counts: less than nothing cannot be set.
    """
    found: list[ChangeDay | None] = [_tank_empty(places, setting, rules, flows_lph), _all_over(places, setting)]
    for one in places:
        is_on = any(p.minutes_of(one.line) for p in setting)
        found += _of_place(one, planned_days, off_by, is_on=is_on)
    return min((one for one in found if one is not None), key=lambda change: change.on, default=None)


def _of_place(one: TimerPlace, planned_days: int, off_by: float, *, is_on: bool) -> list[ChangeDay]:
    """The days from which the setting is off at a place: sown or over, and need moved."""
    if not one.grows[:planned_days].any():
        begins = np.flatnonzero(one.grows)
        return [ChangeDay(_day(one, int(begins[0])), one.name, why="sown")] if len(begins) else []
    found = []
    ends = np.flatnonzero(~one.grows[planned_days:])
    if is_on and len(ends):
        found.append(ChangeDay(_day(one, planned_days + int(ends[0])), one.name, why="over"))
    daily = kept_full(one, len(one.days.days)).mean(axis=1)
    planned = float(daily[:planned_days].mean())
    if planned <= 0.0 or len(daily) < OVER_DAYS:
        return found
    week = np.convolve(daily, np.ones(OVER_DAYS) / OVER_DAYS, mode="valid")  # week[d]: days d to d + 6
    moved = (week / planned - 1.0)[planned_days:]
    late = np.flatnonzero((moved > off_by) | (is_on & (moved < -off_by)))
    if len(late):
        found.append(ChangeDay(_day(one, planned_days + int(late[0])), one.name, float(moved[late[0]])))
    return found


def _all_over(places: Sequence[TimerPlace], setting: Sequence[Programme]) -> ChangeDay | None:
    """The day from which nothing grows any more on lines that run; None where that is not looked to, or nothing runs."""
    on = [one for one in places if any(p.minutes_of(one.line) for p in setting)]
    last = max((int(np.flatnonzero(one.grows)[-1]) for one in on if one.grows.any()), default=-1)
    if not on or last + 1 >= len(on[0].days.days):
        return None
    return ChangeDay(_day(on[0], last + 1), why="done")


def _tank_empty(
    places: Sequence[TimerPlace], setting: Sequence[Programme], rules: Rules, flows_lph: Mapping[str, float]
) -> ChangeDay | None:
    """The first day on which the tank has not what the setting draws; None where that is not looked to, or there is no tank."""
    if rules.tank_l is None or not places:
        return None
    drawn_l = drawn_by_day_l(setting, flows_lph, _day(places[0], 0), len(places[0].days.days))
    short = (d for d, left in enumerate(tank_levels_l(rules, drawn_l)) if left < -1e-6)
    return next((ChangeDay(_day(places[0], d), why="tank") for d in short), None)


def _day(one: TimerPlace, at: int) -> date:
    found: date = one.days.days[at].astype(date)
    return found


def wet_leaves(setting: Sequence[Programme], places: Sequence[TimerPlace]) -> tuple[Said, ...]:
    """What to heed where lines that wet leaves run in the evening (common practice: water them so that they dry soon)."""
    overhead = {one.line for one in places if one.days.place.means not in BENEATH}
    late = {
        line for p in setting for line, m in p.minutes if m and line in overhead and any(s >= EVENING for s in p.starts)
    }
    if not late:
        return ()
    return (say("{lines}: water from above in the evening leaves leaves wet all night, which spreads disease. Allow mornings only, such as 04:00-10:00.", lines=sorted(late)),)  # fmt: skip


def card_of(
    garden: str, made: date, setting: Sequence[Programme], timer: Timer, change: ChangeDay | None, looked_days: int,
    by_hand: Sequence[str] = (), places: Sequence[TimerPlace] = (),
) -> Card:  # fmt: skip
    """The card of a setting; ``places``: what is on its lines."""
    cautions = (*wet_leaves(setting, places), *CAUTIONS)
    return Card(
        garden, made, as_set(setting), timer.programmes - len(setting), change, looked_days, tuple(by_hand), cautions
    )


def as_set(setting: Sequence[Programme]) -> tuple[CardProgramme, ...]:
    """Programmes in words and figures."""
    return tuple(
        CardProgramme(p.name, days_text(p.days), tuple(clock(s) for s in p.starts), tuple(m for m in p.minutes if m[1]))
        for p in setting
    )


def season_card(
    garden: str, made: date, days: int, series: Series, timer: Timer, by_hand: Sequence[str], places: Sequence[TimerPlace] = (), *,
    is_over: bool = True,
) -> SeasonCard:  # fmt: skip
    """The card of a season of so many days; ``places``: what is on its lines, ``is_over``: nothing grows after them."""
    stretches = tuple(
        (made + timedelta(days=one.first), as_set(one.setting), timer.programmes - len(one.setting)) for one in series
    )
    late = dict.fromkeys(text for one in series for text in wet_leaves(one.setting, places))
    cautions = (USUAL_ONLY, *late, *CAUTIONS)
    return SeasonCard(garden, made, stretches, made + timedelta(days=days), tuple(by_hand), cautions, is_over)


def change_text(card: Card) -> Said:
    """When to change the setting."""
    change = card.change
    if change is None:
        return looked_to(card.made + timedelta(days=card.looked_days))
    on, place = change.on, change.place
    if change.why == "sown":
        return say("Set it anew on {on}: {place} is sown or planted then.", on=on, place=place)
    if change.why == "over":
        return say("Set it anew on {on}: what grows at {place} is past its usual season then, or cleared.", on=on, place=place)  # fmt: skip
    if change.why == "done":
        return say("Turn it off on {on}: what grows on its lines is past its usual season then, or cleared.", on=on)
    if change.why == "tank":
        return say("Set it anew on {on}: the tank is empty then. Fill it by that day.", on=on)
    way = say("more") if change.moved > 0 else say("less")
    return say(
        "Set it anew on {on}: {place} then needs {part:.0f} % {way}.", on=on, place=place, part=100.0 * abs(change.moved), way=way
    )  # fmt: skip


def looked_to(last: date) -> Said:
    """That nothing is known of the days after."""
    return say("Set it anew by {last} at the latest: no farther has been looked.", last=last)


def card_lines(card: Card) -> tuple[Said, ...]:
    """The card as lines of text."""
    lines = [say("{garden}: timer as of {made}", garden=card.garden, made=card.made)]
    lines += programme_lines(card.programmes, card.unused)
    if card.by_hand:
        lines.append(say("Not on the timer, water by hand: {places}.", places=list(card.by_hand)))
    return (*lines, change_text(card), *card.cautions)


def programme_lines(programmes: Sequence[CardProgramme], unused: int) -> list[Said]:
    """Programmes as lines of text."""
    lines = []
    for p in programmes:
        lines.append(say("Programme {name}: {days}; start {starts}", name=p.name, days=p.days, starts=list(p.starts)))
        lines += [say("  {line}: {minutes} min", line=line, minutes=minutes) for line, minutes in p.minutes]
    if not programmes:
        lines.append(say("Nothing: leave the timer off."))
    elif unused > 0:
        lines.append(say("All other programmes: off."))
    return lines


def season_lines(card: SeasonCard) -> tuple[Said, ...]:
    """The card of a season as lines of text."""
    lines = [say("{garden}: timer through the season, as of {made}", garden=card.garden, made=card.made)]
    for first, programmes, unused in card.stretches:
        lines += [say("From {day}:", day=first), *programme_lines(programmes, unused)]
    off = say("From {day}: off. Nothing on its lines grows any more.", day=card.over)
    lines.append(off if card.is_over else looked_to(card.over))
    if card.by_hand:
        lines.append(say("Not on the timer, water by hand: {places}.", places=list(card.by_hand)))
    return (*lines, *card.cautions)


def card_text(card: Card) -> Said:
    """The card as one text."""
    return join_said(card_lines(card), "\n")
