"""What acts cost, all in one unit: hundredths of the place's harvest.

Crop: lack of transpiration by the yield response of FAO-33 (the season's Ky of FAO-56 Table 24, parted over the stages as their own
Ky are), lack of air likewise, swings, damping-off, seedbeds dry through. Water, walks, wet leaves and salt left behind are
converted by the prices below, which the grower's wishes scale.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from soakbook.balance import rollout_names as names
from soakbook.balance.crops import ESTABLISHING, FRUITING, GROWING, LATE, SEEDBED
from soakbook.balance.place import PlaceDays
from soakbook.balance.rollout import Reduced
from soakbook.catalog import read as catalog
from soakbook.catalog.model import Plant, Stages
from soakbook.garden.model import Garden
from soakbook.said import say

FloatArray = NDArray[np.float64]

#: Depth over the ground the crop covers that is worth a hundredth of the harvest. Judged: a season's 400 to 500 mm are then worth about
#: a ninth of it; at twice to three times the price watering would not pay in the stages that Ky calls patient, which growers do not want.
WATER_MM = 40.0
#: A bed watered by hand, pots and trays (that stand together on a round that is walked anyway), and a line opened at the tap.
#: Judged: 20 walks to a bed are then worth 3 hundredths.
HAND_VISIT, POT_VISIT, LINE_VISIT = 0.15, 0.05, 0.06
#: Least share of the season's mean yield response that any stage has. Judged: growth lost early is not all made up for.
LEAST_STAGE = 0.6
#: Longest season over which a harvest is taken to be spread: of herbs and the like that stand for most of a year, a dry week spoils
#: what would be picked then. Judged. [days]
LONGEST_SEASON = 180.0
#: How the full-grown stage parts into flowering and filling. Judged.
FLOWERING_SHARE = 0.4
#: How much more a mm lacking for want of air costs than one lacking for dryness. Judged: roots die back and stay away.
AIRLESS_TIMES = 2.0
#: Harvest lost by one swing from all used to full, where a crop splits or rots at the end for it. Judged.
SPLIT_COST, END_ROT_COST = 5.0, 2.0
#: Harvest lost per day of a surface that never dries: seedlings in trays and pots, and in beds. Common practice says to let the
#: surface dry slightly; the figures are judged.
DAMP_TRAY, DAMP_BED = 0.8, 0.1
#: Seedlings lost per evening on which a seedbed's thin layer is used up, and fresh transplants per day of a dry root ball. Judged: a bed
#: watered every morning has many such evenings, and most of its seeds come up.
SEED_COST, TRANSPLANT_COST = 4.0, 4.0
#: Hours that leaves stay wet after a watering from above early in the morning beyond the dew, and harvest lost per hour where a
#: crop is prone. Judged: infection wants 6 to 12 hours (from memory), which a morning's watering seldom adds up to.
WET_HOURS, WET_LEAVES_COST = 2.0, 0.03
#: Depth of leaching water left out that costs a hundredth. Judged. [mm over the watered part]
SALT_MM = 5.0
#: No more than this part of what is put on is asked to pass through. Judged.
MOST_LEACHING = 0.3


@dataclass(frozen=True)
class Weights:
    """What matters to the grower, each 0 to 3 with 1 as usual: sparing water, sparing time, the best crop."""

    spare_water: float = 1.0
    spare_time: float = 1.0
    best_crop: float = 1.0


#: Parts of a cost, in order.
PARTS = ("dry", "wet", "swing", "damp", "seed", "water", "visits", "leaves", "salt", "owed")
#: Those of them that are harm to the harvest and weigh with it; the rest are water, time, and what is owed.
HARM = ("dry", "wet", "swing", "damp", "seed", "leaves", "salt")
CAUSES = {
    "dry": say("growth lost to dryness"),
    "wet": say("roots without air"),
    "swing": say("splitting and end rot after swings"),
    "damp": say("seedlings lost to damp"),
    "seed": say("seedlings lost to dryness"),
    "water": say("water put on"),
    "visits": say("your time"),
    "leaves": say("wet leaves"),
    "salt": say("salt left in the soil"),
    "owed": say("what will have to be made up later"),
}


@dataclass(frozen=True)
class Prices:
    """What one unit of each thing costs at a place, weights included.

    ``per_water_mm``: of a mm put on over the place; ``per_visit``; ``per_wet``: of a watering that wets leaves; ``per_missing_mm``: of a mm
    over the watered part still missing at the end; ``leaching``: part of what is put on that should pass through, and
    ``per_salt_mm`` what a mm of it left out costs; ``crop``: the weight of the crop.
    """

    per_water_mm: float
    per_visit: float
    per_wet: float
    per_missing_mm: float
    leaching: float
    per_salt_mm: float
    area_wet: float
    crop: float


def priced(reduced: Reduced, days: PlaceDays, today: int) -> Reduced:
    """The place with what is lost on each day per unit of what it lacks."""
    sub, count = reduced.steps_a_day, reduced.days
    span = slice(today, today + count)
    phase = days.crops.phase[span]
    table = reduced.day.copy()
    per_mm = np.repeat(_loss_per_mm(days, today, count), sub)
    young = (phase == SEEDBED) | (phase == ESTABLISHING)
    table[:, names.LOSE_DRY] = per_mm
    table[:, names.LOSE_WET] = AIRLESS_TIMES * per_mm
    kinds = [_stages(plant) for plant in _alive(days, today)]
    late = ((phase == FRUITING) | (phase == LATE)).astype(float)
    prone = max((SPLIT_COST * s.splits.value + END_ROT_COST * s.end_rot.value for s in kinds), default=0.0)
    # The swing of a day is the product of a square that reaches (1 - SWING_FROM)² and of a fraction that reaches 1.
    table[:, names.LOSE_SWING] = np.repeat(4.0 * prone * late, sub)
    in_bed = days.place.kind == "bed"
    tender = phase == SEEDBED if in_bed else young
    table[:, names.LOSE_DAMP] = np.repeat(np.where(tender, DAMP_BED if in_bed else DAMP_TRAY, 0.0) / sub, sub)
    parched = np.select([phase == SEEDBED, phase == ESTABLISHING], [SEED_COST, TRANSPLANT_COST], 0.0)
    table[:, names.LOSE_SEED] = np.repeat(parched / sub, sub)
    return replace(reduced, day=table)


def _alive(days: PlaceDays, today: int) -> list[Plant]:
    day = days.days[today]
    kept = []
    for planting, plant in days.plantings:
        begun = planting.planted_out or planting.sown
        if (begun is None or np.datetime64(begun) <= day) and (
            planting.cleared is None or np.datetime64(planting.cleared) > day
        ):
            kept.append(plant)
    return kept


def _stages(plant: Plant) -> Stages:
    return catalog.stages()[plant.id]


def _loss_per_mm(days: PlaceDays, today: int, count: int) -> FloatArray:
    """Harvest lost per mm over the place that is not transpired, by day. (count,) [hundredths]"""
    plants = _alive(days, today)
    if not plants:
        return np.zeros(count)
    return np.asarray(np.mean([_of_plant(days, plant, today, count) for plant in plants], axis=0))


def loss_by_stage(plant: Plant, full_mm: float) -> tuple[FloatArray, FloatArray]:
    """Harvest lost per mm lacking while young, flowering, filling and ripening [hundredths], and these stages' days.

    A crop's own Ky of a stage (FAO-33) is of a shortage in that stage alone, which is what is asked here: the rest of the season
    is watered well. So a stage's price per mm is 100 Ky over what it transpires in all. Crops without factors of their own by stage
    have those of the season (FAO-56 Table 24), parted by judged weights. ``full_mm`` is what the full-grown crop transpires a day;
    while young, and while ripening, it is taken to be half of that, and midway. [mm]
    """
    stages = catalog.stages()[plant.id]
    young = plant.days_ini.value + plant.days_dev.value
    full, late = plant.days_mid.value, plant.days_late.value
    lengths = np.maximum([young, FLOWERING_SHARE * full, (1.0 - FLOWERING_SHARE) * full, late], 1.0)
    ending = 0.5 * (1.0 + plant.kcb_end.value / max(plant.kcb_mid.value, 0.1))
    wanted = lengths * full_mm * np.array([0.5, 1.0, 1.0, ending])
    response = np.array([stages.vegetative.value, stages.flowering.value, stages.filling.value, stages.ripening.value])
    wanted *= min(1.0, LONGEST_SEASON / float(lengths.sum()))
    season = 100.0 * plant.ky.value / float(wanted.sum())
    if stages.vegetative.source == "JUDGED":
        price = 100.0 * plant.ky.value * response / float(response @ wanted)
    else:
        price = 100.0 * response / wanted
    return np.maximum(price, LEAST_STAGE * season), lengths


def _of_plant(days: PlaceDays, plant: Plant, today: int, count: int) -> FloatArray:
    span = slice(today, today + count)
    full_mm = max(float(days.crops.kcb.max()) * float(np.mean(days.eto_mm[span])), 0.1)
    price, lengths = loss_by_stage(plant, full_mm)
    phase = days.crops.phase
    stage = np.select([phase == FRUITING, phase == LATE], [2, 3], 0)
    begun = np.cumsum(phase == FRUITING)
    stage[(phase == FRUITING) & (begun <= lengths[1]) & _has_begun(phase)] = 1
    return np.asarray(price[stage[span]])


def _has_begun(phase: NDArray[np.int8]) -> NDArray[np.bool_]:
    """Whether the series shows how the full-grown stage began, so that its days can be counted."""
    return np.full(len(phase), bool(np.any(phase[:1] == GROWING) or np.any(phase[:1] <= ESTABLISHING)))


def prices(garden: Garden, days: PlaceDays, reduced: Reduced, today: int, weights: Weights) -> Prices:
    """What things cost at a place."""
    place = days.place
    means = catalog.means()[place.means]
    ground = max(
        float(days.crops.base[today]), 1.0
    )  # canopies that hang over a pot or a bed's edge stand for more ground
    per_mm = weights.spare_water / (WATER_MM * ground)
    by_hand = HAND_VISIT if place.kind == "bed" else POT_VISIT
    visit = weights.spare_time * (LINE_VISIT if place.line else by_hand)
    prone = max((_stages(p).wet_leaves.value for p in _alive(days, today)), default=0.0)
    wet = weights.best_crop * (WET_LEAVES_COST * WET_HOURS * prone if means.wets_leaves else 0.0)
    price = Prices(
        per_water_mm=per_mm,
        per_visit=visit,
        per_wet=wet,
        per_missing_mm=0.0,
        leaching=_leaching(garden, _alive(days, today)),
        per_salt_mm=weights.best_crop / SALT_MM,
        area_wet=days.area_wet(today),
        crop=weights.best_crop,
    )
    return with_owed(price, reduced)


def with_owed(price: Prices, reduced: Reduced) -> Prices:
    """The prices with what a mm missing at the end costs under a place's weather."""
    return replace(
        price, per_missing_mm=_owed(reduced, price.area_wet, price.per_water_mm, price.per_visit + price.per_wet)
    )


