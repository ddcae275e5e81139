"""How likely a reading is, given what a member holds: one function per kind of reading, each with an error of its own.

Every function takes readings and the members' values, (M,), and gives the logarithm of the reading's likelihood, (M,); several
readings at once stand along a first axis: (R, 1) against (R, M). Wetness is
water over that at the wilting point as a part of the available water: 0 at the wilting point, 1 at field capacity, more above.
``bias`` and the like are standard normal numbers per member: what stays the same from one reading to the next of the same
hand, probe or pot, and is learnt along with the place.

Every likelihood is mixed with a share (:data:`SLIP`) of readings that say nothing: taken in another bed, in a dry clod,
written down wrongly. So no single reading rules a member out, and two that contradict each other leave most members standing.

What the balance itself gets wrong where a reading was taken is part of every error (:data:`MODEL_SD`): however sure the
instrument, it does not say more of the model than the model is worth.

How each figure is known stands beside it: printed (in a source named), judged (our choice), or from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.learning.normal import log_normal, normal_cdf

FloatArray = NDArray[np.float64]

#: Share of readings that say nothing. Judged.
SLIP = 0.05
_ROOT_2PI = math.sqrt(2.0 * math.pi)
#: Error of the balance at the spot of a reading, in wetness, beside what its members spread: what is off there all season (the soil
#: at the spot, and where in it field capacity lies), and what lasts for some days. Judged: a root zone in layers against soil that
#: drains on, is rewetted from below and differs from hand to hand. In a bed the roots reach further from the spot than in a pot.
SPOT_SD, MODEL_SD, BED_MODEL_SD = 0.25, 0.20, 0.30
#: Days for which the latter lasts. Judged.
MODEL_DAYS = 10.0
#: Kinds that look at water at a spot, or in a pot; for sensors see :mod:`soakbook.learning.sensors`.
AT_SPOT: Final = ("feel", "squeeze", "lift", "dial", "tension", "weight")

#: Feel, dry to moist and moist to wet, in available water: "dry" is felt to 25 %, "wet" from 75 %, in every texture (printed:
#: USDA NRCS, Estimating soil moisture by feel and appearance, percent scale).
FEEL_CUTS = (0.25, 0.75)
#: A squeeze by the whole chart: dry, slightly moist, moist, wet, full, dripping. Quarters up to field capacity, where the hand gets a wet
#: outline (printed, same source). Judged: soil is "full" up to 15 % over it, for the chart says of free water only "above field capacity".
SQUEEZE_CUTS = (0.25, 0.5, 0.75, 1.0, 1.15)
#: Error of one feel by a grower, beside that of the texture. Judged: with practice 5 % is claimed (same source), and three
#: classes felt in a garden are cruder.
FEEL_SD = 0.10
#: What the texture adds: the same feel stands for a range of deficits (printed, same source: rows 25 to 50 %, low and high in
#: mm/m, over the middle of the water held); taken as 90 % of a normal spread beyond the row's own quarter.
FEEL_ROWS: Final = {
    "coarse": (25.0, 75.0, 75.0),
    "moderately coarse": (58.0, 108.0, 125.0),
    "medium": (67.0, 133.0, 150.0),
    "fine": (67.0, 150.0, 166.5),
}
#: In peat and compost mixes the method hardly holds. Judged.
FEEL_MIX_SD = 0.15
#: How far one hand feels the same soil drier or wetter than the next, in the logarithm of wetness. Judged: beside the hand it is the soil,
#: for "wet" on the chart is of a suction in the laboratory, and beds two days after rain hold up to half more or less than that.
FEEL_BIAS_SD = 0.35
#: The same in coarse soils, whose curve is steep where they drain: a sandy loam holds three times as much above 1,500 kPa at 100 cm of suction as at
#: 33 kPa (0.056 and 0.019, worked out from the class means of Carsel and Parrish 1988). Judged.
FEEL_BIAS_COARSE: Final = {"coarse": 0.8, "moderately coarse": 0.5}
#: Texture classes of the groups (printed, same source; those it leaves out go where they feel like).
FEEL_GROUP: Final = {
    "sand": "coarse", "loamy_sand": "coarse", "sandy_loam": "moderately coarse", "sandy_clay_loam": "medium",
    "loam": "medium", "silt_loam": "medium", "silt": "medium", "clay_loam": "fine", "silty_clay_loam": "fine",
    "sandy_clay": "fine", "silty_clay": "fine", "clay": "fine",
}  # fmt: skip

#: A dial probe shows 10 / (1 + exp(-(offset + slope (wetness - 0.5)))): it rises with wetness, and nothing more is known of
#: it. Offset and the logarithm of the slope are normal per probe and soil. Judged: at half the available water the middle 80 %
#: of probes show 2.2 to 7.8; from the wilting point to field capacity they rise by 4 to 9. Two copies of a probe disagree
#: (extension columns).
DIAL_OFFSET_SD, DIAL_SLOPE, DIAL_SLOPE_SD = 1.0, 4.0, 0.4
#: Error of one reading. Judged: contact with the soil. [scale of 0 to 10]
DIAL_SD = 0.8

#: Error of a tensiometer read through the retention curve, in the logarithm of kPa. Judged: curve, cup and spot together.
TENSION_LOG_SD = 0.4
#: Below and above these a tensiometer tells no difference: water breaks at about 85 kPa (printed: New Mexico State University
#: notes on tensiometers give the range; the figure is from memory). [kPa]
TENSION_LEAST_KPA, TENSION_MOST_KPA = 1.0, 80.0

#: A volumetric sensor with its maker's curve is off by about this much as long as it stays there (from memory), and by the
#: second from reading to reading and spot to spot (judged). [m³/m³]
SENSOR_OFFSET_SD, SENSOR_SD = 0.03, 0.02

#: Dry mix, pot and plant, per litre of mix, and its spread in the logarithm. Judged: peat and bark 0.1 to 0.3 kg/L, mixes with
#: soil or sand to 0.8.
TARE_KG_L, TARE_LOG_SD = 0.35, 0.5
#: Error of a weighed pot: scales and a plant that grows, as parts of the weight. Judged.
WEIGHT_SD = 0.03
#: A lifted pot: light to middling, middling to heavy, in wetness, and its error. Judged.
LIFT_CUTS, LIFT_SD, LIFT_BIAS_SD = (0.35, 0.75), 0.12, 0.08

#: Water seen where the model has some: half of such events are noticed at this depth, nearly all at ten times it. Judged. [mm]
SEEN_BELOW_MM, SEEN_RAN_OFF_MM, SEEN_LOG_SD = 0.5, 0.5, 0.8

#: Error of a flow caught in a bucket or read off a meter, in the logarithm. Judged: a stop watch and a mark on a bucket.
FLOW_SD = 0.07
#: A line that gives less than this part of its flow counts as giving this much. Judged.
FLOW_LEAST = 0.02

#: Error of what a water meter counted between two readings: a part of it, and litres for the two numbers read. Meters for households err
#: by up to 2 % in the usual range of flow (from memory: ISO 4064-1, class 2), and the flow of a line differs from one watering to the next.
#: Judged together.
METER_SD, METER_READ_L = 0.04, 1.5
#: How likely a meter is read wrongly (both stretches about that reading are then off, and right together); that a stretch is off for good
#: (the meter exchanged or set back); that a watering in it went unwritten; and that other water goes through the meter all the time. Judged.
MISREAD, METER_SLIP, UNWRITTEN, METER_OFF = 0.005, 5e-5, 0.05, 0.02
#: Below so much, litres that nobody wrote down are no sign. Judged. [L]
METER_LEAST_L = 10.0

#: Supply (Ks) at which half the plants are seen wilted, and its spread: at 4 pm plants wilt while roots still supply much of
#: what they want, at dawn only when they supply little. Judged.
WILT_KS: Final = {"wilted at dawn": (0.35, 0.12), "wilted at 4 pm": (0.75, 0.15)}
#: Plants wilt in the heat of the afternoon in wet soil too (squash, cucumber); seldom at dawn. Judged.
WILT_ANYWAY: Final = {"wilted at dawn": 0.03, "wilted at 4 pm": 0.15}


def feel_sd(group: str) -> float:
    """Error of one feel in a texture group, or in a ``mix``, in wetness."""
    if group == "mix":
        return math.hypot(FEEL_SD, FEEL_MIX_SD)
    low, high, held = FEEL_ROWS[group]
    return math.hypot(FEEL_SD, ((high - low) / held - 0.25) / (2.0 * 1.645))


def feel(seen: ArrayLike, wetness: FloatArray, bias: FloatArray, group: str, model_sd: float = MODEL_SD) -> FloatArray:
    """Felt ``seen``: 0 dry, 1 moist, 2 wet; ``model_sd``: error of the balance there, in wetness, as in all that follow."""
    return _class(seen, felt(wetness, bias, group), FEEL_CUTS, math.hypot(feel_sd(group), model_sd))


def squeeze(
    seen: ArrayLike, wetness: FloatArray, bias: FloatArray, group: str, model_sd: float = MODEL_SD
) -> FloatArray:
    """Squeezed ``seen``: 0 dry, 1 slightly moist, 2 moist, 3 wet, 4 full, 5 dripping; the hand's ``bias`` is that of its feel."""
    return _class(seen, felt(wetness, bias, group), SQUEEZE_CUTS, math.hypot(feel_sd(group), model_sd))


