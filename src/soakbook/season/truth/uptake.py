"""What a true plant asks of its soil: leaves, demand, roots, and the heads between which roots draw.

Not the method of :mod:`soakbook.balance`: leaf area splits the demand (Beer's law), roots deepen along a sine, and uptake falls
with the head of the soil (Feddes), not with the share of available water used.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Heads:
    """Feddes heads [cm]: no uptake above ``h1`` (too wet) or below ``h4``; all of it from ``h2`` to ``h3``, where ``h3`` lies between
    its values at a demand of 5 mm/day or more and 1 mm/day or less."""

    h1: float
    h2: float
    h3_high: float
    h3_low: float
    h4: float


#: By the group a plant has in the catalogue. h3 of tomato, cabbage, peas and beans, corn, lettuce, onion, potato, carrot and
#: strawberry: the heads at which watering should start in the lists used with Feddes' model (S. A. Taylor and G. L. Ashcroft, Physical Edaphology, 1972, in
#: secondary tables); h1, h2 and h4: the usual -10, -25 and -8000 cm of those lists. From memory, except the starting heads.
HEADS: dict[str, Heads] = {
    "tomato family": Heads(-10.0, -25.0, -800.0, -1500.0, -8000.0),
    "squash family": Heads(-10.0, -25.0, -350.0, -450.0, -8000.0),
    "peas and beans": Heads(-10.0, -25.0, -750.0, -2000.0, -8000.0),
    "corn and okra": Heads(-15.0, -30.0, -500.0, -1000.0, -8000.0),
    "cabbage family": Heads(-10.0, -25.0, -600.0, -700.0, -8000.0),
    "roots": Heads(-10.0, -25.0, -550.0, -650.0, -8000.0),
    "onion family": Heads(-10.0, -25.0, -500.0, -600.0, -8000.0),
    "leaves": Heads(-10.0, -25.0, -400.0, -600.0, -8000.0),
    "stalks": Heads(-10.0, -25.0, -200.0, -300.0, -8000.0),
    "fruit": Heads(-10.0, -25.0, -250.0, -600.0, -8000.0),
}
#: For groups not listed. From memory.
HEADS_ELSE = Heads(-10.0, -25.0, -400.0, -800.0, -8000.0)

#: Yield response by stage (start, growing, full growth, ripening), FAO Irrigation and Drainage Paper 33, Table 24. From memory.
KY_STAGES: dict[str, tuple[float, float, float, float]] = {
    "tomato family": (0.4, 1.1, 0.8, 0.4),
    "squash family": (0.45, 0.7, 0.8, 0.3),
    "peas and beans": (0.2, 1.1, 0.75, 0.2),
    "corn and okra": (0.4, 1.5, 0.5, 0.2),
    "cabbage family": (0.2, 0.2, 0.45, 0.6),
    "onion family": (0.45, 0.45, 0.8, 0.3),
}


def heads_of(group: str) -> Heads:
    """The Feddes heads of a group of plants."""
    return HEADS.get(group, HEADS_ELSE)


def turning_head_cm(heads: FloatArray, demand_mm: ArrayLike) -> FloatArray:
    """h3 at a day's demand, straight between 5 mm/day (column 2 of ``heads``) and 1 mm/day (column 3). [cm]

    J. G. Wesseling and others in the descriptions of Feddes' model; from memory.
    """
    share = np.clip((5.0 - np.asarray(demand_mm, dtype=float)) / 4.0, 0.0, 1.0)
    return np.asarray(heads[..., 2] + share * (heads[..., 3] - heads[..., 2]))


#: Part of the growing stage at whose end half of the leaves are there.
HALF_GROWN = 0.65


def leaf_area(day: FloatArray, lengths: FloatArray, most: FloatArray, last: FloatArray) -> FloatArray:
    """Leaf area index on a day of the crop's life: slow, then S-shaped to ``most``, held, then straight to ``last``.

    ``lengths`` holds the four stages in days, plants × 4. Our own form: 2 % of ``most`` at the start, half of it at
    :data:`HALF_GROWN` of growing, so that leaves cover about half as much ground in the middle of it as at its end: FAO-56 (p. 96)
    has the stage begin at about a tenth of the ground covered and end at effective full cover.
    """
    ini, dev, mid, late = lengths.T
    grown = 1.0 / (1.0 + np.exp(-9.0 * ((day - ini) / dev - HALF_GROWN)))
    young = most * (0.02 + 0.98 * np.where(day < ini, grown * day / ini, grown))
    fade = np.clip((day - ini - dev - mid) / late, 0.0, 1.0)
    return np.asarray(np.where(day < ini + dev, young, most + (last - most) * fade))


def split(et_mm: ArrayLike, lai: ArrayLike, extinction: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """What leaves and what bare ground could lose of the demand: Beer's law over the leaf area.

    J. T. Ritchie, Water Resour. Res. 8:1204-1213, 1972, in the exponential form used since. [mm, mm]
    """
    et = np.asarray(et_mm, dtype=float)
    ground = et * np.exp(-np.asarray(extinction, dtype=float) * np.asarray(lai, dtype=float))
    return et - ground, ground


def root_depth_cm(day: ArrayLike, full_day: ArrayLike, start_cm: ArrayLike, most_cm: ArrayLike) -> FloatArray:
    """Depth of roots: a sine from ``start_cm`` to ``most_cm`` on day ``full_day``.

    H. Borg and D. W. Grimes, Trans. ASAE 29:194-197, 1986: share = 0.5 + 0.5 sin(3.03 t - 1.47); from memory.
    """
    t = np.clip(np.asarray(day, dtype=float) / np.asarray(full_day, dtype=float), 0.0, 1.0)
    share = 0.5 + 0.5 * np.sin(3.03 * t - 1.47)
    start = np.asarray(start_cm, dtype=float)
    return np.asarray(start + (np.asarray(most_cm, dtype=float) - start) * share)


def root_shares(thick_cm: FloatArray, depth_cm: FloatArray, steepness: FloatArray) -> FloatArray:
    """Share of the roots in each cell, columns × cells: exp(-steepness z/depth) cut off at ``depth``; rows sum to 1.

    An exponential as in A. Gerwitz and E. R. Page, J. Appl. Ecol. 11:773-781, 1974; the cut and the scale are ours.
    """
    bottom = np.cumsum(thick_cm, axis=1)
    reach = np.minimum(depth_cm, bottom[:, -1])[:, None]
    lower, upper = np.minimum(bottom / reach, 1.0), np.minimum((bottom - thick_cm) / reach, 1.0)
    k = steepness[:, None]
    return np.asarray((np.exp(-k * upper) - np.exp(-k * lower)) / -np.expm1(-k))


def yield_loss(actual_mm: FloatArray, potential_mm: FloatArray, ky: FloatArray, ky_season: FloatArray) -> FloatArray:
    """Share of the harvest lost to thirst; plants × 4 stages in, 0 to 1 out.

    J. I. Stewart and others 1977, in J. Doorenbos and A. H. Kassam, FAO Irrigation and Drainage Paper 33, 1979: 1 - Ya/Ym =
    Ky (1 - ETa/ETm), stage by stage and multiplied as M. E. Jensen (1968) does. Plants without factors by stage (NaN) have
    one for the season.
    """
    lacking = 1.0 - np.divide(actual_mm, potential_mm, out=np.ones_like(actual_mm), where=potential_mm > 0.0)
    by_stage = 1.0 - np.prod(np.clip(1.0 - np.nan_to_num(ky) * lacking, 0.0, 1.0), axis=1)
    asked = potential_mm.sum(axis=1)
    whole = 1.0 - np.divide(actual_mm.sum(axis=1), asked, out=np.ones_like(asked), where=asked > 0.0)
    return np.asarray(np.where(np.isnan(ky[:, 0]), np.clip(ky_season * whole, 0.0, 1.0), by_stage))
