"""What to do at one place today: the threshold rule, its amounts, and the reasons that add up to them.

The rule: water on the morning nearest to the hour at which the roots will have used the fraction *p* of what they can reach
(FAO-56 chapter 8, p adjusted for demand): that is, when they would have by midday. Seedbeds, fresh transplants and pots are
looked at by tonight instead, since they empty within a day. Give what is missing to field capacity down to the rooting depth.
All of them have their own shallow stores; too wet comes before all.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import (
    AIR_NEEDED,
    AREA_WET,
    DEPLETION_P,
    EVAPORATION_WET,
    HOLD,
    INTO_WET,
    IRRIGATION,
    OVERHEAD,
    RAIN,
    RUNOFF,
    TRANSPIRATION,
    TRANSPIRATION_WET,
    WANTED,
    Result,
    State,
)
from soakbook.balance.crops import ESTABLISHING, NONE, SEEDBED
from soakbook.balance.place import PlaceDays, runs_out
from soakbook.said import say
from soakbook.weather.series import EXPECTED, FORECAST, WeatherSeries

FloatArray = NDArray[np.float64]
Verdict = Literal["soak", "probe first", "hold", "let drain", "rain will do"]

#: Amounts that differ by no more than this part are the same to a reader who sees two figures.
SAME_AMOUNT = 0.03
#: Days looked ahead for the next due day.
HORIZON_DAYS = 45
#: Shares of the members above which the place is watered, and below which it is left.
SURE, UNLIKELY = 0.75, 0.25
#: Days waited for forecast rain, and what it must do: bring use back under this part of the limit, and until then cost no
#: more than this much of the plants' transpiration. Judged: a root zone that is drier above than below lacks a tenth already when it
#: falls due, and three days of 15 % are half a day's growth.
RAIN_DAYS, RAIN_REFILLS, RAIN_STRESS = 2, 0.7, 0.15
#: Lack of air (0 to 1, a day's memory) from which a place is left to drain. Judged.
TOO_WET = 0.3
#: Run-off from a soak that is not worth a smaller one. [mm]
RUNOFF_LET_BE_MM = 0.5
#: Smallest soak worth a walk. Judged. [mm over the wetted part]
LEAST_MM = 1.0
#: Days back to which the reasons reach when the place has not been full since.
REASON_DAYS = 14


@dataclass(frozen=True)
class Reason:
    """One part of the sum: a cause and the depth it adds to (or takes from) what is missing, over the wetted part."""

    cause: str
    depth_mm: float
    litres: float


@dataclass(frozen=True)
class Advice:
    """The answer for one place. ``litres`` is what to put on in all; ``reasons`` add up to ``missing_mm``.

    ``timer_litres`` is what timers bring by themselves today, which is not asked for; ``runs_out`` the part of a pour that is to run out of a pot. ``used`` and ``limit`` are fractions of the water the roots can reach; ``chance`` the share of members that would water
    today; ``next_due`` None when nothing falls due within :data:`HORIZON_DAYS`.
    """

    place: str
    on: date
    verdict: Verdict
    litres: float
    depth_mm: float
    missing_mm: float
    missing_litres: float
    efficiency: float
    reach_m: float
    probe_depth_m: float
    used: float
    used_tonight: float
    limit: float
    chance: float
    count: int
    phase: int
    next_due: date | None
    next_due_kind: int
    why: str
    reasons: tuple[Reason, ...]
    since: date
    demand_mm: float
    rain_soon_mm: float
    if_dry_litres: float
    twice_a_day: bool
    assumptions: tuple[str, ...]
    timer_litres: float = 0.0
    runs_out: float = 0.0

    @property
    def full_litres(self) -> float:
        """What would have to be put on beside the timer's, so that nothing is missing as deep as the roots reach, and what is to run out does."""
        stays = self.efficiency * (1.0 - self.runs_out)
        full = self.missing_litres / stays if stays > 0.0 else 0.0
        return max(0.0, full - self.timer_litres)

    def fills(self, litres: float) -> bool:
        """Whether an amount is what fills the soil, to the two figures that are shown."""
        return abs(litres - self.full_litres) <= SAME_AMOUNT * self.full_litres


