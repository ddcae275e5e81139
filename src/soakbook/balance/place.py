"""One place through a stretch of days: forcing built, columns run, and what they hold read back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property, lru_cache
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import (
    AREA_WET,
    CROP,
    DEPLETION_P,
    FEW_DRY,
    FEW_WET,
    HOURS,
    KC_MAX,
    KCB,
    KE_CUT,
    Forcing,
    Result,
    State,
    state_at,
)
from soakbook.balance.crops import ESTABLISHING, SEEDBED, CropDays, crop_days
from soakbook.balance.layout import LaidOut, Members, best_guess, lay_out
from soakbook.balance.run import run_columns
from soakbook.balance.site import site_eto, site_factor, weather_at
from soakbook.balance.spread import FROM_BELOW
from soakbook.balance.wander import begun, demand_factor, rain_factor
from soakbook.catalog import read as catalog
from soakbook.catalog.model import Plant
from soakbook.errors import InputError
from soakbook.garden.model import Garden, LogEntry, Place, Planting
from soakbook.garden.timer_runs import entries_between
from soakbook.physics.canopy import canopy_area_m2
from soakbook.physics.evaporation import exposed_wetted_fraction
from soakbook.physics.roots import adjusted_depletion_p, layer_weights
from soakbook.physics.sun import extraterrestrial_period_mj_m2
from soakbook.said import Measure, Said, say
from soakbook.weather.series import WeatherSeries

FloatArray = NDArray[np.float64]

#: Hours over which a day's rain is taken to fall when only its total is known (common practice: a wet day's rain comes in
#: a few hours; sensitivity is in docs/validation.md).
RAIN_HOURS = 6.0
#: Water assumed given at sowing or planting-out when the log says nothing, over the wetted part. Common practice: water in.
WATERED_IN_MM = 10.0
#: Density of roots in the part that is never watered, against the watered part, once full grown. Judged; common practice of drip
#: growers: the crop lives off the wetted soil, and roots outside it are few.
DRY_ROOT_DENSITY = 0.15
#: Part of what is poured onto a pot that is to run out below: no pour wets a mix evenly, and where least of it goes the mix is wet only once
#: the rest is full. Common practice: a tenth to a fifth (which washes salt out as well).
RUNS_OUT = 0.2
#: Means by which water is poured at each plant, and how far beyond the leaves it wets. Judged: a hand's width.
POURED = ("can", "basin")
PATCH_MARGIN_M = 0.10


@dataclass(frozen=True)
class PlaceDays:
    """A place, its columns and everything that acts on it from ``days[0]`` to ``days[-1]``.

    ``eto_mm``, ``rain_mm``: per day at the spot, shape (T,). ``steps_a_day`` is 24 for pots and trays, 1 for beds. ``paths`` (M,) are
    the members' day-to-day errors (:mod:`soakbook.balance.wander`), already in the forcing; ``by_step_mm`` is demand and rain by step
    without them. ``coming_mm`` (1, steps, F) is what timers will put on by themselves from the day on up to which things have happened.
    """

    garden: Garden
    place: Place
    plantings: tuple[tuple[Planting, Plant], ...]
    laid: LaidOut
    crops: CropDays
    days: NDArray[np.datetime64]
    eto_mm: FloatArray
    rain_mm: FloatArray
    forcing: Forcing
    steps_a_day: int
    notes: tuple[str, ...]
    paths: NDArray[np.int64] | None
    by_step_mm: tuple[FloatArray, FloatArray]
    coming_mm: FloatArray

    def area_wet(self, day: int) -> float:
        """Wetted part of the place's area on a day."""
        return float(self.forcing.crop[0, day * self.steps_a_day, AREA_WET])

    def index(self, day: date) -> int:
        """Position of a day; IndexError when it is outside the run."""
        at = int((np.datetime64(day) - self.days[0]) / np.timedelta64(1, "D"))
        if not 0 <= at < len(self.days):
            raise IndexError(f"{day} is outside {self.days[0]} to {self.days[-1]}")
        return at

    def litres(self, depth_mm: float, day: int) -> float:
        """Litres for a depth over the part of the place that is wetted on a day."""
        return depth_mm * self.laid.ground_m2 * self.area_wet(day)

    def depth_mm(self, litres: float, day: int) -> float:
        """Depth over the part wetted on a day for litres given to the place."""
        return litres / (self.laid.ground_m2 * self.area_wet(day))

    def coming_today_mm(self, day: int) -> float:
        """What timers put on by themselves on a day, depth over the wetted part."""
        n = self.steps_a_day
        return float(self.coming_mm[0, day * n : (day + 1) * n, 0].sum())

    def part(
        self,
        first: int,
        last: int,
        extra_mm: Sequence[tuple[int, float]] = (),
        logged: bool = True,
        coming: bool = True,
    ) -> Forcing:
        """Forcing of days ``first`` to ``last`` (not included); ``extra_mm`` adds (day, depth over the wetted part) at
        the day's first step (for hourly steps at 7 in the morning). Water is what was ``logged``, else what is ``coming`` by
        itself, else none."""
        n = self.steps_a_day
        a, b = first * n, last * n
        put = (self.forcing.irrigation_mm if logged else self.coming_mm)[:, a:b].copy()
        if not logged and not coming:
            put[:] = 0.0
        for day, depth in extra_mm:
            put[0, (day - first) * n + (7 if n > 1 else 0), 0] += depth
        f = self.forcing
        return Forcing(
            np.ascontiguousarray(f.eto_mm[:, a:b]), np.ascontiguousarray(f.rain_mm[:, a:b]), put,
            np.ascontiguousarray(f.crop[:, a:b]), np.ascontiguousarray(f.roots[:, a:b]), f.step_hours,
        )  # fmt: skip

    def run(
        self, start: State, first: int, last: int, extra_mm: Sequence[tuple[int, float]] = (), logged: bool = True,
        *, keep: bool | NDArray[np.int64] = True, fluxes: bool = True,
    ) -> Result:  # fmt: skip
        """Run days ``first`` to ``last`` (not included) from a state; what is kept as in :func:`run_columns`."""
        forcing = self.part(first, last, extra_mm, logged)
        return run_columns(self.laid.columns, forcing, start, keep=keep, fluxes=fluxes)

    def start(self) -> State:
        """On the first day: a bed or tray full, a pot somewhere between half full and full (:func:`soakbook.balance.wander.begun`)."""
        area = self.forcing.crop[:, 0, AREA_WET]
        if self.place.kind != "pot":
            return state_at(self.laid.columns, area)
        members = self.laid.columns.shape[2]
        return state_at(
            self.laid.columns, area, begun(np.zeros(members, dtype=np.int64) if self.paths is None else self.paths)
        )

    @cached_property
    def taw_mm(self) -> FloatArray:
        """Available water of each layer, (L, M). [mm]"""
        return np.asarray(self.laid.columns.fc_mm[0] - self.laid.columns.wp_mm[0])

    @cached_property
    def reach(self) -> FloatArray:
        """Part of each layer within the rooting depth, day by day, (T, L)."""
        edges = self.laid.edges_m
        depth = self.crops.reach_m[:, None]
        return np.asarray(np.clip(depth - edges[:-1], 0.0, np.diff(edges)) / np.diff(edges))

    @cached_property
    def stores_mm(self) -> FloatArray:
        """Available water of the rooting depth when full, by day and member. (T, M) [mm]"""
        return np.asarray(np.einsum("tl,lm->tm", self.reach, self.taw_mm))  # no threads for a product as small as this

    def store_mm(self, day: int) -> FloatArray:
        """Available water of the rooting depth when full, per member. (M,) [mm]"""
        return np.asarray(self.stores_mm[day])

    def missing_mm(self, water_mm: FloatArray, day: int) -> FloatArray:
        """What the wetted part lacks to field capacity within the rooting depth, per member. (M,) [mm]

        ``water_mm``: (F, L, M). Layers above field capacity count as full, not as a credit to others.
        """
        short = np.maximum(self.laid.columns.fc_mm[0] - water_mm[0], 0.0)
        return np.asarray(self.reach[day] @ short)

    def used_fraction(self, water_mm: FloatArray, day: int) -> FloatArray:
        """What is missing in the wetted part of what the roots' reach holds (Dr over TAW), per member. (M,)

        0 full, 1 at the wilting point or, where the surface has dried further, beyond.
        """
        return np.minimum(self.missing_mm(water_mm, day) / self.store_mm(day), 1.0)

    def used_by_day(self, result: Result, first: int) -> FloatArray:
        """:meth:`used_fraction` at the end of each day of a run that began on day ``first`` and kept those: (days, M)."""
        ends = result.water_mm[0, :, 0]
        if self.steps_a_day > 1:
            ends = ends[(result.steps + 1) % self.steps_a_day == 0]
        days = slice(first, first + len(ends))
        missing = np.zeros((len(ends), ends.shape[-1]))
        for reach, fc_mm, held in zip(self.reach[days].T, self.laid.columns.fc_mm[0], ends.swapaxes(0, 1), strict=True):
            missing += reach[:, None] * np.maximum(fc_mm - held, 0.0)
        return np.asarray(np.minimum(missing / self.stores_mm[days], 1.0))

    def air_fraction(self, water_mm: FloatArray, day: int) -> FloatArray:
        """Root-weighted air-filled porosity, per member. (M,) [m³/m³]"""
        step = min((day + 1) * self.steps_a_day, self.forcing.roots.shape[1]) - 1
        air = (self.laid.columns.sat_mm[0] - water_mm) / self.laid.columns.thickness_mm[0][:, None]
        held: FloatArray = np.einsum("fl,flm->m", self.forcing.roots[0, step], air)
        return held

    def theta_at(self, water_mm: FloatArray, depth_m: float, day: int) -> FloatArray:
        """Water content at a depth, over the whole place, per member: (M,). [m³/m³]"""
        layer = int(np.clip(np.searchsorted(self.laid.edges_m, depth_m, side="left") - 1, 0, len(self.taw_mm) - 1))
        theta = water_mm[:, layer] / self.laid.columns.thickness_mm[0, layer]
        wet = self.area_wet(day)
        return np.asarray(wet * theta[0] + (1.0 - wet) * theta[-1])