def felt(wetness: FloatArray, bias: FloatArray, group: str = "medium") -> FloatArray:
    """How wet a soil of a texture group (or a ``mix``) seems to one hand."""
    return np.asarray(wetness * np.exp(FEEL_BIAS_COARSE.get(group, FEEL_BIAS_SD) * bias))


def lift(seen: ArrayLike, wetness: FloatArray, bias: FloatArray) -> FloatArray:
    """A pot lifted: 0 light, 1 middling, 2 heavy; ``wetness`` of the whole pot."""
    return _class(seen, wetness + LIFT_BIAS_SD * bias, LIFT_CUTS, math.hypot(LIFT_SD, MODEL_SD))


def dial_shown(wetness: NDArray[Any], offset: NDArray[Any], slope: NDArray[Any]) -> NDArray[Any]:
    """Where the hand of a dial probe stands for a wetness. [0 to 10]"""
    steep = DIAL_SLOPE * np.exp(DIAL_SLOPE_SD * slope)
    return np.asarray(10.0 / (1.0 + np.exp(-(DIAL_OFFSET_SD * offset + steep * (wetness - 0.5)))))


def dial(
    shown: ArrayLike, wetness: FloatArray, offset: FloatArray, slope: FloatArray, model_sd: float = MODEL_SD
) -> FloatArray:
    """A dial probe from 0 to 10: normal error, cut off at the ends of the scale; a density per mark of the scale.

    Worked out in single precision by a compiled loop: some hundred-thousandths of a logarithm do not count.
    """
    from soakbook.learning._kernel import dial_density

    shape = np.broadcast_shapes(np.shape(shown), np.shape(wetness), np.shape(offset))
    members = shape[-1]
    wet = np.ascontiguousarray(np.broadcast_to(wetness, shape), dtype=np.float32).reshape(-1, members)
    hand = np.broadcast_to(np.asarray(shown, dtype=np.float32), (*shape[:-1], 1)).reshape(-1)
    steep = (DIAL_SLOPE * np.exp(DIAL_SLOPE_SD * slope)).astype(np.float32)
    density = np.empty(wet.shape, dtype=np.float32)
    dial_density(
        hand, wet, (DIAL_OFFSET_SD * offset).astype(np.float32), steep, np.float32(DIAL_SD**2), np.float32(model_sd**2), density
    )  # fmt: skip
    return np.asarray(_slip(density, 1.0 / 10.0).reshape(shape))