@dataclass(frozen=True)
class Known:
    """A place run up to this morning: the run, the state, and the first day not yet lived."""

    days: PlaceDays
    past: Result
    today: int

    @property
    def now(self) -> State:
        """What the columns hold this morning."""
        return self.past.end


def run_to(days: PlaceDays, today: date, start: State | None = None) -> Known:
    """Run a place from its first day to this morning."""
    index = days.index(today)
    return Known(days, days.run(start or days.start(), 0, index), index)


def limits(days: PlaceDays) -> FloatArray:
    """The fraction that may be used, by day."""
    n = days.steps_a_day
    return np.asarray(days.forcing.crop[0, ::n, DEPLETION_P])


def by_tonight(days: PlaceDays) -> NDArray[np.bool_]:
    """Whether a day is judged by its evening (pots, seedbeds, fresh transplants) rather than its midday, (T,)."""
    if days.place.kind != "bed":
        return np.ones(len(days.days), dtype=bool)
    return np.isin(days.crops.phase, (SEEDBED, ESTABLISHING))


def judged_use(days: PlaceDays, morning: FloatArray, nights: FloatArray, first: int) -> FloatArray:
    """The use each day is judged by: its evening's, or midway between its morning's and its evening's. (days, M)

    ``morning`` (M,) is the use on the first morning, ``nights`` (days, M) that of each evening.
    """
    mornings = np.concatenate([morning[None], nights[:-1]])
    late = by_tonight(days)[first : first + len(nights), None]
    return np.where(late, nights, 0.5 * (mornings + nights))


def soak_mm(days: PlaceDays, state: State, day: int, dry: Result) -> float:
    """What to put on over the wetted part: what is missing, over the efficiency and what stays of a pour, less what timers bring that day, but no more than the soil takes
    in a day.

    ``dry`` is a run from the same state whose first day was not watered. What would run off is taken off again, in two
    steps, since less water also drains more slowly. [mm]
    """
    return soak_and_run(days, state, day, dry)[0]


def soak_and_run(days: PlaceDays, state: State, day: int, dry: Result) -> tuple[float, Result]:
    """As :func:`soak_mm`, with the run of the day so watered."""
    n, efficiency = days.steps_a_day, float(days.laid.columns.delivery[0, 0]) * (1.0 - runs_out(days.place))
    ran_dry = float(dry.fluxes[0, :n, RUNOFF, 0].sum())
    on_mulch = 0.0
    if days.laid.columns.fixed[0, OVERHEAD] > 0.0:
        on_mulch = max(0.0, float(days.laid.columns.fixed[0, HOLD] - state.held_mm[0, 0, 0]))
    missing = float(days.missing_mm(state.water_mm[0], day)[0])
    depth = (missing + on_mulch) / efficiency if missing > 0.0 else 0.0
    depth = max(depth - days.coming_today_mm(day), 0.0)
    wet = days.run(state, day, day + 1, [(day, depth)], logged=False)
    for _ in range(2):
        extra = (float(wet.totals[0, RUNOFF, 0]) - ran_dry) / days.area_wet(day)
        if extra <= RUNOFF_LET_BE_MM:
            break
        depth = max(depth - extra / efficiency, 0.0)
        wet = days.run(state, day, day + 1, [(day, depth)], logged=False)
    return depth, wet


def first_due(days: PlaceDays, used: FloatArray, first: int, member: int = 0) -> int | None:
    """First day from ``first`` on whose judged use passes the limit while something grows; None if not in sight."""
    limit = limits(days)[first : first + len(used)]
    growing = days.crops.phase[first : first + len(used)] != NONE
    over = (used[:, member] >= limit) & growing
    return first + int(np.argmax(over)) if bool(over.any()) else None