def runs_out(place: Place) -> float:
    """Part of what is put on a place that is to run out below: of a pot that is watered from above, :data:`RUNS_OUT`."""
    return RUNS_OUT if place.kind == "pot" and place.means not in FROM_BELOW else 0.0


def daily_to_hours(eto_mm: FloatArray, weather: WeatherSeries) -> FloatArray:
    """Spread each day's ETo over its hours as extraterrestrial radiation falls on a level surface; (24 T,)."""
    west = np.timedelta64(-round(weather.lon_deg / 15.0 * 3600), "s")
    starts = np.asarray(weather.times.astype("datetime64[s]") + west, dtype="datetime64[s]")
    hours = np.add.outer(starts, np.arange(24) * np.timedelta64(3600, "s")).ravel()
    sun = extraterrestrial_period_mj_m2(weather.lat_deg, weather.lon_deg, hours).reshape(-1, 24)
    total = sun.sum(1, keepdims=True)
    share = np.where(total > 0, sun / np.where(total > 0, total, 1.0), 1.0 / 24.0)
    return np.asarray((share * eto_mm[:, None]).ravel())


def resolve(place: Place) -> tuple[tuple[Planting, Plant], ...]:
    """The place's plantings with their catalogue rows."""
    return tuple((p, catalog.plant(p.plant)) for p in place.plantings)


