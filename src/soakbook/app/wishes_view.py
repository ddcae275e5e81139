"""What matters to the grower, as three sliders, and the coming week under what they say."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import timedelta
from typing import TYPE_CHECKING

from soakbook.app.plan_view import share_text
from soakbook.app.reader import Reader

if TYPE_CHECKING:
    from soakbook.advice.week import PlaceWeek, Week
    from soakbook.app.desk import Desk, Known
    from soakbook.garden.model import Wishes

#: The most a wish can weigh, and the step of its slider.
MOST, STEP = 3.0, 0.5


@dataclass(frozen=True)
class Slider:
    """One wish: its field, what it is called, what it does, where it stands, and that in words."""

    name: str
    label: str
    hint: str
    value: str
    words: str


@dataclass(frozen=True)
class WeekRow:
    """A place over the week: what it gets when (and in all, where that is more than once), and what it may lose of its harvest."""

    place_id: str
    place: str
    soaks: str
    total: str
    loss: str


@dataclass(frozen=True)
class WeekShown:
    """The week under some wishes beside the week under those kept."""

    rows: tuple[WeekRow, ...]
    says: str
    beside: str


def wishes_from(given: Mapping[str, str], kept: Wishes) -> Wishes:
    """Wishes from an address; what is not there, or no number from 0 to 3, is as it is kept."""
    from soakbook.garden.model import Wishes

    return Wishes(**{f.name: _weight(given.get(f.name, ""), getattr(kept, f.name)) for f in fields(Wishes)})


def _weight(text: str, otherwise: float) -> float:
    try:
        number = float(text.replace(",", ".")) if len(text) < 8 else math.nan
    except ValueError:
        return otherwise
    return number if 0.0 <= number <= MOST else otherwise


def step_words(r: Reader) -> list[str]:
    """What each step of a slider means, from 0 up by halves."""
    return [
        r.t("not at all"), r.t("little"), r.t("as usual"), r.t("rather more"), r.t("twice as much as usual"),
        r.t("a good deal more"), r.t("three times as much as usual"),
    ]  # fmt: skip


def sliders(wishes: Wishes, r: Reader) -> list[Slider]:
    """The three."""
    rows = (
        ("spare_water", r.t("Spare water"), r.t("to the left it costs nothing, to the right every can is thought over twice")),
        ("spare_time", r.t("Spare time"), r.t("to the right fewer walks, and more at a time")),
        ("best_crop", r.t("The best crop"), r.t("to the right no plant is left waiting; to the left a little thirst is fine")),
    )  # fmt: skip
    words = step_words(r)
    return [
        Slider(name, label, hint, f"{value:g}", words[round(value / STEP)])
        for name, label, hint in rows
        for value in [getattr(wishes, name)]
    ]


def week_kept(desk: Desk, known: Known, wishes: Wishes) -> Week:
    """The coming week under some wishes, kept while nothing it rests on has changed."""
    garden = known.garden
    today = desk.today(garden)
    key = ("week", known.key, known.version, known.log_version, desk.sky(known).stamp, today, wishes)
    made: Week = desk.keep(key, lambda: _week(desk, known, wishes))
    return made


def _week(desk: Desk, known: Known, wishes: Wishes) -> Week:
    from soakbook.advice.costs import Weights
    from soakbook.advice.week import coming_week

    garden, today = known.garden, desk.today(known.garden)
    given: dict[str, float] = {}
    for entry in desk.log(known):
        if entry.kind == "water" and entry.at.date() == today:
            given[entry.place] = given.get(entry.place, 0.0) + (entry.litres or 0.0)
    beliefs = [standing.belief for standing in desk.standings(known)]
    weights = Weights(wishes.spare_water, wishes.spare_time, wishes.best_crop)
    return coming_week(garden, beliefs, desk.members(known), today, weights, given=given)


def week_shown(desk: Desk, known: Known, wishes: Wishes, r: Reader) -> WeekShown:
    """The week under wishes, and how it differs from that under those kept."""
    week, ids = week_kept(desk, known, wishes), list(known.names)
    rows = tuple(_row(place_id, one, week, r) for place_id, one in zip(ids, week.places, strict=True))
    if wishes == known.garden.wishes:
        return WeekShown(rows, _sum_words(week, r), "")
    return WeekShown(rows, _sum_words(week, r), _beside(week, week_kept(desk, known, known.garden.wishes), r))


def _row(place_id: str, one: PlaceWeek, week: Week, r: Reader) -> WeekRow:
    days = [r.t("today"), *(r.day(week.first + timedelta(days=k)).split()[0] for k in range(1, len(one.litres)))]
    soaks = [
        r.t("{day} {amount}", day=day, amount=r.amount(litres))
        for day, litres in zip(days, one.litres, strict=True)
        if litres > 0.0
    ]
    total = r.t("{amount} in all", amount=r.amount(sum(one.litres))) if len(soaks) > 1 else ""
    return WeekRow(place_id, one.place, ", ".join(soaks), total, share_text(one.loss, r))


def _sum_words(week: Week, r: Reader) -> str:
    if not week.soaks:
        return r.t("Nothing would be watered in these {n} days.", n=len(week.places[0].litres) if week.places else 0)
    soaks = r.tn("{n} watering", "{n} waterings", week.soaks)
    mornings = r.tn("{n} morning", "{n} mornings", week.mornings)
    return r.t("{litres} in {soaks}, on {mornings}.", litres=r.amount(week.litres), soaks=soaks, mornings=mornings)


def _beside(week: Week, kept: Week, r: Reader) -> str:
    """The difference to the wishes kept, in words."""
    parts = [_more_or_less(week.litres - kept.litres, 0.5, r.amount(abs(week.litres - kept.litres)), r)]
    soaks = week.soaks - kept.soaks
    parts.append(_more_or_less(soaks, 0.5, r.tn("{n} watering", "{n} waterings", abs(soaks)), r))
    mornings = week.mornings - kept.mornings
    parts.append(_more_or_less(mornings, 0.5, r.tn("{n} morning", "{n} mornings", abs(mornings)), r))
    said = [part for part in parts if part]
    if not said:
        return r.t("In these days that is the same as with the wishes you have kept.")
    return r.t("Against the wishes you have kept: {parts}.", parts=r.listed(said))


def _more_or_less(by: float, least: float, amount: str, r: Reader) -> str:
    if abs(by) < least:
        return ""
    return r.t("{amount} more", amount=amount) if by > 0 else r.t("{amount} less", amount=amount)
