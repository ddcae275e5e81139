"""A first answer as its page shows it, in the reader's words and measures."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from soakbook.app.charts import Chart, months_of_season, reasons_chart
from soakbook.app.desk import Kept
from soakbook.app.reader import Reader
from soakbook.app.round_view import SIGNS, cans_words, details, headline, next_words, verdict_word
from soakbook.catalog import read as catalog
from soakbook.errors import SourceDown

if TYPE_CHECKING:
    from soakbook.advice.ask import Answer
    from soakbook.advice.question import Question
    from soakbook.advice.season import Month
    from soakbook.advice.what_if import Changes
    from soakbook.garden.model import Garden

#: Seconds for which an answer with fetched weather is kept.
_FRESH_S = 1800.0
_kept = Kept()


@dataclass(frozen=True)
class Worked:
    """An answer and what would change it; ``trouble`` says why the weather asked for is not in it."""

    got: Answer
    changes: Changes | None
    trouble: str


@dataclass(frozen=True)
class Shown:
    """What stands on the page. ``facts`` are (what, how much) of a usual watering now."""

    sign: str
    word: str
    amount: str
    more: tuple[str, ...]
    why: str
    after: str
    plant: str
    facts: tuple[tuple[str, str], ...]
    months: Chart | None
    reasons: Chart | None
    base: str
    changes: tuple[tuple[str, str], ...]
    ends: str


def work_out(q: Question, garden: Garden, day: date, *, live: bool) -> Worked:
    """The answer to a question, kept for when it is asked again."""
    stamp = int(time.time() / _FRESH_S) if live else -1
    worked: Worked = _kept.get((q, day, stamp), lambda: _work_out(garden, day, live))
    return worked


def _work_out(garden: Garden, day: date, live: bool) -> Worked:
    from soakbook.advice.ask import answer
    from soakbook.advice.sky import live_weather
    from soakbook.advice.what_if import what_changes_most

    weather, trouble = None, ""
    if live:
        try:
            weather = live_weather(garden, day)
        except SourceDown as error:
            trouble = error.message
    got = answer(garden, day, weather)
    return Worked(got, what_changes_most(garden, day, got.season), trouble)


def shown(worked: Worked, garden: Garden, day: date, r: Reader) -> Shown:
    """An answer for the page."""
    got, job = worked.got, worked.got.today
    months = [m for m in got.months if m.days]
    base, changes = _changes(worked.changes, r)
    return Shown(
        sign=SIGNS[job.advice.verdict] if job else "hold",
        word=verdict_word(job.advice.verdict, r) if job else r.t("outside its season"),
        amount=headline(job, r) if job else "",
        more=tuple(details(job, r)) if job else (),
        why=r.tell(job.advice.why) if job else _outside(got, day, r),
        after=next_words(job, r, day) if job else "",
        plant=r.tell(catalog.plant(garden.places[0].plantings[0].plant).name),
        facts=tuple(_facts(got, garden, day, r)),
        months=months_of_season(months, r) if months else None,
        reasons=reasons_chart(job.advice.reasons, r) if job and job.advice.reasons else None,
        base=base,
        changes=changes,
        ends=r.day(got.ends, "tiny") if got.ends else "",
    )


def _outside(got: Answer, day: date, r: Reader) -> str:
    if got.ends is not None and day > got.ends:
        return r.t("its usual season ended about {day}", day=r.day(got.ends, "tiny"))
    return r.t("nothing of it grows on {day}", day=r.day(day, "tiny"))


def this_month(got: Answer, day: date) -> Month | None:
    """The month of the day, or the thirstiest one when nothing grows then."""
    now = next((m for m in got.months if (m.month.year, m.month.month) == (day.year, day.month)), None)
    if now is not None and now.soaks:
        return now
    watered = [m for m in got.months if m.soaks]
    return max(watered, key=lambda m: m.litres) if watered else None


def _facts(got: Answer, garden: Garden, day: date, r: Reader) -> list[tuple[str, str]]:
    """A usual watering in this month: how often, how much, in cans and minutes."""
    from soakbook.garden.log import flow_lph

    month = this_month(got, day)
    if month is None:
        return []
    litres, place = month.litres_each_time, garden.places[0]
    rows = [(r.t("month"), r.month(month.month)), (r.t("how often"), spell(month.every_days, r))]
    if got.units_count > 1:
        each = r.t("each pot") if got.count_word == "pot" else r.t("each plant")
        rows.append((each, r.amount(litres / got.units_count)))
        in_all = r.tn("in all, {n} pot", "in all, {n} pots", got.units_count)
        if got.count_word != "pot":
            in_all = r.tn("in all, {n} plant", "in all, {n} plants", got.units_count)
        rows.append((in_all, r.amount(litres)))
    else:
        rows.append((r.t("each time"), r.amount(litres)))
    if garden.supply.can_l and place.means == "can":
        size = r.quantity(garden.supply.can_l, "volume")
        rows.append((r.t("in cans of {size}", size=size), cans_words(litres / garden.supply.can_l, r)))
    flow = flow_lph(place, garden)
    if flow:
        rows.append((r.t("time to run"), r.quantity(litres / flow, "duration")))
    return rows


def spell(days: float, r: Reader) -> str:
    """How often, from the mean of days between waterings."""
    if days != days:
        return r.t("hardly ever")
    if days < 1.25:
        return r.t("every day")
    if days < 3.75 and abs(days - round(days)) > 0.25:
        return r.t("every {low} to {high} days", low=int(days), high=int(days) + 1)
    return r.t("every {n} days", n=f"{days:.0f}")


def _changes(changes: Changes | None, r: Reader) -> tuple[str, tuple[tuple[str, str], ...]]:
    """What it is now, and (what is altered, what it then is)."""
    if changes is None:
        return "", ()
    base = r.t("As it is: {season}.", season=_season_words(changes.waterings, changes.litres, r))
    return base, tuple((r.tell(c.says), _change_words(c.waterings, c.litres, changes, r)) for c in changes.most)


def _season_words(waterings: int, litres: float, r: Reader) -> str:
    return r.tn(
        "{n} watering in the season, {litres}",
        "{n} waterings in the season, {litres}",
        waterings,
        litres=r.amount(litres),
    )


def _change_words(waterings: int, litres: float, base: Changes, r: Reader) -> str:
    much = _percent(litres / base.litres - 1.0, r)
    if waterings == base.waterings:
        return r.t("as often as now, {litres} ({much})", litres=r.amount(litres), much=much)
    return r.tn(
        "{n} watering instead of {was}, {litres} ({much})", "{n} waterings instead of {was}, {litres} ({much})", waterings,
        was=base.waterings, litres=r.amount(litres), much=much,
    )  # fmt: skip


def _percent(share: float, r: Reader) -> str:
    if abs(share) < 0.015:
        return r.t("as much")
    return r.t("{n} % more", n=f"{100 * share:.0f}") if share > 0 else r.t("{n} % less", n=f"{-100 * share:.0f}")


def soil_words(names: Sequence[str], r: Reader) -> list[tuple[str, str]]:
    """Textures from the lightest to the heaviest with a word for how they feel, then mixes for beds."""
    light, middling, heavy = r.t("light"), r.t("middling"), r.t("heavy")
    feel = dict.fromkeys(names[:3], light) | dict.fromkeys(names[3:6], middling) | dict.fromkeys(names[6:], heavy)
    rows = [
        (name, r.t("{soil} ({feel})", soil=r.tell(catalog.textures()[name].name), feel=feel[name])) for name in names
    ]
    mixes = [(m.id, r.tell(m.name)) for m in catalog.mixes().values() if m.use == "bed"]
    return rows + mixes