def warm_up() -> None:
    """Look at one reading in one member and weigh it, so that the loops are compiled and their cache written."""
    from soakbook.learning._kernel import temper

    temper(
        np.zeros(1),
        dial(np.full((1, 1), 5.0), np.full((1, 1), 0.5), np.zeros(1), np.zeros(1))[0].astype(float),
        1.0,
        0.1,
        np.empty(1),
    )


def tension(read_kpa: ArrayLike, suction_kpa: FloatArray) -> FloatArray:
    """A tensiometer: normal error of the logarithm, a density per unit of ln kPa; at either end of its range all beyond is one."""
    low, high = math.log(TENSION_LEAST_KPA), math.log(TENSION_MOST_KPA)
    read = np.log(np.maximum(np.asarray(read_kpa, dtype=float), 1e-9))
    middle = np.log(np.clip(suction_kpa, 1e-3, 1e7))
    between = _slip(np.exp(log_normal(read, middle, TENSION_LOG_SD)), 0.8 / (high - low))
    wettest = _slip(normal_cdf((low - middle) / TENSION_LOG_SD), 0.1)
    driest = _slip(normal_cdf((middle - high) / TENSION_LOG_SD), 0.1)
    return np.asarray(np.where(read <= low, wettest, np.where(read >= high, driest, between)))