def place_days(
    garden: Garden,
    place: Place,
    weather: WeatherSeries,
    log: Sequence[LogEntry] = (),
    members: Members | None = None,
    *,
    until: date | None = None,
) -> PlaceDays:
    """Lay a place out over all days of a weather series.

    Parameters
    ----------
    garden, place
        The place must be of the garden.
    weather
        Daily, with gaps filled (:func:`soakbook.weather.fill.fill_gaps`).
    log
        Entries of the garden; waterings of this place (or its line's minutes turned to litres) count.
    members
        Spread of the place's parameters; None for the best guess alone.
    until
        The day up to which things have happened: what is sown or planted before it is taken as watered in. The last day
        of the series when not given.

    Returns
    -------
    PlaceDays
    """
    if weather.step != "day":
        raise InputError(say("place_days needs a daily series (got hourly)."), hint=say("Use hourly_to_daily first."))
    members = members or best_guess()
    plantings = resolve(place)
    here = weather_at(place.exposure, weather)
    eto = site_eto(here) * site_factor(place)
    rain = here.get("rain_mm")
    deepest = max((p.root_max_m.value for _, p in plantings), default=0.3)
    laid = lay_out(place, deepest, members)
    mulch = catalog.mulches()[place.mulch.kind] if place.mulch else None
    covered = place.mulch.cover_fraction if place.mulch else 0.0
    crops = crop_days(
        place, list(plantings), weather.times, t_mean_c=_t_mean(weather), rh_min_pct=_rh_min(weather),
        wind_2m_ms=here.get("wind_2m_ms"), lat_deg=garden.lat_deg, ground_m2=laid.ground_m2,
        barrier_m=float(laid.edges_m[-1]) if place.pot is not None else place.root_barrier_m,
    )  # fmt: skip
    if mulch:
        crops = replace(crops, kcb=crops.kcb * (1.0 - mulch.kcb_cut.value * covered))
    pot = place.kind != "bed"
    n = 24 if pot else 1
    wet = wetted_fraction(place, laid, crops)
    table, roots = _crop_table(
        place, laid, crops, eto, wet, 1.0 - (mulch.evaporation_cut.value * covered if mulch else 0.0)
    )
    put, notes = _waterings(garden, place, laid, plantings, weather.times, log, n, wet, until)
    eto_steps = daily_to_hours(eto, weather) if pot else eto
    rain_steps = _rain_hours(rain) if pot else rain
    if place.pot is not None:  # the open top of a tapered pot is wider than the column that stands for it
        table[0, :, KC_MAX] *= place.pot.top_area_m2 * place.pot.count / laid.ground_m2
    forcing = Forcing(
        eto_mm=_by_member(eto_steps, demand_factor, weather.times, members, n),
        rain_mm=_by_member(rain_steps, rain_factor, weather.times, members, n),
        irrigation_mm=put,
        crop=np.repeat(table, n, axis=1),
        roots=np.repeat(roots, n, axis=1),
        step_hours=24.0 / n,
    )
    if pot:
        forcing.crop[:, :, HOURS] = 1.0
    return PlaceDays(
        garden, place, plantings, laid, crops, weather.times, eto, rain, forcing, n, (*laid.assumptions, *notes),
        members.paths, (eto_steps, rain_steps), _coming(garden, place, laid, weather.times, n, wet, until),
    )  # fmt: skip