def _owed(reduced: Reduced, area_wet: float, per_mm: float, per_visit: float) -> float:
    """What a mm missing at the end will cost: its water and its share of a visit, unless rain fills the place anyway.

    The chance of that is taken from the horizon itself: the share of the members in which rain outruns the use at some time by
    half of what the rule lets go. Where nothing grows at the end nothing is owed.
    """
    if reduced.day[-1, names.MAY_WATER] == 0.0:
        return 0.0
    refill = reduced.day[-1, names.LIMIT] * reduced.sky[names.STORE, -1]
    use = reduced.sky[names.ETO] * reduced.day[:, names.EXPECTED_USE, None]
    gained = np.cumsum(reduced.sky[names.RAIN] - use, axis=0)
    filled = float(np.mean(gained.max(axis=0) > 0.5 * refill))
    each = per_mm * area_wet / reduced.fix[names.EFFICIENCY] + per_visit / max(float(np.mean(refill)), 1.0)
    return float((1.0 - filled) * each)


def _leaching(garden: Garden, plants: list[Plant]) -> float:
    """Part of the water that should pass the roots to carry salt down: ``ECw / (5 ECe - ECw)`` (FAO-29, from memory).

    ECe is what the most sensitive of the crops bears without loss; where nothing grows nothing has to pass.
    """
    salt = garden.supply.salt_ds_m
    if salt is None or salt <= 0.0 or garden.supply.source == "rain_barrel" or not plants:
        return 0.0
    bears = min(_stages(plant).salt_ece_ds_m.value for plant in plants)
    return float(min(MOST_LEACHING, salt / max(5.0 * bears - salt, 0.1)))


def parts_of(sums: FloatArray, price: Prices) -> FloatArray:
    """Parts of the cost of each candidate and member, in the order of :data:`PARTS`: (len(PARTS), C, M)."""
    put = sums[:, names.S_PUT]
    visits = sums[:, names.S_VISITS]
    should_pass = price.leaching * put / price.area_wet
    left = np.maximum(should_pass - sums[:, names.S_DRAINED], 0.0)
    return np.stack(
        [
            price.crop * sums[:, names.S_DRY],
            price.crop * sums[:, names.S_WET],
            price.crop * sums[:, names.S_SWING],
            price.crop * sums[:, names.S_DAMP],
            price.crop * sums[:, names.S_SEED],
            price.per_water_mm * put,
            price.per_visit * visits,
            price.per_wet * visits,
            price.per_salt_mm * left,
            price.per_missing_mm * sums[:, names.S_MISSING],
        ]
    )
