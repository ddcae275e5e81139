"""A place's plantings through the days: stage, canopy, roots, and what they ask for.

The crop table the kernel reads is made here, once for each place and day. Nothing here knows soil or water.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from soakbook.catalog.model import Plant
from soakbook.garden.model import Place, Planting
from soakbook.physics import canopy
from soakbook.physics.roots import root_depth_m
from soakbook.said import say

FloatArray = NDArray[np.float64]

NONE, SEEDBED, ESTABLISHING, GROWING, FRUITING, LATE, OVER = range(7)
PHASE_WORDS = {
    NONE: say("nothing growing"),
    SEEDBED: say("seedbed, not up yet"),
    ESTABLISHING: say("young, rooting in"),
    GROWING: say("growing to full size"),
    FRUITING: say("full size"),
    LATE: say("ripening or going over"),
    OVER: say("past its usual season"),
}


def growing(phase: NDArray[np.int8]) -> NDArray[np.bool_]:
    """Whether something grows that is still wanted, by phase: neither bare nor past its usual season.

    The rule for timers, lines, days away and the account of a season. The round knows no better than to ask whether what is past its season is
    to be cleared, and waters it until then.
    """
    return np.isin(phase, (NONE, OVER), invert=True)


#: Depth of a root ball at planting-out. Judged: plugs and 9 cm pots are 5 to 9 cm deep (common practice).
ROOT_BALL_M = 0.08
#: Days in which a transplant roots in, watched like a seedling. Common practice: one to two weeks.
ROOTING_IN_DAYS = 10.0
#: Times the stage table's length after which an annual crop's season is taken to be over even in the cold. Judged.
LONGEST_SEASON = 1.6
#: Heat-days after midwinter at which a perennial comes into leaf. Judged.
WAKING_HEAT_DAYS = 10.0
#: Days after midwinter at which one wakes when that lies before the weather begins. Judged: about 1 April.
USUAL_WAKING_DAYS = 90
#: Canopy width at emergence and at planting-out. Judged.
SEEDLING_WIDTH_M, TRANSPLANT_WIDTH_M = 0.02, 0.12
#: Heat at which a day counts as one day of the stage table: this far above the base temperature. Judged: stage
#: tables come from seasons that average about 18 to 21 °C for warm crops (base 10) and 14 to 16 °C for cool ones (base 4).
REFERENCE_ABOVE_BASE_C = 10.0
#: Most by which the canopy of a pot may exceed the pot. Judged, far beyond any that stands.
POT_OVERHANG = 8.0
#: Multiple of the cover that a sparse stand's Kcb may reach (M_L of Allen & Pereira 2009: 1.5 to 2).
DENSITY_LIMIT = 1.5


@dataclass(frozen=True)
class CropDays:
    """Arrays over days. ``kcb`` and ``kc_max`` are over the place's area; ``base`` is canopy area over place area where
    that exceeds 1; ``root_m`` the depth roots draw from (the seed's depth before there are roots), ``reach_m`` the depth
    that decides (the shallowest-rooted tender planting's, where several stand together); ``count`` the living plants;
    ``planted`` whether all of them were planted out."""

    phase: NDArray[np.int8]
    kcb: FloatArray
    kc_max: FloatArray
    cover: FloatArray
    height_m: FloatArray
    width_m: FloatArray
    root_m: FloatArray
    reach_m: FloatArray
    growth: FloatArray
    p_table: FloatArray
    base: FloatArray
    count: NDArray[np.int_]
    planted: NDArray[np.bool_]


def planting_count(place: Place, planting: Planting, plant: Plant) -> int:
    """Plants in the place: as said, or what the spacing allows on its share of the area (at least one, and one a pot)."""
    if planting.count is not None:
        return planting.count
    in_row = planting.in_row_m or plant.in_row_m.value
    row = planting.row_m or plant.row_m.value
    least = place.pot.count if place.pot else 1
    return max(least, round(place.area_m2 * planting.share / (in_row * row)))


def stage_clock(
    planting: Planting, plant: Plant, days: NDArray[np.datetime64], t_mean_c: FloatArray, lat_deg: float
) -> tuple[FloatArray, FloatArray, float]:
    """Heat-days since the start, calendar days since the start, and the heat-days that came before planting-out.

    A crop sown in place starts at its sowing, one planted out at its planting-out; both go by heat until they are full
    grown and by the calendar afterwards, for warmth does not end a harvest early. An established
    perennial without a date goes by the calendar from its waking on, each year anew (:func:`_perennial_clock`), for it keeps
    its leaves until the days shorten.
    """
    heat = canopy.heat_days(t_mean_c, plant.base_temp_c.value, plant.base_temp_c.value + REFERENCE_ABOVE_BASE_C)
    start = planting.planted_out or planting.sown
    head = 0.0
    if start is None:
        return _perennial_clock(days, heat, lat_deg), np.full(len(days), np.inf), 0.0
    if planting.planted_out is None and not plant.sown_in_place:
        head = -plant.transplant_age_days.value  # sown where it stands: the nursery time comes first
    elif planting.planted_out is not None and plant.sown_in_place:
        head = min(plant.transplant_age_days.value, plant.days_ini.value)
    full_grown = plant.days_ini.value + plant.days_dev.value
    since = (days - np.datetime64(start)).astype("timedelta64[D]").astype(float)
    live = since >= 0
    clock = np.cumsum(np.where(live, heat, 0.0)) - np.where(live, heat, 0.0) + head
    before = np.arange(np.datetime64(start), days[0]).size if days[0] > np.datetime64(start) else 0
    if before:  # days before the series: count them at the pace of its first month
        clock = clock + before * float(np.mean(heat[:30]))
    grown = clock >= full_grown
    if bool(grown.any()):
        # Already grown when the series begins: turn the heat beyond into days; grown within it: from that day on.
        past = (float(clock[0]) - full_grown) / max(float(np.mean(heat[:30])), 0.1) if bool(grown[0]) else 0.0
        clock = np.where(grown, full_grown + past + np.cumsum(grown) - 1.0, clock)
    clock = np.where(live, clock, -np.inf)
    old = settled(planting, plant, days, lat_deg)
    return (np.where(old, _perennial_clock(days, heat, lat_deg), clock) if bool(old.any()) else clock), since, head


def settled(planting: Planting, plant: Plant, days: NDArray[np.datetime64], lat_deg: float) -> NDArray[np.bool_]:
    """Whether a perennial is past its first winter (or was there before), by day: full grown, and going by the year."""
    start = planting.planted_out or planting.sown
    if start is None:
        return np.ones(len(days), dtype=bool)
    if not plant.perennial:
        return np.zeros(len(days), dtype=bool)
    winter = _midwinter_before(start, lat_deg)
    return np.asarray(days >= np.datetime64(winter.replace(year=winter.year + 1)))


def _midwinter_before(day: date, lat_deg: float) -> date:
    if lat_deg >= 0:
        return date(day.year, 1, 1)
    return date(day.year if day.month >= 7 else day.year - 1, 7, 1)


def _perennial_clock(days: NDArray[np.datetime64], heat: FloatArray, lat_deg: float) -> FloatArray:
    """Days since an established perennial woke in each year, 0 while it is dormant.

    It wakes when :data:`WAKING_HEAT_DAYS` have gathered after midwinter (1 January north of the equator, 1 July south of
    it). Where the series begins later than that, it is taken to have woken :data:`USUAL_WAKING_DAYS` after midwinter.
    """
    shifted = days if lat_deg >= 0 else days - np.timedelta64(181, "D")
    year = shifted.astype("datetime64[Y]")
    clock = np.zeros(len(days))
    for this in np.unique(year):
        here = year == this
        missed = int((shifted[here][0] - this.astype("datetime64[D]")) / np.timedelta64(1, "D"))
        gathered = np.cumsum(heat[here]) + missed * float(np.mean(heat[here][:30]))
        awake = gathered >= WAKING_HEAT_DAYS
        ago = max(0, missed - USUAL_WAKING_DAYS) if bool(awake[0]) else 0
        clock[here] = np.where(awake, np.cumsum(awake) - 1.0 + ago, 0.0)
    return clock


def crop_days(
    place: Place,
    plantings: list[tuple[Planting, Plant]],
    days: NDArray[np.datetime64],
    *,
    t_mean_c: FloatArray,
    rh_min_pct: FloatArray,
    wind_2m_ms: FloatArray,
    lat_deg: float,
    ground_m2: float,
    barrier_m: float | None = None,
) -> CropDays:
    """All plantings of a place added up, day by day.

    Parameters
    ----------
    place
        The place (its kind and area count).
    plantings
        What grows there, each with its catalogue row.
    days
        Local days, shape (T,).
    t_mean_c, rh_min_pct, wind_2m_ms
        Weather of the spot, shape (T,). [°C, %, m/s]
    lat_deg
        Latitude. [°]
    barrier_m
        Depth that roots do not pass: the bottom of a pot, paving under a bed, a pan. [m]
    ground_m2
        Area the column stands for: the bed, or the mean cross-section of the pots. [m²]

    Returns
    -------
    CropDays
    """
    n = len(days)
    day_of_year = (days - days.astype("datetime64[Y]")).astype(int) + 1
    declination = np.degrees(0.409 * np.sin(2 * np.pi * day_of_year / 365 - 1.39))  # FAO-56 Eq. 24
    noon = np.clip(90.0 - np.abs(lat_deg - declination), 5.0, 90.0)
    parts = [
        _one(place, planting, plant, days, t_mean_c, rh_min_pct, wind_2m_ms, lat_deg, ground_m2, noon, barrier_m)
        for planting, plant in plantings
    ]
    if not parts:
        zero = np.zeros(n)
        top = canopy.kc_max(zero, wind_2m_ms, rh_min_pct, zero + 0.1)
        bare = np.full(n, 0.10)
        none = np.zeros(n, dtype=np.int8)
        return CropDays(
            none,
            zero,
            top,
            zero,
            zero,
            zero,
            bare,
            bare,
            zero,
            zero + 0.5,
            zero + 1.0,
            none.astype(int),
            none.astype(bool),
        )
    alive = np.array([p.phase != NONE for p in parts])
    weight = alive * np.array([np.maximum(p.kcb, 0.02) for p in parts])
    weight = np.where(weight.sum(0) > 0, weight, 1.0)
    weight = weight / weight.sum(0)
    mean = {f: np.sum(weight * np.array([getattr(p, f) for p in parts]), axis=0) for f in ("root_m", "growth")}
    # Who decides: a seedbed before young plants before the one that uses most, for the tender do not wait for the strong.
    phases = np.array([p.phase for p in parts])
    tender = np.select([phases == SEEDBED, phases == ESTABLISHING], [2.0, 1.0], 0.0)
    lead = np.argmax(weight + tender, axis=0)
    pick = np.arange(n)
    kcb = np.sum([p.kcb for p in parts], axis=0)
    shares = np.array([planting.share for planting, _ in plantings])[:, None]
    base = np.maximum(np.sum(alive * shares * np.array([p.base for p in parts]), axis=0), 1.0)
    height = np.max([p.height_m for p in parts], axis=0)
    top = canopy.kc_max(np.zeros(n), wind_2m_ms, rh_min_pct, np.maximum(height, 0.1)) * base
    return CropDays(
        phase=phases[lead, pick],
        kcb=np.minimum(kcb, top - 0.05),
        kc_max=top,
        cover=np.minimum(np.sum([p.cover for p in parts], axis=0), 0.99),
        height_m=height,
        width_m=np.array([p.width_m for p in parts])[lead, pick],
        root_m=mean["root_m"],
        reach_m=np.array([p.root_m for p in parts])[lead, pick],
        growth=mean["growth"],
        p_table=np.array([p.p_table for p in parts])[lead, pick],
        base=base,
        count=np.sum(alive * np.array([p.count for p in parts]), axis=0).astype(int),
        planted=np.all(~alive | np.array([p.planted for p in parts]), axis=0) & np.any(alive, axis=0),
    )


def _one(
    place: Place, planting: Planting, plant: Plant, days: NDArray[np.datetime64], t_mean_c: FloatArray,
    rh_min_pct: FloatArray, wind_2m_ms: FloatArray, lat_deg: float, ground_m2: float, noon_deg: FloatArray,
    barrier: float | None,
) -> CropDays:  # fmt: skip
    """One planting through the days."""
    clock, since, head = stage_clock(planting, plant, days, t_mean_c, lat_deg)
    lengths = tuple(v.value for v in (plant.days_ini, plant.days_dev, plant.days_mid, plant.days_late))
    a, b, c, d = lengths
    old = settled(planting, plant, days, lat_deg)
    growth = np.where(old, 1.0, np.interp(clock, [a, a + b], [0.0, 1.0]))
    alive = (clock > -np.inf) & (since >= 0)
    if planting.cleared is not None:
        alive &= days < np.datetime64(planting.cleared)
    sown_here = planting.planted_out is None and not planting.established
    emergence = head + plant.germination_days.value
    phase = _phases(alive, clock, since, (a, b, c, d), plant.perennial, emergence if sown_here else None,
                    planting.planted_out is not None, old)  # fmt: skip
    up = alive & (phase != SEEDBED)
    width = _width(planting, plant, days, clock, a, b, sown_here, old)
    height = np.maximum(plant.height_max_m.value * width / plant.width_max_m.value, 0.05)
    if planting.height_m is not None:
        height = _scaled_to(height, planting.height_m, planting.measured_on, days)
    unseen = planting.width_m is None and planting.height_m is None
    count = planting_count(place, planting, plant)
    ground = ground_m2 * planting.share  # its own part of the bed, so that how a bed is divided does not matter

    def stand(wide: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Cover, canopy area over place area where that exceeds 1, and density coefficient of canopies so wide."""
        high = np.maximum(plant.height_max_m.value * wide / plant.width_max_m.value, 0.05) if unseen else height
        ratio = np.where(up, count * canopy.canopy_area_m2(wide) / ground, 0.0)
        base = np.clip(ratio, 1.0, overhang_limit(place, ground_m2, wide))
        cover = np.minimum(ratio / base, 1.0)
        seen = canopy.effective_cover(cover, high / np.maximum(wide, 0.02), noon_deg)
        return cover, base, canopy.density_coefficient(cover, seen, high, DENSITY_LIMIT)

    cover, base, density = stand(width)
    of_ground = density * base
    growing = up & ~old & (clock > a) & (clock < a + b)
    if unseen and bool(growing.any()):  # FAO-56 Eq. 66: Kcb rises in a straight line while a crop grows up
        young, grown = (
            stand(
                np.full(
                    len(days), _width(planting, plant, days[:1], np.array([at]), a, b, sown_here, old[:1] & False)[0]
                )
            )
            for at in (a, a + b)
        )
        straight = (1.0 - growth) * young[1] * young[2] + growth * grown[1] * grown[2]
        of_ground = np.where(growing, straight, of_ground)
    full = canopy.adjusted_kcb(plant.kcb_mid.value, wind_2m_ms, rh_min_pct, height)
    late = canopy.stage_curve(np.maximum(clock, 0.0), (a, b, c, d), 1.0, 1.0, plant.kcb_end.value / plant.kcb_mid.value)
    in_leaf = np.interp(clock, [a, a + b], [plant.kcb_ini.value / plant.kcb_mid.value, 1.0])
    early = np.where(old, in_leaf, 1.0)
    kcb = np.where(up, of_ground * full * late * early, 0.0) * planting.share
    start_m = ROOT_BALL_M if planting.planted_out is not None else plant.root_min_m.value
    full_m = plant.root_max_m.value
    reach = np.where(old, 1.0, np.interp(clock, [max(head, 0.0), a + b], [0.0, 1.0]))
    roots = root_depth_m(reach, start_m, full_m, barrier)
    seed = max(plant.sowing_depth_m.value + 0.02, 0.05)
    roots = np.where(phase == SEEDBED, seed, roots)
    roots = np.where(alive, roots, 0.10)
    p = np.select(
        [phase == SEEDBED, phase == ESTABLISHING], [0.3, 0.7 * plant.depletion_p.value], plant.depletion_p.value
    )
    living = np.full(len(days), count)
    planted = np.full(len(days), planting.planted_out is not None)
    return CropDays(
        phase, kcb, kcb, cover * planting.share, height, width, roots, roots, growth, p, base, living, planted
    )


def overhang_limit(place: Place, ground_m2: float, width_m: FloatArray) -> FloatArray:
    """Most by which the canopies may exceed the ground of the place.

    Those of a pot hang over it freely. Those of a bed overlap each other, and only the outer plants lean out over the
    edge, by an eighth of their width (judged): ``1 + perimeter width / (8 area)``.
    """
    if place.kind == "pot":
        return np.full(len(width_m), POT_OVERHANG)
    side = ground_m2**0.5
    round_it = 2.0 * (place.length_m + place.width_m) if place.length_m and place.width_m else 4.0 * side
    return 1.0 + round_it * width_m / (8.0 * ground_m2)


def _phases(
    alive: NDArray[np.bool_], clock: FloatArray, since: FloatArray, lengths: tuple[float, float, float, float],
    perennial: bool, emergence: float | None, planted_out: bool, old: NDArray[np.bool_],
) -> NDArray[np.int8]:  # fmt: skip
    a, b, c, d = lengths
    phase = np.select(
        [clock < a, clock < a + b, clock < a + b + c, clock < a + b + c + d],
        [ESTABLISHING if emergence is not None else GROWING, GROWING, FRUITING, LATE],
        LATE if perennial else OVER,
    )
    if not perennial:  # where it is too cold to ripen, the year ends the season
        phase = np.where(since > LONGEST_SEASON * (a + b + c + d), OVER, phase)
    if emergence is not None:
        phase = np.where(clock < emergence, SEEDBED, phase)
        phase = np.where(old & (phase <= ESTABLISHING), GROWING, phase)
    if planted_out:
        phase = np.where((since < ROOTING_IN_DAYS) & (phase != OVER), ESTABLISHING, phase)
    return np.where(alive, phase, NONE).astype(np.int8)


def _width(
    planting: Planting,
    plant: Plant,
    days: NDArray[np.datetime64],
    clock: FloatArray,
    a: float,
    b: float,
    sown: bool,
    old: NDArray[np.bool_],
) -> FloatArray:
    """Canopy width: a tenth of full cover at the end of the initial stage (FAO-56 p. 95), full at mid-season; or as
    measured, and growing in proportion before and after."""
    full = plant.width_max_m.value
    start = min(SEEDLING_WIDTH_M if sown else TRANSPLANT_WIDTH_M, 0.3 * full)
    width = np.where(old, full, np.interp(clock, [0.0, a, a + b], [start, max(start, 0.33 * full), full]))
    if planting.width_m is not None:
        most = max(1.5 * full, planting.width_m)  # an early measurement does not make a giant
        width = np.minimum(_scaled_to(width, planting.width_m, planting.measured_on, days), most)
    return width


def _scaled_to(curve: FloatArray, measured: float, on: date | None, days: NDArray[np.datetime64]) -> FloatArray:
    """The curve in proportion, so that it passes through what was measured; without a date, on the last day."""
    at = len(days) - 1 if on is None else int(np.clip(np.searchsorted(days, np.datetime64(on)), 0, len(days) - 1))
    return np.asarray(curve * (measured / curve[at]))
