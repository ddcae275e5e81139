"""Places on a timer's lines, laid out with members of the weather and of what is not known of them, ready to be run through the balance."""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import (
    AREA_WET,
    DEPLETION_P,
    EVAPORATION_WET,
    TRANSPIRATION_WET,
    Forcing,
    Result,
    State,
    state_at,
)
from soakbook.balance.crops import growing
from soakbook.balance.member_weather import eto_and_rain
from soakbook.balance.place import PlaceDays, place_days
from soakbook.balance.run import run_columns
from soakbook.balance.spread import draw_members
from soakbook.delivery.goes import stand_of, takes_min
from soakbook.delivery.ground_seen import ground_of
from soakbook.delivery.laid import is_on_line
from soakbook.delivery.timer_model import Programme
from soakbook.delivery.timer_need import FloatArray, Need, Span, shares_of_day
from soakbook.errors import InputError
from soakbook.garden.log import flow_lph, line_of
from soakbook.garden.model import Garden, Place
from soakbook.physics.infiltration import ponded_depth_explicit_mm
from soakbook.weather.join import join
from soakbook.weather.members import WeatherMembers
from soakbook.weather.series import WeatherSeries

#: Pictures of the weather that a plan works with: the members in order of how dry they are, one from the middle of each of so many parts.
PICTURES = 3
#: Times the first day is run until what it uses is what it is given.
FIRST_DAY_TRIES = 4
#: Soil below this conductivity is left without air by water it cannot pass on; waste counts up to twice there. Judged. [mm/h]
SLOW_KS_MM_H = 5.0
#: Part of the available water that is used when a run begins, for how much of it goes in. Judged.
HALF_DRY = 0.5


@dataclass(frozen=True)
class TimerPlace:
    """A place on a line: its days, the weather of its members, and what it holds on the first morning.

    ``depth_per_minute_mm`` is what a minute of its line pours over its watered part, ``takes_mm`` the most that one run brings in before
    the rest runs off (infinite where the line is slower than the soil). ``use_mm``: what :func:`kept_full` gives, by day and member, where it
    has been worked out already.
    """

    days: PlaceDays
    forcing: Forcing
    start: State
    line: str
    depth_per_minute_mm: float
    litres_per_minute: float
    takes_mm: float
    use_mm: FloatArray | None = None

    @property
    def name(self) -> str:
        """The place's name."""
        return self.days.place.name

    @property
    def grows(self) -> NDArray[np.bool_]:
        """On which of its days something grows that has not passed its season. (days,)"""
        return growing(self.days.crops.phase)

    def run(self, put_mm: FloatArray, first: int, last: int, state: State, *, keep: bool = True) -> Result:
        """Run days ``first`` to ``last`` (not included) with ``put_mm`` (steps,) over the watered part; fluxes are kept by the day."""
        n = self.days.steps_a_day
        a, b = first * n, last * n
        f = self.forcing
        put = f.irrigation_mm[:, a:b].copy()
        put[0, :, 0] += put_mm
        part = Forcing(
            np.ascontiguousarray(f.eto_mm[:, a:b]), np.ascontiguousarray(f.rain_mm[:, a:b]), put,
            np.ascontiguousarray(f.crop[:, a:b]), np.ascontiguousarray(f.roots[:, a:b]), f.step_hours,
        )  # fmt: skip
        nights = np.arange(n - 1, b - a, n)
        return run_columns(self.days.laid.columns, part, state, keep=nights if keep else False, fluxes=keep)


def timer_places(
    garden: Garden, ahead: WeatherMembers, *, used: Mapping[str, float] | None = None, past: WeatherSeries | None = None, seed: int = 1,
) -> tuple[TimerPlace, ...]:  # fmt: skip
    """The places of a garden that a timer can water: on a line, with a flow that is known, something growing.

    Parameters
    ----------
    garden
        The garden.
    ahead
        Members of the weather over the days in question; each place gets as many members of its own unknowns.
    used
        Part of the available water that is used on the first morning, by place; full where not given.
    past
        Weather up to the day before, by which it is known how far the plants are; without it the days since planting are taken to have been
        as warm as the first ones ahead.
    seed
        Where chance begins.
    """
    mean = _mean_series(ahead, garden.time_zone)
    known = len(past) if past is not None else 0
    weather = join(past, mean) if past is not None and known else mean
    made = []
    for place in garden.places:
        flow = flow_lph(place, garden)
        if place.line is None or not flow:
            continue
        one = _laid(garden, place, ahead, weather, known, flow, (used or {}).get(place.name, 0.0), seed)
        if one.grows.any():
            made.append(one)
    return tuple(made)


