"""The timer as its pages show it: what is asked, and the best setting as a card. The check is in :mod:`soakbook.app.timer_check_view`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader
from soakbook.errors import InputError, SourceDown
from soakbook.garden.timer_text import programme_text
from soakbook.said import Said, say
from soakbook.season.timer_parts import HOURS

if TYPE_CHECKING:
    from soakbook.app.desk import Desk, Known
    from soakbook.delivery.timer_card import Card, CardProgramme
    from soakbook.delivery.timer_judge import Judged
    from soakbook.delivery.timer_place import TimerPlace
    from soakbook.delivery.timer_plan import TimerPlan
    from soakbook.garden.model import Place
    from soakbook.garden.timer import Parity, Rules, Timer

#: What can be chosen: programmes, start times of each, steps of run times in minutes, kinds of days, dates allowed.
PROGRAMMES, STARTS, STEPS = (1, 2, 3, 4, 6, 8), (1, 2, 3, 4, 6, 8), (1, 2, 5, 10, 15, 30)
#: How often one would set it in a season, at most.
SETTINGS = (1, 2, 3, 4, 5, 6, 8)
KINDS = {"weekdays": say("days of the week"), "every": say("every so many days"), "parity": say("odd or even dates")}
DATES = {"any": say("any date"), "odd": say("odd dates only"), "even": say("even dates only")}
#: Seconds for each integer program.
SOLVE_S = 1.5
#: Spans of allowed hours: with many more a plan takes half a minute.
MOST_SPANS = 4


@dataclass(frozen=True)
class Asked:
    """What the forms ask: the timer (``programmes``, ``starts``, ``kinds``, ``step``, ``longest``, ``every_most``, ``can_open``, ``together``), the lines
    it ``opens`` (none named: all), the ``hours`` and ``dates`` allowed, days ``never``, the ``pause``, what limits flow and tank, and through how many ``settings`` a season is
    planned at most."""

    programmes: int = 2
    starts: int = 4
    kinds: tuple[str, ...] = ("weekdays",)
    step: int = 1
    hours: str = HOURS.replace(",", ", ")
    never: tuple[int, ...] = ()
    dates: str = "any"
    pause: int = 30
    flow_cap_lph: float | None = None
    tank_l: float | None = None
    refill_lpd: float = 0.0
    together: bool = False
    longest: int = 240
    every_most: int = 7
    can_open: int = 64
    opens: tuple[str, ...] = ()
    settings: int = 4

    def timer(self) -> Timer:
        """The timer that was described."""
        from soakbook.garden.timer import Timer, lengths_ok
        from soakbook.season.timer_parts import kinds_from

        kinds = kinds_from(",".join(self.kinds))
        made = Timer(
            self.programmes, self.starts, kinds, self.step, self.longest, self.every_most, self.can_open, self.together
        )
        lengths_ok(made)
        return made

    def rules(self) -> Rules:
        """What must be kept."""
        from soakbook.season.timer_parts import rules_from

        allowed = tuple(d for d in range(7) if d not in self.never)
        parity: Parity = "odd" if self.dates == "odd" else "even" if self.dates == "even" else "any"
        return replace(
            rules_from(self.hours), weekdays=allowed, parity=parity, pause_minutes=self.pause, flow_cap_lph=self.flow_cap_lph,
            tank_l=self.tank_l, refill_lpd=self.refill_lpd,
        )  # fmt: skip


@dataclass(frozen=True)
class PlaceShown:
    """A place: what grows in it, what it gets, what that does to it, and the same after a change where one is named."""

    place_id: str
    place: str
    plants: str
    line: str
    gets: str
    does: str
    after: str = ""


@dataclass(frozen=True)
class CardShown:
    """The card and what stands below it; ``limits``: what was not looked at; ``lines_to_set``: the setting as the garden file has it."""

    programmes: tuple[CardProgramme, ...]
    unused: bool
    change: str
    by_hand: str
    cautions: tuple[str, ...]
    places: tuple[PlaceShown, ...]
    limits: tuple[str, ...]
    weather: str
    lines_to_set: str = ""


def asked_checked(asked: Asked) -> Asked:
    """The same; InputError names the field where there is no such timer, or the rules leave no room."""
    asked.timer()
    _checked(asked.rules())
    return asked


def _checked(rules: Rules) -> None:
    """Refuse rules that leave no hour or no day."""
    if not rules.windows():
        raise InputError(
            say("the rules leave no hour to water in."), code="timer.hours", field="hours",
            hint=say("Allow some hours, or avoid fewer."),
        )  # fmt: skip
    if len(rules.windows()) > MOST_SPANS:
        raise InputError(
            say("give at most {most} spans of hours (got {n}).", most=MOST_SPANS, n=len(rules.windows())),
            code="timer.hours", field="hours",
        )  # fmt: skip
    if not rules.weekdays:
        raise InputError(say("the rules leave no day to water on."), code="timer.days", field="never")


def lines_known(known: Known) -> tuple[str, ...]:
    """Lines with a place on them whose flow is known, in the garden's order: what a timer could open."""
    from soakbook.garden.log import flow_lph

    garden = known.garden
    used = {p.line for p in garden.places if p.line is not None and flow_lph(p, garden)}
    return tuple(line.name for line in garden.lines if line.name in used)


