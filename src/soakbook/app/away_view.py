"""The weeks away as their page shows them: what is asked, what becomes of each place, who should come when, what to do before."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from soakbook.app.reader import Reader
from soakbook.app.round_view import details, headline
from soakbook.errors import InputError, SourceDown
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.app.desk import Desk, Known
    from soakbook.delivery.timer_card import CardProgramme
    from soakbook.season.away import Away, PlaceAway
    from soakbook.season.away_before import Ranked
    from soakbook.season.away_list import Gift
    from soakbook.season.away_run import Outcome
    from soakbook.season.away_timer import OnTimer
    from soakbook.weather.members import WeatherMembers
    from soakbook.weather.series import WeatherSeries

#: What the form has before anything is asked: from a week on, two weeks, nobody.
FROM_DAYS, FOR_DAYS = 7, 14
#: The most visits that can be chosen, and the most days between runs of a programme.
MOST_VISITS, MOST_EVERY = 6, 7


@dataclass(frozen=True)
class Asked:
    """What is asked: the days away, how often somebody could come, every how many days a programme runs (0 for none), and whether the timer is
    looked at."""

    first: date
    last: date
    visits: int = 0
    every: int = 0
    timer: bool = False


@dataclass(frozen=True)
class PlaceShown:
    """A place: from when it is short, what is lost in each case asked for (words and share), whether plants die, what helps most there."""

    place_id: str
    place: str
    short: str
    losses: tuple[tuple[str, str], ...]
    dies: str
    helps: str


@dataclass(frozen=True)
class GiftShown:
    """What a visit gives a place: the amount said largest, more of it, and the rain after which it is left out."""

    place: str
    amount: str
    more: tuple[str, ...]


@dataclass(frozen=True)
class AwayShown:
    """The answer. ``visits`` are days and what is given on them (what the timer leaves, where that was asked too: ``left`` says what that is not),
    ``measures`` what to do before leaving, each with where it does harm, ``not_here`` those that do nothing else, ``before`` their heading. ``both`` says what timer and visits save together.
    ``timers``: what to set for those days, by timer (its name, empty where it has none); ``set_known``: whether it is known what is set now."""

    total: str
    places: tuple[PlaceShown, ...]
    visits: tuple[tuple[str, tuple[GiftShown, ...]], ...]
    spare: str
    programme: str
    measures: tuple[tuple[str, str], ...]
    prepared: str
    weather: str
    cautions: tuple[str, ...]
    timers: tuple[tuple[str, tuple[CardProgramme, ...]], ...] = ()
    set_known: bool = False
    both: str = ""
    setting: str = ""
    left: str = ""
    before: str = ""
    days: str = ""
    not_here: tuple[tuple[str, str], ...] = ()


def usual(today: date) -> Asked:
    """What the form has before anything is asked."""
    first = today + timedelta(days=FROM_DAYS)
    return Asked(first, first + timedelta(days=FOR_DAYS - 1))


def asked_from(first: str, last: str, visits: str, every: str, today: date, timer: str = "") -> Asked:
    """What an address asks for; InputError names the field."""
    from soakbook.season.away import checked_days

    asked = Asked(
        _day(first, "from"), _day(last, "until"), _count(visits, MOST_VISITS), _count(every, MOST_EVERY), timer == "yes"
    )
    checked_days(today, asked.first, asked.last)
    return asked


def _day(text: str, field: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise InputError(say("give a day."), code="date.form", field=field) from error


def _count(text: str, most: int) -> int:
    """A number from the form's choice; anything else is none."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 3 and int(text) <= most else 0


def away_shown(desk: Desk, known: Known, asked: Asked, r: Reader) -> AwayShown:
    """The answer in the reader's words."""
    from soakbook.season import away_words as words

    made, cautions = away_kept(desk, known, asked)
    both = made.both
    left = words.alone_text(both) if both is not None else None
    ids = {name: key for key, name in known.names.items()}
    spare, days = words.visits_text(made), words.days_text(made)
    return AwayShown(
        total=r.tell(words.total_text(made)),
        places=tuple(_place(p, ids[p.place], made, r) for p in made.places),
        visits=tuple((r.day(v.on, "long"), tuple(_gift(g, r) for g in v.gifts)) for v in made.listed),
        spare=r.tell(spare) if spare is not None else "",
        programme=_programme(made, r),
        measures=tuple(_measure(m, r) for m in made.measures if m.helps),
        prepared=r.percent(made.prepared / 100.0),
        weather=r.tell(made.weather),
        cautions=tuple(r.tell(text) for text in cautions),
        timers=tuple((one.timer, _to_set(one)) for one in made.planned) if both is None or both.setting == "planned" else (),
        set_known=bool(made.set_now),
        both=r.tell(words.both_text(both)) if both is not None and both.setting != "off" else "",
        setting=r.tell(words.setting_text(both)) if both is not None and both.setting != "planned" else "",
        left=r.tell(left) if left is not None else "",
        before=r.tell(words.beside_text(made)), days=r.tell(days) if days is not None else "",
        not_here=tuple(_measure(m, r) for m in made.measures if not m.helps),
    )  # fmt: skip