def _laid(
    garden: Garden, place: Place, ahead: WeatherMembers, weather: WeatherSeries, known: int, flow: float, used: float, seed: int
) -> TimerPlace:  # fmt: skip
    rng = np.random.default_rng([seed, zlib.crc32(place.name.encode())])
    members = replace(draw_members(place, len(ahead), rng, line_of(place, garden)), paths=None)
    days = days_from(place_days(garden, place, weather, members=members), known)
    eto, rain = eto_and_rain(place, ahead)
    forcing = replace(days.forcing, eto_mm=eto[None], rain_mm=rain[None])
    start = state_at(days.laid.columns, forcing.crop[:, 0, AREA_WET], 1.0 - used)
    wet_m2 = days.laid.ground_m2 * days.area_wet(0)
    depth = flow / 60.0 / wet_m2
    return TimerPlace(days, forcing, start, str(place.line), depth, flow / 60.0, _takes_mm(garden, days, depth))


def _takes_mm(garden: Garden, days: PlaceDays, per_minute_mm: float) -> float:
    """The most that one run brings in before the rest runs off, on ground that is half dry: along a line on a bed as the round splits its soaks into goes
    (:func:`soakbook.delivery.goes.takes_min`), else what the surface takes in an hour while ponded (Green-Ampt); see :mod:`soakbook.advice.job`."""
    place = days.place
    if is_on_line(place):
        with suppress(InputError):  # a soil with too little known for its curves
            grounds = ground_of(place)
            stand = stand_of(place, garden, grounds)
            if stand is not None:
                return takes_min(stand, grounds, HALF_DRY) * per_minute_mm
    columns = days.laid.columns
    intake, suction = float(columns.intake_mm_h[0, 0]), float(columns.suction_mm[0, 0])
    if 60.0 * per_minute_mm <= intake:
        return math.inf
    top = columns.thickness_mm[0, 0]
    room = float((columns.sat_mm - columns.fc_mm)[0, 0, 0] / top) + 0.5 * HALF_DRY * float(days.taw_mm[0, 0] / top)
    return ponded_depth_explicit_mm(intake, suction * room, 1.0)


def _mean_series(ahead: WeatherMembers, time_zone: str) -> WeatherSeries:
    """The mean of the members, for what the crop's calendar goes by."""
    mean = {name: values.mean(axis=0, keepdims=True) for name, values in ahead.columns.items()}
    return replace(ahead, columns=mean).series(0, time_zone)