def card_shown(desk: Desk, known: Known, asked: Asked, r: Reader) -> CardShown | None:
    """The best setting in the reader's words; None when nothing grows on a line."""
    key = ("timer", known.key, known.version, known.log_version, desk.sky(known).stamp, desk.today(known.garden), asked)
    made: tuple[Card, TimerPlan, tuple[Judged, ...], str] | None = desk.keep(key, lambda: _card(desk, known, asked))
    if made is None:
        return None
    card, plan, judged, source = made
    return CardShown(
        programmes=card.programmes, unused=card.unused > 0 and bool(card.programmes), change=_change(card, r),
        by_hand=r.listed(card.by_hand) if card.by_hand else "", cautions=tuple(r.tell(text) for text in card.cautions),
        places=places_shown(known, desk.today(known.garden), judged, (), r), limits=tuple(r.tell(text) for text in _plan_limits(plan, len(judged))), weather=r.tell(source),
        lines_to_set="\n".join(programme_text(one) for one in plan.setting),
    )  # fmt: skip


def _change(card: Card, r: Reader) -> str:
    """When to change the setting, with the day written out: a card hangs where nobody knows the order of its numbers."""
    from soakbook.delivery.timer_card import change_text

    said = change_text(card)
    days = {name: r.day(value, "long") for name, value in said.values.items() if isinstance(value, date)}
    return r.t(said.template, **{**said.values, **days})


def _card(desk: Desk, known: Known, asked: Asked) -> tuple[Card, TimerPlan, tuple[Judged, ...], str] | None:
    from soakbook.delivery.timer_card import card_of, next_change
    from soakbook.delivery.timer_judge import Judge
    from soakbook.delivery.timer_refine import MOST_REFINED, best_setting
    from soakbook.season.timer_parts import LOOK_DAYS, PLAN_DAYS, flows_of, not_reached, with_capacity

    garden, today = known.garden, desk.today(known.garden)
    places, source = ahead_places(desk, known, LOOK_DAYS, asked.opens)
    timer, rules, flows = asked.timer(), with_capacity(asked.rules(), garden), flows_of(garden, places)
    plan = best_setting(places, timer, rules, flows, today, PLAN_DAYS, seconds=SOLVE_S, most_refined=MOST_REFINED)
    if plan is None:
        return None
    judged = Judge(places, PLAN_DAYS).judge(plan.setting)
    by_hand = not_reached(garden, asked.opens, [one.place for one in judged])
    change = next_change(places, PLAN_DAYS, plan.setting, rules, flows)
    card = card_of(garden.name, today, plan.setting, timer, change, LOOK_DAYS, by_hand, places)
    return card, plan, judged, source


def _plan_limits(plan: TimerPlan, places: int) -> list[Said]:
    """How sure it is that nothing is better."""
    from soakbook.delivery.timer_refine import MOST_REFINED

    said = []
    if places > MOST_REFINED:
        said.append(
            say(
                "With so many places the plan was made with a simple store for each and not gone over with the water balance."
            )
        )
    if plan.is_proved:
        said.append(say("No setting looked at is better."))
    else:
        said.append(say("Another setting might cost {part:.0f} % less; the time was up.", part=100.0 * plan.gap))
    return said


def ahead_places(
    desk: Desk, known: Known, days: int, opens: tuple[str, ...] = ()
) -> tuple[tuple[TimerPlace, ...], str]:
    """Places a timer can water, on the lines it opens; with the usual weather of the place where the source cannot be had."""
    from soakbook.season.timer_parts import places_ahead

    today, log = desk.today(known.garden), desk.log(known)
    try:
        places, source = places_ahead(known.garden, log, known.folder, today, days)
    except SourceDown:
        places, source = places_ahead(replace(known.garden, weather="normals"), log, known.folder, today, days)
    return tuple(one for one in places if not opens or one.line in opens), source


def places_shown(
    known: Known, today: date, judged: Sequence[Judged], after: Sequence[Judged], r: Reader
) -> tuple[PlaceShown, ...]:
    """Places in the reader's words, those that change with what comes of it."""
    from soakbook.delivery.timer_judge import judged_text

    ids = {name: key for key, name in known.names.items()}
    grows = {place.name: _plants(place, today, r) for place in known.garden.places}
    then = {one.place: r.tell(judged_text(one)) for one in after}
    shown = []
    for one in judged:
        does = r.tell(judged_text(one))
        later = then.get(one.place, does)
        shown.append(
            PlaceShown(
                ids[one.place],
                one.place,
                grows[one.place],
                one.line,
                r.amount(one.given_l),
                does,
                later if later != does else "",
            )
        )
    return tuple(shown)


def _plants(place: Place, today: date, r: Reader) -> str:
    """What grows there, or will."""
    from soakbook.balance.place import resolve

    names = [plant.name for planting, plant in resolve(place) if planting.cleared is None or planting.cleared > today]
    return r.listed([r.tell(name) for name in dict.fromkeys(names)])