def advise(known: Known, weather: WeatherSeries, *, is_read: bool = False) -> Advice:
    """Decide for one place.

    Parameters
    ----------
    known
        The place run to this morning, with weather reaching on into the days ahead.
    weather
        The same series the place was laid out over (its ``kind`` says what is forecast and what expected).
    is_read
        The place was read today and the members have learnt from it: it is not asked for a second time, the likelier side counts.

    Returns
    -------
    Advice
    """
    days, today = known.days, known.today
    last = min(today + HORIZON_DAYS, len(days.days))
    water_now = known.now.water_mm[0]
    missing = days.missing_mm(water_now, today)
    ahead = days.run(known.now, today, last, logged=False)
    morning = days.used_fraction(water_now, today)
    nights = days.used_by_day(ahead, today)
    used = judged_use(days, morning, nights, today)
    limit = float(limits(days)[today])
    chance = float(np.mean(used[0] >= limit))
    phase = int(days.crops.phase[today])
    efficiency = float(days.laid.columns.delivery[0, 0])
    gross = soak_mm(days, known.now, today, ahead)
    sides = (0.5, 0.5) if is_read else (UNLIKELY, SURE)
    coming = days.coming_today_mm(today)
    left = float(missing[0]) - efficiency * coming
    verdict = _verdict(known, weather, ahead, used, limit, chance, phase, left, sides)
    if verdict == "soak":
        due = due_after(known, gross)
    elif verdict in ("let drain", "hold"):
        due = first_due(days, used, today)
        if due == today:  # too little to be worth a walk, or too wet: look again tomorrow
            due = today + 1
    else:
        due = today + 1 if verdict == "probe first" else first_due(days, used[RAIN_DAYS:], today + RAIN_DAYS)
    since, reasons = reasons_for(known)
    on = _day(days, today)
    return Advice(
        place=days.place.name,
        on=on,
        verdict=verdict,
        litres=days.litres(gross, today) if verdict == "soak" else 0.0,
        depth_mm=gross if verdict == "soak" else 0.0,
        missing_mm=float(missing[0]),
        missing_litres=days.litres(float(missing[0]), today),
        efficiency=efficiency,
        reach_m=float(days.crops.reach_m[today]),
        probe_depth_m=probe_depth_m(days, today),
        used=float(morning[0]),
        used_tonight=float(nights[0, 0]),
        limit=limit,
        chance=chance,
        count=int(days.crops.count[today]),
        phase=phase,
        next_due=None if due is None else _day(days, due),
        next_due_kind=int(weather.kind[min(due, len(weather) - 1)]) if due is not None else EXPECTED,
        why=_why(known, verdict, used, limit, chance, phase, gross),
        reasons=reasons,
        since=since,
        demand_mm=float(days.eto_mm[today]),
        rain_soon_mm=float(days.rain_mm[today : today + RAIN_DAYS + 1].sum()),
        if_dry_litres=days.litres(gross, today) if verdict == "probe first" else 0.0,
        twice_a_day=_twice_a_day(days, today),
        assumptions=days.notes,
        timer_litres=days.litres(coming, today),
        runs_out=runs_out(days.place),
    )


def due_after(known: Known, depth_mm: float) -> int | None:
    """First day after today on which the place falls due when ``depth_mm`` (over the wetted part) is put on today."""
    days, today = known.days, known.today
    last = min(today + HORIZON_DAYS, len(days.days))
    put = [(today, depth_mm)] if depth_mm > 0.0 else []
    after = days.run(known.now, today, last, put, logged=False)
    morning = days.used_fraction(known.now.water_mm[0], today)
    return first_due(days, judged_use(days, morning, days.used_by_day(after, today), today)[1:], today + 1)


