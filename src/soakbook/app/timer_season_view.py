"""A season of settings, as its page shows it: what to set from which day on, what that does, and what fewer changes would do."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader
from soakbook.app.timer_view import SOLVE_S, Asked, PlaceShown, ahead_places, places_shown
from soakbook.garden.timer_text import programme_text

if TYPE_CHECKING:
    from soakbook.app.desk import Desk, Known
    from soakbook.delivery.timer_card import CardProgramme, SeasonCard
    from soakbook.delivery.timer_season import SeasonPlan

#: Seconds after which nothing is made finer any more.
SEASON_S = 8.0


@dataclass(frozen=True)
class StretchShown:
    """What is set from a day on; ``unused``: whether programmes are left to be switched off."""

    first: str
    programmes: tuple[CardProgramme, ...]
    unused: bool


@dataclass(frozen=True)
class TimesShown:
    """What setting the timer so many times does; ``is_chosen``: it is the one on the card."""

    times: str
    lost: str
    water: str
    wasted: str
    both: str
    is_chosen: bool


@dataclass(frozen=True)
class SeasonShown:
    """The card of a season and what stands below it; ``lines_to_set``: what is set first, as the garden file has it. ``looked_to``: said in
    place of its end where something grows on."""

    stretches: tuple[StretchShown, ...]
    over: str
    looked_to: str
    by_hand: str
    cautions: tuple[str, ...]
    times: tuple[TimesShown, ...]
    span: str
    places: tuple[PlaceShown, ...]
    is_whole: bool
    weather: str
    lines_to_set: str


def season_shown(desk: Desk, known: Known, asked: Asked, r: Reader) -> SeasonShown | None:
    """The season in the reader's words; None when nothing grows on a line."""
    today = desk.today(known.garden)
    key = ("timer season", known.key, known.version, known.log_version, desk.sky(known).stamp, today, asked)
    made: tuple[SeasonCard, SeasonPlan, str] | None = desk.keep(key, lambda: _season(desk, known, asked))
    if made is None:
        return None
    card, plan, source = made
    stretches = [
        StretchShown(r.day(first, "long"), programmes, unused > 0 and bool(programmes))
        for first, programmes, unused in card.stretches
    ]
    times = [
        TimesShown(str(one.count), f"{100.0 * one.lost:.1f} %", r.amount(one.given_l), r.amount(one.wasted_l), f"{one.cost:.1f} %", one == plan.chosen)
        for one in plan.by_count
    ]  # fmt: skip
    from soakbook.delivery.timer_card import looked_to

    last = card.over - timedelta(days=1)
    return SeasonShown(
        looked_to="" if card.is_over else r.t(looked_to(card.over).template, last=r.day(card.over, "long")),
        stretches=tuple(stretches), over=r.day(card.over, "long"), by_hand=r.listed(card.by_hand) if card.by_hand else "",
        cautions=tuple(r.tell(text) for text in card.cautions), times=tuple(times),
        span=r.t("From {first} to {last}, when the last of it is over.", first=r.day(today, "long"), last=r.day(last, "long"))
        if card.is_over else r.t("{first} to {last}", first=r.day(today, "long"), last=r.day(last, "long")),
        places=places_shown(known, today, plan.judged, (), r), is_whole=plan.is_whole, weather=r.tell(source),
        lines_to_set="\n".join(programme_text(one) for one in plan.chosen.series[0].setting),
    )  # fmt: skip


def _season(desk: Desk, known: Known, asked: Asked) -> tuple[SeasonCard, SeasonPlan, str] | None:
    from soakbook.delivery.timer_card import season_card
    from soakbook.delivery.timer_season import plan_season
    from soakbook.season.timer_parts import AHEAD_DAYS, flows_of, not_reached, season_days, with_capacity

    garden, today = known.garden, desk.today(known.garden)
    places, source = ahead_places(desk, known, AHEAD_DAYS, asked.opens)
    days = season_days(places)
    if not days:
        return None
    timer, flows = asked.timer(), flows_of(garden, places)
    rules = with_capacity(asked.rules(), garden)
    plan = plan_season(places, timer, rules, flows, days, most=asked.settings, seconds=SOLVE_S, within=SEASON_S)
    by_hand = not_reached(garden, asked.opens, [one.place for one in plan.judged])
    card = season_card(garden.name, today, plan.days, plan.chosen.series, timer, by_hand, places, is_over=plan.is_over)
    return card, plan, source