def with_members(days: PlaceDays, members: Members) -> PlaceDays:
    """The same place and days with other members: only what differs by member is laid out again."""
    deepest = max((plant.root_max_m.value for _, plant in days.plantings), default=0.3)
    laid = lay_out(days.place, deepest, members)
    eto, rain = days.by_step_mm
    n = days.steps_a_day
    forcing = replace(
        days.forcing,
        eto_mm=_by_member(eto, demand_factor, days.days, members, n),
        rain_mm=_by_member(rain, rain_factor, days.days, members, n),
    )
    return replace(days, laid=laid, forcing=forcing, paths=members.paths)


def _by_member(
    values: FloatArray, factor: Callable[[NDArray[np.datetime64], NDArray[np.int64]], FloatArray],
    days: NDArray[np.datetime64], members: Members, n: int,
) -> FloatArray:  # fmt: skip
    """Values by step for each member, with the errors of single days where members have such: (1, T n, M)."""
    shape = (len(days), n, len(members))
    each = np.broadcast_to(values.reshape(-1, n, 1), shape)
    if members.paths is not None:
        each = each * factor(days, members.paths)[:, None]
    return np.ascontiguousarray(each.reshape(1, -1, len(members)))


def _t_mean(weather: WeatherSeries) -> FloatArray:
    mean = weather.get("t_mean_c")
    return np.where(np.isnan(mean), 0.5 * (weather.get("t_max_c") + weather.get("t_min_c")), mean)