def share_used(known: Known, advice: Advice) -> str:
    """How much is used by the hour that counts, and the limit, in words."""
    if by_tonight(known.days)[known.today]:
        used = advice.used_tonight
        return say("{used:.0f} % used by tonight, limit {limit:.0f} %", used=100 * used, limit=100 * advice.limit)
    used = 0.5 * (advice.used + advice.used_tonight)
    return say("{used:.0f} % used by midday, limit {limit:.0f} %", used=100 * used, limit=100 * advice.limit)


def _verdict(
    known: Known, weather: WeatherSeries, ahead: Result, used: FloatArray, limit: float, chance: float, phase: int,
    missing_mm: float, sides: tuple[float, float],
) -> Verdict:  # fmt: skip
    days, today = known.days, known.today
    if phase == NONE:
        return "hold"
    air = float(days.air_fraction(known.now.water_mm[0], today)[0])
    if float(known.now.airless[0, 0]) > TOO_WET or air < 0.5 * float(days.laid.columns.fixed[0, AIR_NEEDED]):
        return "let drain"
    unlikely, sure = sides
    if chance <= unlikely or missing_mm < LEAST_MM:
        return "hold"
    if chance < sure:
        return "probe first"
    return "rain will do" if _rain_does_it(known, weather, ahead, used, limit) else "soak"


def _rain_does_it(known: Known, weather: WeatherSeries, ahead: Result, used: FloatArray, limit: float) -> bool:
    """Forecast rain (never normals) brings the place back soon enough, at little cost in growth meanwhile."""
    today, n = known.today, known.days.steps_a_day
    if known.days.crops.phase[today] in (SEEDBED, ESTABLISHING):
        return False  # seeds and fresh transplants cannot wait
    soon = slice(today, today + RAIN_DAYS + 1)
    if not bool(np.all(weather.kind[soon] == FORECAST)):
        return False
    chance = np.nan_to_num(weather.get("rain_chance_pct")[soon], nan=70.0)
    wet = known.days.rain_mm[soon] > 0.5
    if not bool(np.any(wet & (chance >= 60.0))):
        return False
    flux = ahead.fluxes[0, : (RAIN_DAYS + 1) * n, :, 0]
    wanted, got = flux[:, WANTED].sum(), flux[:, TRANSPIRATION].sum()
    stressed = 1.0 - got / wanted if wanted > 0 else 0.0
    return bool(used[: RAIN_DAYS + 1, 0].min() <= RAIN_REFILLS * limit and stressed <= RAIN_STRESS)


def probe_depth_m(days: PlaceDays, today: int) -> float:
    """Where to probe: half-way down the roots, 5 to 30 cm. Common practice: in the active roots, not at the surface."""
    return float(np.clip(0.5 * days.crops.reach_m[today], 0.05, 0.30))


def _twice_a_day(days: PlaceDays, today: int) -> bool:
    """A pot that uses more than its easily taken store between morning and night."""
    if days.place.kind == "bed":
        return False
    limit = float(limits(days)[today])
    demand = float(days.crops.kcb[today] * days.eto_mm[today])
    return demand > limit * float(days.store_mm(today)[0])