def _to_set(one: OnTimer) -> tuple[CardProgramme, ...]:
    from soakbook.delivery.timer_card import card_of
    from soakbook.garden.timer import Timer

    return card_of("", date.min, one.programmes, Timer(), None, 0).programmes


def away_kept(desk: Desk, known: Known, asked: Asked) -> tuple[Away, tuple[str, ...]]:
    """The answer, kept while nothing it rests on has changed."""
    key = (
        "away", known.key, known.version, known.log_version, desk.sky(known).stamp, desk.today(known.garden), asked,
    )  # fmt: skip
    made: tuple[Away, tuple[str, ...]] = desk.keep(key, lambda: _away(desk, known, asked))
    return made


def _away(desk: Desk, known: Known, asked: Asked) -> tuple[Away, tuple[str, ...]]:
    from soakbook.season.away import plan_away
    from soakbook.season.away_words import cautions

    garden, today, log = known.garden, desk.today(known.garden), desk.log(known)
    weather, ahead = _sky(desk, known, asked.last)
    beliefs = [s.belief for s in desk.standings(known)]
    reaches = min((b.days.days[-1].astype(date) for b in beliefs), default=today)
    made = plan_away(
        garden, log, weather, ahead, today, asked.first, asked.last, visits=asked.visits, every=asked.every, timer=asked.timer,
        beliefs=beliefs if reaches >= asked.last else None,
    )  # fmt: skip
    return made, cautions(garden, made, ahead)


def _sky(desk: Desk, known: Known, last: date) -> tuple[WeatherSeries, WeatherMembers]:
    """Weather and its members up to the last day away; the usual weather of the place where the source cannot be had."""
    from soakbook.season.away import sky_for

    today, log = desk.today(known.garden), desk.log(known)
    try:
        return sky_for(known.garden, log, today, last, folder=known.folder)
    except SourceDown:
        return sky_for(replace(known.garden, weather="normals"), log, today, last)


def _place(place: PlaceAway, place_id: str, away: Away, r: Reader) -> PlaceShown:
    from soakbook.season.away_before import SMALL, WORDS
    from soakbook.season.away_words import loss_text, odds_text, short_text

    cases: list[tuple[str, Outcome | None]] = [
        (r.t("nobody"), place.nobody),
        (r.tn("one visit", "{n} visits", len(away.visits)) if away.visits else r.t("no visits"), place.visited),
        (r.t("the programme"), place.programme),
        (r.t("timer as it is set"), place.timer_now),
        (r.t("timer set for those days"), place.timer_planned),
        (r.tn("timer and one visit", "timer and {n} visits", len(away.listed)), place.both),
    ]
    helps = [r.tell(WORDS[e.measure]) for e in place.effects if e.measure != "all" and e.mean > SMALL][:1]
    return PlaceShown(
        place_id, place.place, r.tell(short_text(place)),
        tuple((what, r.tell(loss_text(outcome))) for what, outcome in cases if outcome is not None),
        r.tell(odds_text(place.nobody.lost_odds)), helps[0] if helps else "",
    )  # fmt: skip


def _measure(ranked: Ranked, r: Reader) -> tuple[str, str]:
    """A measure with what it saves (and, of a soak, how much it takes), and where it does harm."""
    from soakbook.season.away_words import harm_text, measure_text, soak_text

    text = r.tell(measure_text(ranked))
    if ranked.measure == "soak" and ranked.helps:
        text = r.t(
            "{what}. It takes {amounts}", what=text, amounts=", ".join(r.tell(soak_text(e)) for e in ranked.helps)
        )
    return text, r.tell(harm_text(ranked) or "")


def _gift(gift: Gift, r: Reader) -> GiftShown:
    more = details(gift.job, r)
    if gift.job.note:
        more.append(r.tell(gift.job.note))
    if gift.gauge_mm:
        more.append(r.t("leave it out after {rain} of rain", rain=r.quantity(gift.gauge_mm, "depth")))
    return GiftShown(gift.place, headline(gift.job, r), tuple(more))


def _programme(away: Away, r: Reader) -> str:
    if not away.every:
        return ""
    given = [r.t("{place} {amount}", place=p.place, amount=r.amount(p.programme_litres)) for p in away.places]
    often = r.tn("every day", "every {n} days", away.every)
    return r.t(
        "The programme, {often} from {day}: {given}.", often=often, day=r.day(away.first), given=", ".join(given)
    )
