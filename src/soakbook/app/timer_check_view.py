"""Check my timer, as its page shows it: what is set, what that does to every place, and the change that helps most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader
from soakbook.app.timer_view import Asked, PlaceShown, ahead_places, places_shown
from soakbook.said import Said

if TYPE_CHECKING:
    from soakbook.app.desk import Desk, Known
    from soakbook.delivery.timer_card import CardProgramme
    from soakbook.delivery.timer_check import Check
    from soakbook.delivery.timer_model import Programme

#: What is set runs at most so many minutes and comes back after at most so many days.
LONGEST_SET_MIN, LONGEST_SET_DAYS = 720, 31
#: The most sentences about rules that are broken; of the others only how many there are is said.
MOST_MINDS = 6
#: Seconds after which no further change is tried.
CHECK_S = 3.5


@dataclass(frozen=True)
class CheckShown:
    """What the setting does. ``change`` is empty when no single change helps much; ``then`` is the setting with it."""

    span: str
    places: tuple[PlaceShown, ...]
    minds: tuple[str, ...]
    change: str
    gain: str
    then: tuple[CardProgramme, ...]
    limits: tuple[str, ...]
    cautions: tuple[str, ...]
    weather: str


@dataclass(frozen=True)
class Checked:
    """What a check found over so many ``days``, rules that are broken (``minds``), with what ``tank``, and whether all ``is_over`` after them."""

    check: Check
    minds: tuple[Said, ...]
    days: int
    source: str
    tank: Said | None
    is_over: bool


def check_shown(desk: Desk, known: Known, asked: Asked, setting: tuple[Programme, ...], r: Reader) -> CheckShown | None:
    """What the setting does, in the reader's words; None when nothing grows on a line."""
    from soakbook.delivery.timer_card import CAUTIONS, card_of
    from soakbook.delivery.timer_judge import gain_text
    from soakbook.season.timer_parts import last_day

    sky, today = desk.sky(known).stamp, desk.today(known.garden)
    key = ("timer check", known.key, known.version, known.log_version, sky, today, asked, setting)
    made: Checked | None = desk.keep(key, lambda: _check(desk, known, asked, setting))
    if made is None:
        return None
    check, first, last = made.check, r.day(today, "long"), r.day(last_day(today, made.days), "long")
    change = check.change
    then = card_of("", today, change.setting, asked.timer(), None, 0).programmes if change else ()
    limits = [r.tell(made.tank)] if made.tank is not None else []
    if check.tried < check.changes:
        limits.append(
            r.t("The time was up after {n} of {of} changes; the small ones were looked at first.", n=check.tried, of=check.changes)
        )  # fmt: skip
    return CheckShown(
        span=r.t("From {first} to {last}, when the last of it is over.", first=first, last=last) if made.is_over
        else r.t("{first} to {last}", first=first, last=last),
        places=places_shown(known, today, check.judged, check.after, r), minds=_minds(made.minds, r),
        change=r.tell(change.text) if change else "", gain=r.tell(gain_text(check.judged, check.after)) if change else "", then=then, limits=tuple(limits),
        cautions=tuple(r.tell(text) for text in CAUTIONS), weather=r.tell(made.source),
    )  # fmt: skip


def _minds(minds: Sequence[Said], r: Reader) -> tuple[str, ...]:
    """What to mind of the setting, cut short where one slip breaks a rule at every start."""
    shown = [r.tell(text) for text in minds[:MOST_MINDS]]
    more = len(minds) - len(shown)
    return (*shown, r.tn("one more of this kind.", "{n} more of this kind.", more)) if more > 0 else tuple(shown)


def _check(desk: Desk, known: Known, asked: Asked, setting: tuple[Programme, ...]) -> Checked | None:
    from soakbook.delivery.timer_check import check_timer, in_hot_hours, judge_of, told
    from soakbook.delivery.timer_model import problems
    from soakbook.delivery.timer_tank import tank_text
    from soakbook.season.timer_parts import AHEAD_DAYS, flows_of_all, season_days, with_capacity

    today = desk.today(known.garden)
    places, source = ahead_places(desk, known, AHEAD_DAYS, asked.opens)
    days = season_days(places)
    if not days:
        return None
    timer = replace(
        asked.timer(), programmes=len(setting), starts=max(asked.starts, *(len(p.starts) for p in setting)),
        longest_minutes=LONGEST_SET_MIN, longest_interval=LONGEST_SET_DAYS,
    )  # fmt: skip
    rules = with_capacity(asked.rules(), known.garden)
    flows = flows_of_all(known.garden, places)
    minds = (*told(problems(setting, timer, rules, flows, today, days)), *in_hot_hours(setting))
    check = check_timer(judge_of(places, days, timer, rules, flows), setting, timer, rules, flows, seconds=CHECK_S)
    is_over = days < max(len(one.days.days) for one in places)
    return Checked(check, minds, days, source, tank_text(rules), is_over)