def reasons_for(known: Known) -> tuple[date, tuple[Reason, ...]]:
    """Where what is missing this morning went, since the roots' reach was last full (or :data:`REASON_DAYS` ago).

    Parts are depths over the wetted part, from the same run, and add up to ``missing_mm``: what was missing at the start,
    plus what plants and air took from the wetted part, less what rain and watering put in, plus what sank below the roots
    (the balance of all the rest, so that the sum is exact), plus what readings add to all that was worked out.
    """
    days, today, n = known.days, known.today, known.days.steps_a_day
    ends = known.past.water_mm[0, n - 1 :: n]
    earliest = max(0, today - REASON_DAYS)
    store = float(days.store_mm(today)[0])
    start = earliest
    for k in range(today - 1, earliest - 1, -1):
        if float(days.missing_mm(ends[k], today)[0]) <= 0.03 * store:
            start = k + 1
            break
    if start == 0 or today == 0:
        before = float(days.missing_mm(days.start().water_mm[0], today)[0])
    else:
        before = float(days.missing_mm(ends[start - 1], today)[0])
    now = float(days.missing_mm(known.now.water_mm[0], today)[0])
    ran = float(days.missing_mm(ends[-1], today)[0]) if today else now  # by the run alone, before readings moved it
    flux = known.past.fluxes[0, start * n : today * n, :, 0]
    into = flux[:, INTO_WET]
    rain = flux[:, RAIN]
    areas = days.forcing.crop[0, start * n : today * n, AREA_WET]
    came = rain + flux[:, IRRIGATION] / areas
    share = np.divide(rain, came, out=np.zeros_like(came), where=came > 0)
    by_rain, by_hand = float(np.sum(into * share)), float(np.sum(into * (1.0 - share)))
    plants, air = float(flux[:, TRANSPIRATION_WET].sum()), float(flux[:, EVAPORATION_WET].sum())
    patch = _patch_growth(known, start)
    sank = ran - (before + plants + air - by_rain - by_hand + patch)
    since = _day(days, start)
    parts = [
        (say("missing already on {since:tiny}", since=since), before),
        (say("drawn by the plants"), plants),
        (say("dried off the surface"), air),
        (say("rain that went in"), -by_rain),
        (say("watering that went in"), -by_hand),
        (say("soil that the growing watered patch took in"), patch),
        (say("sank below the roots") if sank > 0 else say("came from water above field capacity"), sank),
        (say("what the readings add") if now > ran else say("what the readings take off"), now - ran),
    ]
    kept = [Reason(cause, mm, days.litres(mm, today)) for cause, mm in parts if abs(mm) >= 0.05]
    rest = now - sum(r.depth_mm for r in kept)
    if abs(rest) > 1e-9:  # parts too small to list
        kept.append(Reason(say("smaller parts"), rest, days.litres(rest, today)))
    return since, tuple(kept)


def _patch_growth(known: Known, start: int) -> float:
    """What the wetted part came to lack because it grew into its surroundings since day ``start``. [mm over it]"""
    days, today, n = known.days, known.today, known.days.steps_a_day
    if days.laid.columns.footprints == 1:
        return 0.0
    added = 0.0
    for d in range(max(start, 1), today):
        old, new = days.area_wet(d - 1), days.area_wet(d)
        if new > old:
            water = known.past.water_mm[0, d * n - 1]
            mixed = water.copy()
            mixed[0] += (new - old) / new * (water[1] - water[0])
            added += float(days.missing_mm(mixed, today)[0] - days.missing_mm(water, today)[0])
    return added


def _why(
    known: Known, verdict: Verdict, used: FloatArray, limit: float, chance: float, phase: int, gross: float
) -> str:
    days, today = known.days, known.today
    if phase == NONE:
        return say("nothing grows here now")
    needs = float(days.missing_mm(known.now.water_mm[0], today)[0]) / float(days.laid.columns.delivery[0, 0])
    needs -= days.coming_today_mm(today)
    percents = {"used": 100 * used[0, 0], "limit": 100 * limit}
    if by_tonight(days)[today]:
        share = say("{used:.0f} % used by tonight, limit {limit:.0f} %", **percents)
    else:
        share = say("{used:.0f} % used by midday, limit {limit:.0f} %", **percents)
    if verdict == "let drain":
        return say("the roots lack air: too wet to water")
    if verdict == "probe first":
        return say("{share}, may be either", share=share)
    if verdict == "soak" and gross < 0.97 * needs:
        return say("{share}; more would run off today", share=share)
    return share


def _day(days: PlaceDays, index: int) -> date:
    first: date = days.days[0].astype(date)
    return first + timedelta(days=index)