def _rh_min(weather: WeatherSeries) -> FloatArray:
    """Minimum humidity; where the series has none, from its vapour pressure and the day's maximum (FAO-56 Eq. 63)."""
    from soakbook.physics.air import relative_humidity_pct
    from soakbook.weather.eto import series_vapour_pressure

    rh = weather.get("rh_min_pct")
    derived = relative_humidity_pct(series_vapour_pressure(weather), weather.get("t_max_c"))
    return np.clip(np.where(np.isnan(rh), derived, rh), 0.0, 100.0)


def _rain_hours(rain_mm: FloatArray) -> FloatArray:
    """A day's rain in the six hours from noon."""
    hours = np.zeros((len(rain_mm), 24))
    hours[:, 12:18] = rain_mm[:, None] / 6.0
    return hours.ravel()


def wetted_fraction(place: Place, laid: LaidOut, crops: CropDays) -> FloatArray:
    """Part of the place's area that a watering wets, by day, (T,).

    That of the means of watering (FAO-56 Table 20), or as the grower says. Water poured by hand at planted-out plants goes
    round each of them: a disc :data:`PATCH_MARGIN_M` wider than the leaves on either side, until the discs fill that part.
    """
    most = laid.wetted_fraction
    if place.pot is not None or place.wetted_fraction is not None or place.means not in POURED:
        return np.full(len(crops.root_m), most)
    discs = crops.count * canopy_area_m2(np.maximum(crops.width_m, 0.05) + 2.0 * PATCH_MARGIN_M) / laid.ground_m2
    return np.asarray(np.where(crops.planted, np.minimum(discs, most), most))


def _crop_table(
    place: Place, laid: LaidOut, crops: CropDays, eto_mm: FloatArray, wet: FloatArray, ke_left: float
) -> tuple[FloatArray, FloatArray]:
    """The kernel's crop table (1, T, ·) and root shares (1, T, F, L), by the day."""
    n = len(eto_mm)
    means = catalog.means()[place.means]
    few = np.array(
        [
            exposed_wetted_fraction(min(c, 0.99), w, means.under_canopy and w < 1.0)
            for c, w in zip(crops.cover, wet, strict=True)
        ]
    )
    table = np.zeros((1, n, len(CROP)))
    table[0, :, KCB] = crops.kcb
    table[0, :, KC_MAX] = crops.kc_max
    table[0, :, FEW_WET] = few
    table[0, :, FEW_DRY] = np.where(wet < 1.0, np.maximum(1.0 - crops.cover - few, 0.0), 0.0)
    table[0, :, AREA_WET] = wet
    # Seedlings and fresh transplants keep the table's p: little demand does not make their few roots less tender.
    young = np.isin(crops.phase, (SEEDBED, ESTABLISHING))
    p = np.where(young, crops.p_table, adjusted_depletion_p(crops.p_table, crops.kcb / crops.base * eto_mm))
    table[0, :, DEPLETION_P] = np.minimum(p, laid.easily_used)
    table[0, :, KE_CUT] = ke_left
    table[0, :, HOURS] = RAIN_HOURS
    feet = laid.columns.footprints
    shares = layer_weights(laid.edges_m, crops.root_m)
    # Roots stay where they were watered; those of a patch that grows with the plant fill it.
    density = DRY_ROOT_DENSITY * crops.growth
    dry = (1.0 - wet) * density / (wet + (1.0 - wet) * density) if feet == 2 else np.zeros(n)
    roots = np.zeros((1, n, feet, shares.shape[1]))
    roots[0, :, 0] = (1.0 - dry)[:, None] * shares
    if feet == 2:
        roots[0, :, 1] = dry[:, None] * shares
    return table, roots


