"""The days on which a place is likely to fall due, run ahead from this morning with every soak given as advised.

Unless it rains: rain that is merely usual counts as none, a forecast stays, as in the round (:mod:`soakbook.advice.round`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.decide import (
    LEAST_MM,
    SURE,
    Advice,
    by_tonight,
    judged_use,
    limits,
    soak_and_run,
)
from soakbook.advice.round import Job, Standing, make_job
from soakbook.balance.columns import State
from soakbook.balance.crops import NONE
from soakbook.garden.model import Garden
from soakbook.physics.covers import rain_under_cover
from soakbook.said import say

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Due:
    """A day on which a place falls due, and its job then in the grower's measures.

    ``verdict`` is *probe first* where the what-ifs do not agree that it is due. ``gauge_mm`` is the rain since the place was
    last watered that does what the soak would; None where none reaches it or nothing is to be given.
    """

    on: date
    verdict: Literal["soak", "probe first"]
    job: Job
    gauge_mm: float | None


def dues_ahead(garden: Garden, standing: Standing, job: Job, end: date) -> tuple[Due, ...]:
    """The due days of a place from today to before ``end``, by the best guess.

    Parameters
    ----------
    garden
        The garden.
    standing
        The place run to this morning.
    job
        Its job of today, after what was done and read today.
    end
        The first day not looked at; days the weather does not reach are not looked at either.

    Returns
    -------
    tuple of Due
        Today when there is something to do, the day on which the round says the place is next due, and all after it.
    """
    days, today = standing.days, standing.known.today
    last = min(today + (end - job.advice.on).days, len(days.days))
    dues = []
    if job.advice.verdict in ("soak", "probe first"):
        dues.append(_today(standing, job))
    state = _after_today(standing, job)
    wait = _wait_until(standing, job)
    if wait is None:
        return tuple(dues)
    for day in range(today + 1, last):
        dry = days.run(state, day, day + 1, logged=False)
        used = judged_use(days, days.used_fraction(state.water_mm[0], day), days.used_by_day(dry, day), day)[0]
        asks = _asks(standing, state, used, day) and day >= wait
        if not asks and day != wait:
            state = dry.end
            continue
        depth, wet = soak_and_run(days, state, day, dry)
        is_sure = asks and float(np.mean(used >= limits(days)[day])) >= SURE
        dues.append(_due(garden, standing, state, day, depth, used, is_sure))
        state = wet.end if asks else dry.end
    return tuple(dues)


def _wait_until(standing: Standing, job: Job) -> int | None:
    """The day before which nothing falls due, and on which the place is looked at in any case; None when none does."""
    today = standing.known.today
    advice, asked = job.advice, standing.advice.verdict
    if advice.verdict == "probe first" or (asked == "probe first" and job.given_today_litres > 0.0):
        return today  # what was probed or given decides; the run goes on from there
    return None if advice.next_due is None else standing.days.index(advice.next_due)


def _after_today(standing: Standing, job: Job) -> State:
    """The state of tomorrow morning, today's water given: what was, and what the job still asks for."""
    days, today, now = standing.days, standing.known.today, standing.known.now
    litres = job.given_today_litres + job.advice.litres
    if job.advice.verdict == "probe first":
        dry = days.run(now, today, today + 1, logged=False)
        used = judged_use(days, days.used_fraction(now.water_mm[0], today), days.used_by_day(dry, today), today)[0]
        litres += job.advice.if_dry_litres if _asks(standing, now, used, today) else 0.0
    put = [(today, days.depth_mm(litres, today))] if litres > 0.0 else []
    return days.run(now, today, today + 1, put, logged=False).end


def _asks(standing: Standing, state: State, used: FloatArray, day: int) -> bool:
    """Whether the rule asks for water: the limit passed, something growing, and enough missing to be worth a walk."""
    days = standing.days
    growing = days.crops.phase[day] != NONE
    missing = float(days.missing_mm(state.water_mm[0], day)[0])
    return bool(growing and used[0] >= limits(days)[day] and missing >= LEAST_MM)


def _today(standing: Standing, job: Job) -> Due:
    verdict: Literal["soak", "probe first"] = "soak" if job.advice.verdict == "soak" else "probe first"
    gauge = _gauge_mm(standing, standing.known.now, standing.known.today)
    return Due(job.advice.on, verdict, job, gauge)


def _due(
    garden: Garden, standing: Standing, state: State, day: int, depth: float, used: FloatArray, is_sure: bool
) -> Due:
    days = standing.days
    litres = days.litres(depth, day) if depth >= LEAST_MM else 0.0
    percents = {"used": 100 * float(used[0]), "limit": 100 * float(limits(days)[day])}
    if by_tonight(days)[day]:
        why = say("{used:.0f} % used by tonight, limit {limit:.0f} %", **percents)
    else:
        why = say("{used:.0f} % used by midday, limit {limit:.0f} %", **percents)
    verdict: Literal["soak", "probe first"] = "soak" if is_sure else "probe first"
    advice: Advice = replace(
        standing.advice, on=standing.advice.on + timedelta(days=day - standing.known.today), verdict=verdict,
        litres=litres if is_sure else 0.0, depth_mm=depth if is_sure else 0.0, if_dry_litres=0.0 if is_sure else litres,
        used=float(days.used_fraction(state.water_mm[0], day)[0]), limit=float(limits(days)[day]),
        reach_m=float(days.crops.reach_m[day]), count=int(days.crops.count[day]), phase=int(days.crops.phase[day]), why=why,
        timer_litres=days.litres(days.coming_today_mm(day), day),
    )  # fmt: skip
    gauge = _gauge_mm(standing, state, day) if litres else None
    return Due(advice.on, verdict, make_job(garden, days, advice), gauge)


def _gauge_mm(standing: Standing, state: State, day: int) -> float | None:
    """Rain in the gauge that, with what timers bring that day, fills the roots' reach again."""
    days, exposure = standing.days, standing.days.place.exposure
    share = float(rain_under_cover(np.ones(1), exposure.cover, exposure.rain_fraction)[0])
    missing = float(days.missing_mm(state.water_mm[0], day)[0])
    missing -= float(days.laid.columns.delivery[0, 0]) * days.coming_today_mm(day)
    return missing / share if share >= 0.2 and missing >= LEAST_MM else None