def put_by(
    setting: Sequence[Programme], one: TimerPlace, shares: Mapping[str, FloatArray] | None = None
) -> tuple[FloatArray, FloatArray]:
    """What a setting brings into the soil of a place by step, (steps,), and what runs off by day, (days,). [mm over the watered part]

    ``shares``: the part of its runs that a line gets by day, by line (:func:`soakbook.delivery.timer_tank.tank_shares`); all of them where not given.
    """
    n, days = one.days.steps_a_day, [stamp.astype(date) for stamp in one.days.days]
    put, off = np.zeros((len(days), n)), np.zeros(len(days))
    share = (shares or {}).get(one.line, np.ones(len(days)))[: len(days)]
    for programme in setting:
        full = programme.minutes_of(one.line) * one.depth_per_minute_mm
        if full > 0.0:
            depth = full * share * np.array([programme.days.runs_on(day) for day in days])
            for start in programme.starts:
                put[:, start // 60 if n > 1 else 0] += np.minimum(depth, one.takes_mm)
                off += np.maximum(depth - one.takes_mm, 0.0)
    return put.ravel(), off


def kept_full(one: TimerPlace, days: int) -> FloatArray:
    """Use of the watered part by day and member when it never dries, (days, M). [mm]

    Every morning finds it full. A pot may hold less than a day's use, so it is also given hour by hour what the day before has used, as far
    as this day asks for more or less.
    """
    if one.use_mm is not None and len(one.use_mm) >= days:
        return one.use_mm[:days]
    n, state = one.days.steps_a_day, one.start
    efficiency = float(one.days.laid.columns.delivery[0, 0])
    demand = one.forcing.eto_mm[0].mean(axis=1).reshape(-1, n)
    used = np.empty((days, one.start.airless.shape[1]))
    rate = 0.0  # use for each mm of demand
    for d in range(days):
        missing = float(one.days.missing_mm(state.water_mm[0], d).mean()) / efficiency
        for _ in range(FIRST_DAY_TRIES if n > 1 and d == 0 else 1):
            put = rate * demand[d] / efficiency if n > 1 else np.zeros(n)
            put[0] += missing
            result = one.run(put, d, d + 1, state, keep=False)
            used[d] = result.totals[0, EVAPORATION_WET] + result.totals[0, TRANSPIRATION_WET]
            rate = float(used[d].mean()) / max(float(demand[d].sum()), 1e-6)
        state = result.end
    return used


def wanted_full(one: TimerPlace, days: int) -> FloatArray:
    """What :func:`kept_full` gives, and nothing after the last day on which something grows that has not passed its season, (days, M). [mm]"""
    grows = np.flatnonzero(one.grows[:days])
    last = int(grows[-1]) + 1 if len(grows) else 0
    return np.where(np.arange(days)[:, None] < last, kept_full(one, days), 0.0)


def days_from(days: PlaceDays, first: int) -> PlaceDays:
    """A place from a later day on."""
    a = first * days.steps_a_day
    crops = type(days.crops)(**{name: values[first:] for name, values in vars(days.crops).items()})
    return replace(
        days, crops=crops, days=days.days[first:], eto_mm=days.eto_mm[first:], rain_mm=days.rain_mm[first:], forcing=_later(days.forcing, a),
        by_step_mm=(days.by_step_mm[0][a:], days.by_step_mm[1][a:]),
    )  # fmt: skip


def from_day(one: TimerPlace, first: int, start: State) -> TimerPlace:
    """The place from a later day on, as it is found on that morning."""
    later = _later(one.forcing, first * one.days.steps_a_day)
    use = None if one.use_mm is None else one.use_mm[first:]
    return replace(one, days=days_from(one.days, first), forcing=later, start=start, use_mm=use)


def _later(f: Forcing, step: int) -> Forcing:
    """What acts from a step on."""
    return Forcing(
        f.eto_mm[:, step:], f.rain_mm[:, step:], f.irrigation_mm[:, step:], f.crop[:, step:], f.roots[:, step:], f.step_hours
    )  # fmt: skip


def needs_of(places: Sequence[TimerPlace], span: Span) -> tuple[Need, ...]:
    """What a plan works with, place by place; places in which nothing grows in its days are left out."""
    mine = [p for p in places if p.grows[: span.days].any()]
    return tuple(_need(one, span, 1.0 / len(mine)) for one in mine)


def _need(one: TimerPlace, span: Span, weight: float) -> Need:
    days, n, columns = one.days, one.days.steps_a_day, one.days.laid.columns
    use = wanted_full(one, span.days)
    rain = one.forcing.rain_mm[0, : span.days * n].reshape(span.days, n, -1).sum(axis=1) * columns.catch[0]
    order = np.argsort((use - rain).sum(axis=0))
    chosen = order[((np.arange(PICTURES) + 0.5) / PICTURES * len(order)).astype(int)]
    middle = span.days // 2
    store = float(days.store_mm(middle).mean())
    easy = store * float(one.forcing.crop[0, middle * n, DEPLETION_P])
    windows = len(span.windows)
    falls = np.zeros((PICTURES, span.days, windows))
    falls[:, :, -1 if windows < 2 else 0] = rain[:, chosen].T
    slow = min(1.0, SLOW_KS_MM_H / float(columns.ks_mm_h[0, :, 0].min()))
    return Need(
        place=one.name, line=one.line,
        use_mm=(use[:, chosen].T[:, :, None] * shares_of_day(span.windows)).reshape(PICTURES, -1),
        rain_mm=falls.reshape(PICTURES, -1), store_mm=store, easy_mm=min(easy, 0.95 * store),
        missing_mm=float(days.missing_mm(one.start.water_mm[0], 0).mean()),
        per_minute_mm=one.depth_per_minute_mm * float(columns.delivery[0].mean()),
        litres_per_minute=one.litres_per_minute, takes_mm=one.takes_mm * float(columns.delivery[0].mean()),
        waste_times=1.0 + slow, weight=weight,
    )  # fmt: skip
