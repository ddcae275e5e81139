"""The list for whoever comes: on which day, which place, how much in the grower's measures, and after how much rain not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from soakbook.advice.decide import Advice, limits, probe_depth_m
from soakbook.advice.job import Job, make_job
from soakbook.garden.model import Garden
from soakbook.physics.covers import rain_under_cover
from soakbook.said import join_said, say
from soakbook.season.away_run import Leaving, Outcome
from soakbook.weather.members import WeatherMembers
from soakbook.weather.series import EXPECTED

if TYPE_CHECKING:
    from soakbook.season.away_days import Round

#: A helper goes by the gauge on a bed that rain reaches by at least this part.
RAIN_REACHES = 0.2


@dataclass(frozen=True)
class Gift:
    """What a visit gives a place: ``job`` has it in the grower's measures; ``gauge_mm`` is the rain since the visit before (or since leaving) after
    which it can be left out, None where none reaches it."""

    place: str
    litres: float
    job: Job
    gauge_mm: float | None


@dataclass(frozen=True)
class Visit:
    """A day on which somebody comes, and what the places get, in walking order; places that get nothing are left out."""

    on: date
    gifts: tuple[Gift, ...]


def visits_of(garden: Garden, places: Sequence[Leaving], coming: Round, ahead: WeatherMembers) -> tuple[Visit, ...]:
    """The list of a round; what a timer gives is not on it."""
    out, before = [], 0
    for k in coming.days:
        rain_mm = float(ahead.get("rain_mm")[:, before:k].sum(axis=1).mean())
        gifts = [
            _gift(garden, place, outcome, k, rain_mm)
            for place, outcome in zip(places, coming.outcomes, strict=True)
            if outcome.brought[k] > 0.0
        ]
        out.append(Visit(day_away(places[0], k), _on_lines(garden, places, gifts)))
        before = k
    return tuple(out)


def _on_lines(garden: Garden, places: Sequence[Leaving], gifts: Sequence[Gift]) -> tuple[Gift, ...]:
    """Says where a line is opened for several places."""
    shared = {place.place.name for place in places if place.line_mm is not None}

    def told(gift: Gift) -> Gift:
        note = say("line {name} is opened once for all its places", name=garden.place(gift.place).line)
        return replace(gift, job=replace(gift.job, note=join_said([note, gift.job.note], "; ")))

    return tuple(told(gift) if gift.place in shared else gift for gift in gifts)


def _gift(garden: Garden, place: Leaving, outcome: Outcome, k: int, rain_mm: float) -> Gift:
    """``rain_mm`` is what the weather brings on average since the visit before: the amount counts on it already."""
    days, day, litres = place.days, place.first + k, float(outcome.brought[k])
    depth = days.depth_mm(litres, day)
    efficiency = float(days.laid.columns.delivery[0, 0])
    used = float(outcome.used[k - 1].mean()) if k else 0.0
    limit = float(limits(days)[day])
    advice = Advice(
        place=place.place.name, on=day_away(place, k), verdict="soak", litres=litres, depth_mm=depth, missing_mm=depth * efficiency,
        missing_litres=litres * efficiency, efficiency=efficiency, reach_m=float(days.crops.reach_m[day]),
        probe_depth_m=probe_depth_m(days, day), used=used, used_tonight=used, limit=limit,
        chance=float(outcome.short[k - 1].mean()) if k else 0.0, count=int(days.crops.count[day]), phase=int(days.crops.phase[day]),
        next_due=None, next_due_kind=EXPECTED, why=say("{used:.0f} % used by then", used=100 * used), reasons=(), since=day_away(place, 0),
        demand_mm=float(days.eto_mm[day]), rain_soon_mm=0.0, if_dry_litres=0.0, twice_a_day=False, assumptions=(),
    )  # fmt: skip
    sky = place.place.exposure
    share = float(rain_under_cover(np.ones(1), sky.cover, sky.rain_fraction)[0])
    gauge = rain_mm + depth * efficiency / share if place.place.kind == "bed" and share >= RAIN_REACHES else None
    job = make_job(garden, days, advice)
    return Gift(place.place.name, litres, job if place.timer_mm is None else _not_by_line(garden, job), gauge)


def _not_by_line(garden: Garden, job: Job) -> Job:
    """Where the timer gives too little the rest is brought: its line opened by hand would water all that is on it once more."""
    litres, can_l = job.advice.litres, garden.supply.can_l
    note = say("beside what the timer gives: by can or hose, not by its line")
    return replace(job, minutes=None, goes=None, cans=litres / can_l if can_l else None, note=note)


def day_away(place: Leaving, k: int) -> date:
    """The date of a day away, 0 the first."""
    day: date = place.days.days[place.first + k].astype(date)
    return day
