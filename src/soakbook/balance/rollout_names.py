"""Where things stand in the arrays of :mod:`soakbook.balance.rollout_kernel`. Depths are mm; see there for the order of a step."""

from __future__ import annotations

#: Layers under the watered part.
LUMPS = 3

#: What all members have in common on a step, (T, len(DAY)).
DAY = (
    "kcb",  # basal crop coefficient over the place's area
    "kc_max",
    "few",  # exposed fraction of the watered part, of the place's area
    "ke_cut",  # what a mulch leaves of evaporation
    "inv_1p",  # 1 / (1 - p), times the share of roots that is enough
    "area",  # watered part of the area
    "mix",  # part of the watered part that is new on this day: it takes over dry soil as it stands
    "root_0", "root_1", "root_2",  # shares of uptake
    "root_dry",
    "reach_0", "reach_1", "reach_2",  # part of each layer within the rooting depth
    "limit",  # used fraction at which the rule waters
    "judge_now", "judge_later",  # weights of the use before and after the step in what the rule judges by
    "expected_use",  # depth the watered part is expected to lose until the rule's judging, per mm of ETo
    "may_water",  # 1 where the rule may water on this step
    "lose_dry",  # harvest lost per mm of transpiration lacking for dryness
    "lose_wet",  # the same for lack of air
    "lose_swing",  # per unit of dryness times refill
    "lose_damp",  # per day of a surface that never dries
    "lose_seed",  # per day of a seedbed dry through
)  # fmt: skip
(
    KCB, KC_MAX, FEW, KE_CUT, INV_1P, AREA, MIX, ROOT_0, ROOT_1, ROOT_2, ROOT_DRY, REACH_0, REACH_1, REACH_2,
    LIMIT, JUDGE_NOW, JUDGE_LATER, EXPECTED_USE, MAY_WATER, LOSE_DRY, LOSE_WET, LOSE_SWING, LOSE_DAMP, LOSE_SEED,
) = range(len(DAY))  # fmt: skip

#: Numbers of a place that members and days share.
FIX = (
    "inv_enough", "mulch_takes", "efficiency", "dry_from", "inv_dry_from", "bypass", "saucer", "second", "least",
    "known", "half", "lag", "wall_0", "wall_1", "wall_2", "inv_air_0", "inv_air_1", "inv_air_2", "a_day",
)  # fmt: skip
(
    INV_ENOUGH, MULCH_TAKES, EFFICIENCY, DRY_FROM, INV_DRY_FROM, BYPASS, SAUCER, SECOND, LEAST,
    KNOWN, HALF, LAG, WALL_0, WALL_1, WALL_2, INV_AIR_0, INV_AIR_1, INV_AIR_2, A_DAY,
) = range(len(FIX))  # fmt: skip

#: Numbers of a member that days share, (len(LANE), M).
LANE = ("tew", "inv_stage_two", "delivery", "inv_demand", "rest_full", "rest_inv_taw")
TEW, INV_STAGE_TWO, DELIVERY, INV_DEMAND, REST_FULL, REST_INV_TAW = range(len(LANE))

#: Numbers of a member and layer, (len(LAYER), LUMPS, M): depths above the wilting point; ``drain`` times the excess over field
#: capacity is the u of :data:`soakbook.balance.rollout_steps.DRAIN_A`.
LAYER = ("full", "saturated", "least", "inv_taw", "drain")
FULL, SATURATED, LOW, INV_TAW, DRAIN = range(len(LAYER))

#: Weather of a member and step, (len(SKY), T, M), and what timers run by themselves (``coming``), which is part of ``rain`` too.
SKY = ("eto", "rain", "rain_rest", "off_rest", "bare_rest", "store", "inv_store", "rain_by_night", "coming")
ETO, RAIN, RAIN_REST, OFF_REST, BARE_REST, STORE, INV_STORE, RAIN_BY_NIGHT, COMING = range(len(SKY))

#: State besides the three layers, (len(HELD), M).
HELD = ("skin", "airless", "seen", "rest", "saucer")
SKIN, AIRLESS, SEEN, REST, IN_SAUCER = range(len(HELD))

#: What is added up by candidate and member, (C, len(SUMS), M).
SUMS = (
    "dry",  # harvest lost to dryness
    "wet",  # to lack of air
    "swing",  # to dryness followed by a soak
    "damp",  # to damping-off
    "seed",  # to seedbeds dry through
    "put",  # water put on, mm over the place
    "drained",  # lost below, mm over the watered part
    "visits",  # waterings
    "missing",  # lacking at the end, mm over the watered part
)  # fmt: skip
S_DRY, S_WET, S_SWING, S_DAMP, S_SEED, S_PUT, S_DRAINED, S_VISITS, S_MISSING = range(len(SUMS))
