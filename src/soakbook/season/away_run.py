"""A place lived through the days away: every member with its own weather, watered only as told.

The account is the full balance (:mod:`soakbook.balance`), its prices are those of the advice (:mod:`soakbook.advice.costs`): hundredths of
the place's harvest for what plants lack of water or air, for swings, damp seedlings and dry seedbeds. Two things come on top. Plants
that find hardly any water for :data:`DIES_AFTER` days are lost, and their harvest with them. A pot whose saucer holds water stands in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from soakbook.advice.belief import Belief, members_of
from soakbook.advice.costs import AIRLESS_TIMES, priced
from soakbook.advice.decide import LEAST_MM, TOO_WET, judged_use, limits
from soakbook.advice.start import Start, start_of, unless_it_rains
from soakbook.advice.week import demand_and_rain
from soakbook.balance import rollout_names as names
from soakbook.balance.columns import HOLD, OVERHEAD, SAUCER, SOGGY, STRESS, TRANSPIRATION, WANTED, State
from soakbook.balance.crops import ESTABLISHING, SEEDBED, growing
from soakbook.balance.place import PlaceDays, place_days
from soakbook.balance.rollout import Ahead, reduce
from soakbook.balance.rollout_days import PARTING_HOUR
from soakbook.balance.rollout_steps import DAMP_WITHIN, SEED_FROM, SEVERE_FROM, SEVERE_TIMES, SWING_FROM
from soakbook.balance.run import run_columns
from soakbook.garden.model import Garden, LogEntry, Place
from soakbook.weather.members import WeatherMembers
from soakbook.weather.series import WeatherSeries

if TYPE_CHECKING:
    from soakbook.balance.layout import Members

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: A day on which plants get less than this part of what they want is a day without water; so many of them in a row and they are lost: seedlings
#: and fresh transplants, plants in pots and trays, crops in beds, perennials that stand there for years. Judged: no table gives it.
#: The wilting point is where plants no longer recover overnight (the usual definition), which is not yet death.
WITHOUT_WATER = 0.1
DIES_AFTER = {"young": 2, "pot": 4, "bed": 10, "perennial": 20}
#: A helper tops up a place that lacks this part of what its roots can reach. Judged: a visit is walked anyway, the next is days off.
TOP_UP_FROM = 0.1
#: Growth lost for each part of the light kept off, of the growth that water would have allowed. Judged: leaves in full summer sun have
#: more light than they can use, and a crop in shade loses less growth than light.
DIM_LOSS = 0.3
#: Parts of a loss, in order.
PARTS = ("dry", "wet", "swing", "damp", "seed", "dim")


@dataclass(frozen=True, eq=False)
class Leaving:
    """A place on the morning of leaving, and the days away that lie before it; equal only to itself.

    ``days`` is the place laid out with its members, ``first`` the index of the first day away in it, ``count`` the days away, ``now`` what
    each member holds that morning. ``eto_mm``, ``rain_mm`` (steps, M) are of the days away. ``prices`` (parts of days, len(names.DAY))
    has what is lost per unit of what lacks, ``top`` the layers that make the surface. ``light`` (count,) is the part of the light left by a
    measure, ``start`` and ``members`` what the place is laid out from. ``given_mm`` was put on this morning already, when that is the first day away.
    ``timer_mm`` (count,) is what a timer puts on each morning, None where none reaches; ``by_hand``: whether whoever comes waters here as the
    place asks; ``line_mm`` (count,): what its line gives it, opened by whoever comes for all that hang on it.
    """

    days: PlaceDays
    first: int
    count: int
    now: State
    eto_mm: FloatArray
    rain_mm: FloatArray
    prices: FloatArray
    top: tuple[int, ...]
    light: FloatArray
    start: Start
    members: Members
    until: date
    given_mm: float = 0.0
    timer_mm: FloatArray | None = None
    by_hand: bool = True
    line_mm: FloatArray | None = None

    @property
    def place(self) -> Place:
        """The place."""
        return self.days.place

    @cached_property
    def grows(self) -> BoolArray:
        """On which of the days away something grows that is still wanted. (count,)"""
        return growing(self.days.crops.phase[self.first : self.first + self.count])

    @cached_property
    def dies_after(self) -> NDArray[np.int64]:
        """Days without water after which plants are lost, by day. (count,)"""
        phase = self.days.crops.phase[self.first : self.first + self.count]
        young = np.isin(phase, (SEEDBED, ESTABLISHING))
        lasting = all(p.established for p in self.place.plantings)
        kind = "pot" if self.place.kind != "bed" else "perennial" if lasting else "bed"
        return np.where(young, DIES_AFTER["young"], DIES_AFTER[kind])


@dataclass(frozen=True)
class Outcome:
    """What became of a place, by day and member: ``short`` (days, M) whether it fell due or beyond; ``used`` (days, M) of what the roots
    reach, at the end of each day; ``parts`` (len(PARTS), days, M) of what was lost, in hundredths of the harvest; ``lost_by`` (days, M)
    whether the plants are lost; ``litres`` (days,) what was put on, ``brought`` (days,) the part of it that a visit brought. ``grows``: whether
    anything grows there in these days; what is lost of a garden is meaned over such places (:func:`counting`)."""

    place: str
    short: BoolArray
    used: FloatArray
    parts: FloatArray
    lost_by: BoolArray
    litres: FloatArray
    wet_feet: FloatArray = field(default_factory=lambda: np.zeros(0))
    brought: FloatArray = field(default_factory=lambda: np.zeros(0))
    grows: bool = True

    @cached_property
    def by_day(self) -> FloatArray:
        """Harvest lost up to the end of each day, 100 where the plants are. (days, M) [hundredths]"""
        so_far = np.minimum(np.cumsum(self.parts.sum(axis=0), axis=0), 100.0)
        return np.where(self.lost_by, 100.0, so_far)

    @property
    def loss(self) -> FloatArray:
        """Harvest lost in all. (M,) [hundredths]"""
        return np.asarray(self.by_day[-1])

    @property
    def mean(self) -> float:
        """The loss to be expected. [hundredths]"""
        return float(self.loss.mean())

    @property
    def lost_odds(self) -> float:
        """How likely the plants are lost."""
        return float(self.lost_by[-1].mean())

    @property
    def short_odds(self) -> FloatArray:
        """How likely the place is short of water on each day. (days,)"""
        return np.asarray(self.short.mean(axis=1))


def counting(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """Those by which the loss of a garden is meaned: where something grows; all of them, none losing anything, where that is nowhere."""
    return [one for one in outcomes if one.grows] or list(outcomes)


def leaving_of(
    garden: Garden, belief: Belief, weather: WeatherSeries, log: Sequence[LogEntry], ahead: WeatherMembers, on: date, first: date,
    last: date,
) -> Leaving:  # fmt: skip
    """A place run from this morning to the morning of ``first``, watered by the rule on the days between.

    ``belief`` is of the morning of ``on``; ``ahead`` has the weather from ``on`` to ``last``; waterings of ``on`` in the log count as given. What
    a timer runs on the first day away is not among them: with the timer it is in ``timer_mm``, and without it nothing runs.
    """
    days, today = belief.days, belief.today
    at, count = days.index(first), (last - first).days + 1
    eto, rain = demand_and_rain(days, ahead.between(np.datetime64(on), np.datetime64(last)))
    n = days.steps_a_day
    given = sum(
        e.litres or 0.0
        for e in log
        if e.kind == "water" and e.place == days.place.name and e.at.date() == on and (first > on or not e.timer)
    )
    state = belief.now
    for k, day in enumerate(range(today, at)):
        span = slice(k * n, (k + 1) * n)
        put = _by_rule_mm(days, state, day, eto[span], rain[span])
        if k == 0:
            put = max(put, days.depth_mm(given, day))
        state = _run(days, state, day, day + 1, eto[span], rain[span], np.array([put]))[0]
    away = slice((at - today) * n, (at - today + count) * n)
    eto, rain = np.ascontiguousarray(eto[away]), np.ascontiguousarray(rain[away])
    reduced = priced(reduce(days, at, state, Ahead(eto, rain), horizon=count), days, at)
    start = start_of(garden, days.place, unless_it_rains(weather, on), on, log)
    return Leaving(
        days, at, count, state, eto, rain, reduced.day, reduced.groups[0], np.ones(count), start, members_of(belief), on,
        days.depth_mm(given, at) if at == today else 0.0,
    )  # fmt: skip


def changed(leaving: Leaving, place: Place, ahead: WeatherMembers) -> Leaving:
    """The same morning with the place in another state (mulched, shaded, in a saucer). Prices stay: it is the same harvest."""
    days = place_days(
        leaving.days.garden, place, leaving.start.weather, leaving.start.log, leaving.members, until=leaving.until
    )
    first, last = (leaving.days.days[k] for k in (leaving.first, leaving.first + leaving.count - 1))
    here = ahead.between(first, last)
    eto, rain = demand_and_rain(days, here)
    light = _light(place, here) / _light(leaving.place, here)
    return replace(leaving, days=days, eto_mm=eto, rain_mm=rain, light=np.minimum(light, 1.0))


def _light(place: Place, ahead: WeatherMembers) -> FloatArray:
    """Mean light of each day at a place. (days,) [MJ/m²]"""
    from soakbook.balance.member_weather import members_at

    return np.asarray(np.maximum(members_at(place, ahead).get("solar_mj_m2").mean(axis=0), 1e-9))


def mornings(leaving: Leaving) -> list[State]:
    """What each morning away begins with when nobody comes; a timer that is on runs."""
    n, states = leaving.days.steps_a_day, [leaving.now]
    for k in range(leaving.count - 1):
        span, day = slice(k * n, (k + 1) * n), leaving.first + k
        put = _sure_mm(leaving)[k : k + 1]
        states.append(_run(leaving.days, states[-1], day, day + 1, leaving.eto_mm[span], leaving.rain_mm[span], put)[0])
    return states


def rest_of(leaving: Leaving, k: int, state: State) -> Leaving:
    """The days away from the ``k``-th on, from what is held that morning."""
    n, sub = leaving.days.steps_a_day, len(leaving.prices) // leaving.count
    return replace(
        leaving, first=leaving.first + k, count=leaving.count - k, now=state, eto_mm=leaving.eto_mm[k * n :],
        rain_mm=leaving.rain_mm[k * n :], prices=leaving.prices[k * sub :], light=leaving.light[k:], given_mm=0.0 if k else leaving.given_mm,
        timer_mm=None if leaving.timer_mm is None else leaving.timer_mm[k:],
        line_mm=None if leaving.line_mm is None else leaving.line_mm[k:],
    )  # fmt: skip


def live(
    leaving: Leaving, put_mm: Mapping[int, float] | None = None, *, visits: Sequence[int] = (), soak_mm: float = 0.0
) -> Outcome:
    """Live through the days away.

    Parameters
    ----------
    leaving
        The place on the morning of leaving; its timer runs where it has one.
    put_mm
        Depths over the watered part by day away, 0 the first. [mm]
    visits
        Days away on which somebody comes and tops the place up (:func:`top_up_mm`), after the timer has run.
    soak_mm
        Put on on the morning of leaving. [mm]
    """
    days, n = leaving.days, leaving.days.steps_a_day
    puts = _sure_mm(leaving)
    brought = np.zeros(leaving.count) if leaving.line_mm is None else leaving.line_mm.copy()
    for day, depth in (put_mm or {}).items():
        puts[day] += depth
    puts[0] += soak_mm
    visits = visits if leaving.by_hand else ()
    has_saucer = float(days.laid.columns.fixed[0, SAUCER]) > 0.0
    cuts = range(leaving.count) if has_saucer else sorted({0, *visits})
    ends = [*list(cuts)[1:], leaving.count]
    state, flux, water, standing = leaving.now, [], [], []
    for a, b in zip(cuts, ends, strict=True):
        span, day = slice(a * n, b * n), leaving.first + a
        if a in visits:
            more = top_up_mm(days, state, day, float(puts[a]))
            brought[a] += more
            puts[a] += more
        state, fluxes, held = _run(
            days, state, day, leaving.first + b, leaving.eto_mm[span], leaving.rain_mm[span], puts[a:b]
        )
        flux.append(fluxes)
        water.append(held)
        if has_saucer:
            standing.append(state.saucer_mm[0])
    litres, by_hand = (
        np.array([days.litres(mm, leaving.first + k) for k, mm in enumerate(puts_mm)]) for puts_mm in (puts, brought)
    )
    stood = np.array(standing) if has_saucer else None
    return replace(_judged(leaving, np.concatenate(flux), np.concatenate(water), litres, stood), brought=by_hand)


def _sure_mm(leaving: Leaving) -> FloatArray:
    """What is put on each morning, asked for or not: by the timer, by a line that is opened, and what was given on the morning of leaving. (count,) [mm]"""
    puts = np.zeros(leaving.count)
    for sure in (leaving.timer_mm, leaving.line_mm):
        puts += 0.0 if sure is None else sure
    puts[0] += leaving.given_mm
    return puts


def top_up_mm(days: PlaceDays, state: State, day: int, already_mm: float = 0.0) -> float:
    """What somebody who comes by gives: what the watered part is thought to lack on the mean of the members, as the rule would; ``already_mm`` was
    put on that morning and is not given again. [mm]"""
    if not growing(days.crops.phase[day]) or float(state.airless.mean()) > TOO_WET:
        return 0.0
    arrived = already_mm * float(days.laid.columns.delivery[0, 0])
    missing = float(days.missing_mm(state.water_mm[0], day).mean()) - arrived
    if missing < max(LEAST_MM, TOP_UP_FROM * float(days.store_mm(day).mean())):
        return 0.0
    return fill_mm(days, state, missing)


def fill_mm(days: PlaceDays, state: State, missing_mm: float) -> float:
    """Depth to put on so that so much arrives: losses of the means on top, and what a mulch keeps. [mm]"""
    fixed = days.laid.columns.fixed[0]
    on_mulch = max(0.0, float(fixed[HOLD] - state.held_mm[0, 0].mean())) if fixed[OVERHEAD] > 0.0 else 0.0
    return (missing_mm + on_mulch) / float(days.laid.columns.delivery[0, 0])


def _by_rule_mm(days: PlaceDays, state: State, day: int, eto: FloatArray, rain: FloatArray) -> float:
    """What the rule gives on a morning, by the mean of the members. [mm]"""
    missing = days.missing_mm(state.water_mm[0], day)
    if not growing(days.crops.phase[day]) or float(missing.mean()) < LEAST_MM or float(state.airless.mean()) > TOO_WET:
        return 0.0
    held = _run(days, state, day, day + 1, eto[: days.steps_a_day], rain[: days.steps_a_day], np.zeros(1))[2][-1]
    night = np.minimum((days.reach[day] @ np.maximum(days.laid.columns.fc_mm[0] - held, 0.0)) / days.store_mm(day), 1.0)
    used = judged_use(days, days.used_fraction(state.water_mm[0], day), night[None], day)
    return fill_mm(days, state, float(missing.mean())) if float(used.mean()) >= float(limits(days)[day]) else 0.0


def _run(
    days: PlaceDays, state: State, first: int, last: int, eto: FloatArray, rain: FloatArray, puts_mm: FloatArray
) -> tuple[State, FloatArray, FloatArray]:
    """Days ``first`` to ``last`` (not included) with ``puts_mm`` by day: the end, fluxes (steps, ·, M) and water of the watered part (steps, L, M)."""
    part = days.part(
        first, last, [(first + int(k), puts_mm[k]) for k in np.flatnonzero(puts_mm)], logged=False, coming=False
    )
    forcing = replace(part, eto_mm=np.ascontiguousarray(eto[None]), rain_mm=np.ascontiguousarray(rain[None]))
    done = run_columns(days.laid.columns, forcing, state)
    return done.end, done.fluxes[0], done.water_mm[0, :, 0]


def _judged(
    leaving: Leaving, flux: FloatArray, water: FloatArray, litres: FloatArray, standing: FloatArray | None
) -> Outcome:
    """What a run comes to. The formulas of a part of a day are those of :mod:`soakbook.balance.rollout_steps`."""
    days, count, n = leaving.days, leaving.count, leaving.days.steps_a_day
    ends = _part_ends(n, count)
    sub = len(ends) // count
    want, got = flux[:, WANTED], flux[:, TRANSPIRATION]
    could = want * flux[:, STRESS]
    no_air = could * (1.0 - flux[:, SOGGY])
    begins = np.concatenate([[0], ends[:-1] + 1])
    want, got, could, no_air = (np.add.reduceat(v, begins, axis=0) for v in (want, got, could, no_air))
    for_dry = np.maximum(want - no_air - got, 0.0)
    severe = SEVERE_TIMES * np.maximum(for_dry - SEVERE_FROM * want, 0.0)
    price = leaving.prices[:, :, None]
    used = _used(leaving, water[ends], sub)
    was = np.concatenate([days.used_fraction(leaving.now.water_mm[0], leaving.first)[None], used[:-1]])
    swing = np.maximum(was - SWING_FROM, 0.0) ** 2 * np.maximum(was - used, 0.0)
    dried = _surface_dried(leaving, water[ends])
    dim = DIM_LOSS * np.repeat(1.0 / leaving.light - 1.0, sub)[:, None] * got
    wet = no_air
    if standing is not None:
        wet = wet + np.repeat(_drowned(leaving, standing), sub, axis=0) * got
    parts = np.stack([
        price[:, names.LOSE_DRY] * (for_dry + severe),
        price[:, names.LOSE_WET] * wet,
        price[:, names.LOSE_SWING] * swing,
        price[:, names.LOSE_DAMP] * np.maximum(1.0 - dried / DAMP_WITHIN, 0.0),
        price[:, names.LOSE_SEED] * np.maximum(used - SEED_FROM, 0.0) / (1.0 - SEED_FROM),
        price[:, names.LOSE_WET] / AIRLESS_TIMES * dim,
    ])  # fmt: skip
    members = want.shape[1]

    def by_day(values: FloatArray) -> FloatArray:
        return np.asarray(values.reshape(*values.shape[:-2], count, sub, members).sum(axis=-2))

    nights = used[sub - 1 :: sub]
    lost = _lost_by(leaving, by_day(want), by_day(got))
    morning = days.used_fraction(leaving.now.water_mm[0], leaving.first)
    judged = judged_use(days, morning, nights, leaving.first)
    short = (judged >= limits(days)[leaving.first : leaving.first + count, None]) & leaving.grows[:, None]
    stood = np.zeros(0) if standing is None else np.asarray((standing > 0.0).mean(axis=1))
    lost_parts = np.where(leaving.grows[:, None], by_day(parts), 0.0)  # what is past its season has no harvest to lose
    return Outcome(leaving.place.name, short, nights, lost_parts, lost, litres, stood, grows=bool(leaving.grows.any()))


def _part_ends(steps_a_day: int, count: int) -> NDArray[np.int64]:
    """The last step of each part of a day: a bed's day is whole, a pot's is parted as the rollout parts it."""
    cuts = [0] if steps_a_day == 1 else [PARTING_HOUR - 1, steps_a_day - 1]
    return np.asarray((np.arange(count)[:, None] * steps_a_day + np.array(cuts)).ravel(), dtype=np.int64)


def _used(leaving: Leaving, water: FloatArray, sub: int) -> FloatArray:
    """The fraction used at the end of each part of a day. (parts, M)"""
    days = leaving.days
    span = slice(leaving.first, leaving.first + leaving.count)
    reach = np.repeat(days.reach[span], sub, axis=0)
    missing = np.einsum("tl,tlm->tm", reach, np.maximum(days.laid.columns.fc_mm[0] - water, 0.0))
    return np.asarray(np.minimum(missing / np.repeat(days.stores_mm[span], sub, axis=0), 1.0))


def _surface_dried(leaving: Leaving, water: FloatArray) -> FloatArray:
    """How far the surface has dried, of what it can hold for roots. (parts, M)"""
    top, columns = list(leaving.top), leaving.days.laid.columns
    full = columns.fc_mm[0, top].sum(axis=0)
    return np.asarray(np.maximum(full - water[:, top].sum(axis=1), 0.0) / leaving.days.taw_mm[top].sum(axis=0))


def _lost_by(leaving: Leaving, want: FloatArray, got: FloatArray) -> BoolArray:
    """Whether the plants are lost by the end of each day. (count, M)"""
    without = (got < WITHOUT_WATER * want) & (want > 0.0) & leaving.grows[:, None]
    in_row = np.zeros(want.shape[1])
    lost = np.zeros(want.shape, dtype=bool)
    for k, dry in enumerate(without):
        in_row = np.where(dry, in_row + 1.0, 0.0)
        lost[k] = in_row >= leaving.dies_after[k]
    return np.asarray(np.logical_or.accumulate(lost, axis=0))


def _drowned(leaving: Leaving, standing: FloatArray) -> FloatArray:
    """Part of a pot's roots that stand in its saucer's water, by day. (count, M)

    Roots are taken as even over the height. Water still there at the end of a day has stood for most of it; common practice empties a saucer
    after a quarter of an hour.
    """
    pot = leaving.place.pot
    assert pot is not None
    ground_over_foot = 1.0 / max(
        float(leaving.days.laid.columns.fixed[0, SAUCER]) / (1000.0 * pot.saucer_depth_m), 1e-9
    )
    level_m = standing * ground_over_foot / 1000.0
    return np.asarray(np.minimum(level_m / (pot.height_m * pot.fill_fraction), 1.0))