def sensor(
    theta: ArrayLike, held: FloatArray, offset: FloatArray, offset_sd: float = SENSOR_OFFSET_SD, model_sd: ArrayLike = 0.0
) -> FloatArray:  # fmt: skip
    """A volumetric sensor [m³/m³] that is off by ``offset_sd`` times ``offset``; a density per m³/m³. ``model_sd``: error of the
    balance there. [m³/m³]"""
    return _slip(np.exp(log_normal(theta, held + offset_sd * offset, np.hypot(SENSOR_SD, model_sd))), 1.0)


def tare_kg(mix_l: float, tare: FloatArray) -> FloatArray:
    """What a pot of so many litres of mix weighs without its water. [kg]"""
    return np.asarray(TARE_KG_L * mix_l * np.exp(TARE_LOG_SD * tare))


def weight(
    kg: ArrayLike, water_l: FloatArray, tare: FloatArray, mix_l: float, model_l: float = 0.0
) -> FloatArray:  # fmt: skip
    """A weighed pot: water and all else; a density per unit of ln kg. ``model_l``: error of the balance. [L]"""
    whole = np.maximum(water_l + tare_kg(mix_l, tare), 1e-6)
    return _slip(np.exp(log_normal(np.log(kg), np.log(whole), np.hypot(WEIGHT_SD, model_l / whole))), 0.25)


def flow(part: ArrayLike, delivery: FloatArray, evenness_sd: float) -> FloatArray:
    """A flow measured, as a part of what the garden file has; a density per unit of its logarithm. ``delivery`` is what reaches the
    roots over what was meant to: the flow, and with ``evenness_sd`` where it goes."""
    seen = np.log(np.maximum(np.asarray(part, dtype=float), FLOW_LEAST))
    middle = np.log(np.maximum(delivery, FLOW_LEAST))
    return _slip(np.exp(log_normal(seen, middle, math.hypot(FLOW_SD, evenness_sd))), 0.25)


def metered_sd(litres: ArrayLike) -> FloatArray:
    """Error of litres counted by a meter. [L]"""
    return np.hypot(METER_SD * np.asarray(litres), METER_READ_L)


def metered(litres: float, through_l: FloatArray) -> FloatArray:
    """Density of litres counted by a meter when ``through_l`` were to go through it. [1/L]"""
    return np.asarray(np.exp(log_normal(litres, through_l, metered_sd(through_l))))


def water_seen(seen: ArrayLike, passed_mm: FloatArray, half_seen_mm: float) -> FloatArray:
    """Whether water came out below, or ran off, on a day on which the model lets so much pass."""
    there = normal_cdf(np.log((passed_mm + 1e-3) / half_seen_mm) / SEEN_LOG_SD)
    return _slip(np.where(seen, there, 1.0 - there), 0.5)


def wilted(seen: ArrayLike, supply: FloatArray, when: str) -> FloatArray:
    """Whether plants hung their leaves at dawn or at 4 pm; ``supply`` is Ks, 1 when they get all the water they want."""
    half, sd = WILT_KS[when]
    anyway = WILT_ANYWAY[when]
    likely = anyway + (1.0 - anyway) * normal_cdf((half - supply) / sd)
    return _slip(np.where(seen, likely, 1.0 - likely), 0.5)


def _class(seen: ArrayLike, wetness: FloatArray, cuts: Sequence[float], sd: float) -> FloatArray:
    """One of the classes between cuts, where a normal error moves what is seen; ``seen`` counts them from 0 up."""
    edges = np.array([-np.inf, *cuts, np.inf])
    which = np.asarray(seen).astype(int)
    odds = normal_cdf((edges[which + 1] - wetness) / sd) - normal_cdf((edges[which] - wetness) / sd)
    return _slip(odds, 1.0 / (len(cuts) + 1))


def _slip(likelihood: NDArray[Any], anything: float) -> FloatArray:
    """The logarithm, mixed with readings that say nothing."""
    return np.asarray(np.log((1.0 - SLIP) * likelihood + SLIP * anything))
