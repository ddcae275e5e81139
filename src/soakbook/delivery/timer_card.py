"""The card to print and tape to the timer: what to set, what to mind, and when to change it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from soakbook.balance.crops import NONE
from soakbook.balance.layout import BENEATH
from soakbook.delivery.timer_model import Programme, Timer, clock
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
    """The day from which a setting is off at a place, and by which part its need has moved by then (above 0: it needs more); infinite where
    it is sown or planted on that day."""

    on: date
    place: str
    moved: float


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


def next_change(places: Sequence[TimerPlace], planned_days: int, off_by: float = OFF_BY) -> ChangeDay | None:
    """The first day after those planned for on which some place's need has moved by more than ``off_by``; None within what is looked at.

    Need is the use of the watered part kept moist, meaned over the members and :data:`OVER_DAYS`, against its mean over the planned days.
    Bare soil that is kept moist uses water too; so the day on which a place is sown or planted counts by itself.
    """
    found: list[ChangeDay] = []
    for one in places:
        grows = one.days.crops.phase != NONE
        if not grows[:planned_days].any():
            begins = np.flatnonzero(grows)
            if len(begins):
                sown: date = one.days.days[int(begins[0])].astype(date)
                found.append(ChangeDay(sown, one.name, math.inf))
            continue
        daily = kept_full(one, len(one.days.days)).mean(axis=1)
        planned = float(daily[:planned_days].mean())
        if planned <= 0.0 or len(daily) < OVER_DAYS:
            continue
        week = np.convolve(daily, np.ones(OVER_DAYS) / OVER_DAYS, mode="valid")  # week[d]: days d to d + 6
        moved = week / planned - 1.0
        late = np.flatnonzero(np.abs(moved[planned_days:]) > off_by)
        if len(late):
            at = planned_days + int(late[0])
            day: date = one.days.days[at].astype(date)
            found.append(ChangeDay(day, one.name, float(moved[at])))
    return min(found, key=lambda change: change.on, default=None)


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
    if card.change is None:
        last = card.made + timedelta(days=card.looked_days)
        return looked_to(last)
    if math.isinf(card.change.moved):
        return say("Set it anew on {on}: {place} is sown or planted then.", on=card.change.on, place=card.change.place)
    way = say("more") if card.change.moved > 0 else say("less")
    return say(
        "Set it anew on {on}: {place} then needs {part:.0f} % {way}.",
        on=card.change.on, place=card.change.place, part=100.0 * abs(card.change.moved), way=way,
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
