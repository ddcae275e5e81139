"""What is not known of a place, drawn by member from the spread of how each thing was come by.

Every standard deviation here is of the logarithm (or, small as they are, of the fraction). Unless a source is named they are
judged: published figures exist for the parts, hardly for a garden.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np

from soakbook.balance.columns import FloatArray
from soakbook.balance.layout import Members
from soakbook.balance.wander import draw_paths
from soakbook.errors import InputError
from soakbook.garden.model import Line, Place
from soakbook.said import say

#: No store or conductivity is drawn further off than this. [standard deviations] Beyond, the store of a poorly known soil
#: would be used up by its own error.
MOST_Z = 2.0

#: Demand of a bed, coefficients and reference evapotranspiration together. The first alone is good to 10 to 20 % in
#: practice (from memory of R. G. Allen et al., Agric. Water Manage. 98:899-920, 2011). Judged: in a lone pot leaves, wall and the air about it
#: are further off.
DEMAND_SD = {"bed": 0.12, "pot": 0.21, "tray": 0.18}
#: Added in quadrature where walls or trees cut the light, or something covers the place: shade is drawn by eye.
SHADE_SD = 0.10
#: Taken off in quadrature where the canopy was measured.
CANOPY_SD = 0.07

#: What reaches the roots of what was meant to be given, by means: evenness and losses.
EVENNESS_SD = {
    "can": 0.07,
    "wand": 0.15,
    "sprinkler": 0.20,
    "drip_line": 0.10,
    "emitters": 0.10,
    "soaker": 0.20,
    "tray": 0.05,
    "basin": 0.15,
    "furrow": 0.25,
    "clay_pot": 0.15,
}
#: How well the litres themselves are known: counted in cans, a flow measured, a flow as printed on the packet or guessed, a tap
#: run by feel. A line's flow falls by a quarter to a half with pressure and dirt (common practice).
LITRES_COUNTED, FLOW_MEASURED, FLOW_PRINTED, FLOW_UNKNOWN = 0.05, 0.07, 0.20, 0.30
BY_HAND = ("can", "tray", "clay_pot")
#: Added in quadrature where a pot is watered from above: part of a pour runs down between mix and wall or goes to one side, and how
#: much differs from pot to pot. Judged.
POUR_SD = 0.15
FROM_BELOW = ("tray", "clay_pot")

#: Rain at the place over that of the weather's source some kilometres off, over weeks.
RAIN_SD = 0.12
#: Added in quadrature: a wall, hedge or tree near (rain shadow, drip); leaves that shed rain past a pot; a fraction said by
#: the grower.
SHADOW_SD, POT_SD, SAID_SD = 0.15, 0.25, 0.10

#: How much further off deliveries and catches in the lower sixth are than a normal error would have them. Judged: with it one flow in
#: forty that was printed on the packet brings half of that or less, one in three hundred a quarter or less.
GROSS = 1.0
_NORMAL = NormalDist()


def draw_members(place: Place, count: int, rng: np.random.Generator, line: Line | None = None) -> Members:
    """Members of a place: the best guess first, the others drawn about it.

    Parameters
    ----------
    place
        The place. How its soil was described (class name, jar, feel, laboratory, mix) sets the size of a standard deviation of
        store and conductivity when it is laid out; here they are drawn in those.
    count
        Members wanted, the best guess included.
    rng
        Where chance comes from.
    line
        The line that feeds the place, where one does: whether its flow was measured counts.

    Returns
    -------
    Members
        Factors have mean 1, or nearly so where gross errors are possible (:func:`tailed`). Each quantity is spread evenly over its distribution (one member in each of equal slices, a
        Latin hypercube: M. D. McKay et al., Technometrics 21:239-245, 1979) and independent of the others.

    Raises
    ------
    InputError
        Fewer than one member.
    """
    if count < 1:
        raise InputError(say("at least one member is needed (got {count}).", count=count), code="members.count")
    return Members(
        store_z=_z(count, rng, MOST_Z),
        demand=factor(_z(count, rng, 3.5), demand_sd(place)),
        catch=factor(tailed(_z(count, rng, 3.5)), catch_sd(place)),
        delivery=factor(tailed(_z(count, rng, 3.5)), delivery_sd(place, line)),
        drainage_z=_z(count, rng, MOST_Z),
        paths=draw_paths(count, rng),
    )


def demand_sd(place: Place) -> float:
    """How far a place's demand may be off. [fraction]"""
    square = DEMAND_SD[place.kind] ** 2
    if place.plantings and all(p.width_m is not None for p in place.plantings):
        square -= CANOPY_SD**2
    if place.exposure.horizon or place.exposure.cover != "none":
        square += SHADE_SD**2
    return math.sqrt(square)


def delivery_sd(place: Place, line: Line | None = None) -> float:
    """How far the water that reaches the roots may be off from what was meant. [fraction]"""
    return math.hypot(evenness_sd(place), litres_sd(place, line))


def litres_sd(place: Place, line: Line | None = None) -> float:
    """How far the litres that leave the spout may be off from what was meant, by how their flow is known. [fraction]"""
    if line is not None and line.flow_lph is not None:
        return FLOW_MEASURED if line.flow_is_measured else FLOW_PRINTED
    if line is None and place.means in BY_HAND:
        return LITRES_COUNTED
    if place.emitter_flow_lph is not None or (line is not None and line.emitter_flow_lph is not None):
        return FLOW_PRINTED
    return FLOW_UNKNOWN


def evenness_sd(place: Place) -> float:
    """How far what reaches the roots may be off where the litres are known. [fraction]"""
    even = EVENNESS_SD[place.means]
    return math.hypot(even, POUR_SD) if place.kind == "pot" and place.means not in FROM_BELOW else even


def catch_sd(place: Place) -> float:
    """How far the rain caught may be off. [fraction]"""
    square = RAIN_SD**2
    if place.exposure.horizon or place.exposure.shelter != "open":
        square += SHADOW_SD**2
    if place.kind == "pot":
        square += POT_SD**2
    if place.exposure.rain_fraction is not None:
        square += SAID_SD**2
    return math.sqrt(square)


def _z(count: int, rng: np.random.Generator, most: float) -> FloatArray:
    """Zero first, then standard normal draws cut off at ``most`` on either side, one in each of equal slices."""
    n = count - 1
    tail = _NORMAL.cdf(-most)
    even = (rng.permutation(n) + rng.random(n)) / max(n, 1)
    within = tail + (1.0 - 2.0 * tail) * even
    return np.array([0.0, *map(_NORMAL.inv_cdf, within.tolist())])


def factor(z: FloatArray, sd: float) -> FloatArray:
    """Log-normal factors of mean 1 from standard normal numbers; that of exactly 0 is the best guess, 1."""
    return np.asarray(np.where(z == 0.0, 1.0, np.exp(sd * z - 0.5 * sd**2)))


def tailed(z: FloatArray) -> FloatArray:
    """Standard normal numbers with the far side below stretched: what is delivered or caught may fail grossly (a clogged or half
    open line, a wall that keeps all rain off), and seldom comes in plenty."""
    return np.asarray(z - GROSS * np.maximum(-1.0 - z, 0.0) ** 2)


def untailed(stretched: FloatArray) -> FloatArray:
    """The standard normal numbers that :func:`tailed` stretched."""
    below = np.maximum(-1.0 - stretched, 0.0)
    return np.asarray(stretched + below - (np.sqrt(1.0 + 4.0 * GROSS * below) - 1.0) / (2.0 * GROSS))