def _coming(
    garden: Garden, place: Place, laid: LaidOut, days: NDArray[np.datetime64], n: int, wet: FloatArray, until: date | None
) -> FloatArray:  # fmt: skip
    """What timers run from a day on, by step over each footprint, (1, T n, F); nothing where all has happened."""
    runs = [] if until is None else entries_between(garden, [place], until, days[-1].astype(date))
    return _poured(runs, ZoneInfo(garden.time_zone), laid, days, n, wet)


def _poured(
    entries: Sequence[LogEntry], zone: ZoneInfo, laid: LaidOut, days: NDArray[np.datetime64], n: int, wet: FloatArray
) -> FloatArray:
    """Litres as depths by step over each footprint, (1, T n, F)."""
    put = np.zeros((1, len(days) * n, laid.columns.footprints))
    for entry in entries:
        at = standard_time(entry.at, zone)
        day = int((np.datetime64(at.date()) - days[0]) / np.timedelta64(1, "D"))
        if 0 <= day < len(days):
            put[0, day * n + (at.hour if n > 1 else 0), 0] += (entry.litres or 0.0) / (laid.ground_m2 * wet[day])
    return put


def _waterings(
    garden: Garden, place: Place, laid: LaidOut, plantings: Sequence[tuple[Planting, Plant]],
    days: NDArray[np.datetime64], log: Sequence[LogEntry], n: int, wet: FloatArray, until: date | None,
) -> tuple[FloatArray, list[str]]:  # fmt: skip
    """Waterings by step over each footprint, (1, T n, F), and what was assumed about them."""
    zone = ZoneInfo(garden.time_zone)
    mine = [e for e in log if e.kind == "water" and e.place == place.name and e.litres is not None]
    put = _poured(mine, zone, laid, days, n, wet)
    seen = {standard_time(e.at, zone).date() for e in mine}
    last_day: date = days[-1].astype(date) if until is None else until
    notes: list[str] = []
    for planting, plant in plantings:
        start = planting.planted_out or planting.sown
        if start is None or not days[0] <= np.datetime64(start) <= days[-1]:
            continue
        if start < last_day and not seen & {start, start + timedelta(days=1)}:
            seen.add(start)
            day = int((np.datetime64(start) - days[0]) / np.timedelta64(1, "D"))
            put[0, day * n + (18 if n > 1 else 0), 0] += WATERED_IN_MM
            notes.append(
                say(
                    "{plant}: taken as watered in on {start} with {depth} (not in the log)",
                    plant=plant.name,
                    start=start,
                    depth=Measure(WATERED_IN_MM, "depth"),
                )
            )
    return put, notes


def without_log(note: str) -> str:
    """A note on watering in, for a reader who keeps no log."""
    if isinstance(note, Said) and {"plant", "start", "depth"} == set(note.values):
        return say("{plant}: taken as watered in on {start} with {depth}", **note.values)
    return note


def standard_time(at: datetime, zone: ZoneInfo) -> datetime:
    """Local time of the log without daylight saving, as the weather's days have it.

    It stays on its day: what was shortly after midnight is taken for the beginning of the day, so that a run of a timer at 00:30 is of the day the
    clock shows, by which the entries that make a morning are told from those to come. Where clocks go back for a month (Morocco) the last hour
    likewise is taken for the end of its day.
    """
    local = at.astimezone(zone) if at.tzinfo else at.replace(tzinfo=zone)
    begins = local.replace(hour=0, minute=0, second=0, microsecond=0)
    standard = local - ((local.utcoffset() or timedelta(0)) - _winter(zone, local.year))
    return min(max(standard, begins), begins + timedelta(hours=24) - timedelta(microseconds=1))


@lru_cache(maxsize=64)
def _winter(zone: ZoneInfo, year: int) -> timedelta:
    return min(zone.utcoffset(datetime(year, month, 1)) or timedelta(0) for month in (1, 7))
