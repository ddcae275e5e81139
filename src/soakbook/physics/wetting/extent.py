"""How wide and deep a run has wetted, and where its water is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soakbook.physics.wetting.ground import Wetting, soil_of_rows

FloatArray = NDArray[np.float64]

#: Soil counts as wetted where its water content has risen by this: what can be seen and felt. Judged. [m³/m³]
SEEN = 0.02
#: Or, where that is less, by this part of what it could still take: clays of n near 1.1 are nearly full when they are due, and could hardly rise by so much. In loams due for
#: water a rise of 0.02 is 7 to 12 hundredths of it. Judged.
SEEN_PART = 0.15


@dataclass(frozen=True)
class Extent:
    """At one look: how far out the surface is wet, how far the widest depth is, how deep it is under the source, how far water stands. [cm] ``given_l``,
    ``ran_off_l``, ``drawn_l`` by roots so far. ``in_roots``: the part of what went in by which the soil within the roots' depth is fuller, with what they have drawn; ``below``:
    that by which the soil under it is, with what has left it. Both against the soil as it was before, or would be without the water."""

    hours: float
    surface_cm: float
    widest_cm: float
    depth_cm: float
    stands_cm: float
    given_l: float
    ran_off_l: float
    drawn_l: float
    in_roots: float
    below: float


def extents(run: Wetting, root_depth_cm: float, rest: Wetting | None = None) -> tuple[Extent, ...]:
    """A run at each look; ``root_depth_cm`` is how deep roots reach. ``rest`` is the same soil at the same looks without the water, where it moves by itself: then
    what counts is the difference."""
    found = []
    least = seen(run)
    down = run.grid.down_cm
    out_end, down_end = float(run.grid.out_cm[-1]), float(down[-1])
    within = np.clip((root_depth_cm - down[:-1]) / np.diff(down), 0.0, 1.0)
    added = run.added_l() - (rest.added_l() if rest else 0.0)
    below = run.below_l - (rest.below_l if rest else 0.0)
    drawn_of_it = run.drawn_l - (rest.drawn_l if rest else 0.0)
    before = rest.theta if rest else np.broadcast_to(run.first_theta, run.theta.shape)
    for k, hours in enumerate(run.times_h):
        risen = (run.theta[k] - before[k]) / least[:, None]
        went_in = float(run.taken_l[k])
        held = float((added[k] * within[:, None]).sum()) + float(drawn_of_it[k])
        deeper = float((added[k] * (1.0 - within[:, None])).sum() + below[k])
        found.append(Extent(
            float(hours), edge_cm(run.grid.out, risen[0], 1.0, out_end), max(edge_cm(run.grid.out, row, 1.0, out_end) for row in risen),
            edge_cm(run.grid.down, risen.max(axis=1), 1.0, down_end), float(run.wet_out_cm[k]), went_in + float(run.ran_off_l[k] + run.stood_l[k]), float(run.ran_off_l[k]), float(run.drawn_l[k]),
            held / went_in if went_in else 0.0, deeper / went_in if went_in else 0.0,
        ))  # fmt: skip
    return tuple(found)


def seen(run: Wetting) -> FloatArray:
    """The rise of water content from which a row counts as wetted, by the least room in it at the start. (rows,) [m³/m³]"""
    full = np.array([layer.soil.theta_s for layer in run.layers])[soil_of_rows(run.layers, run.grid)]
    return np.asarray(np.minimum(SEEN, SEEN_PART * np.maximum(full - run.first_theta.max(axis=1), 1e-9)))


def edge_cm(middles_cm: FloatArray, risen: FloatArray, by: float = SEEN, end_cm: float | None = None) -> float:
    """The farthest point at which water content has risen by so much, straight between the middles of cells; 0 where it nowhere has. Where the last cell is wet it is ``end_cm``, its outer
    edge, or its middle if that is not given. [cm]"""
    wet = np.flatnonzero(risen >= by)
    if not len(wet):
        return 0.0
    last = int(wet[-1])
    if last + 1 == len(middles_cm):
        return float(middles_cm[-1]) if end_cm is None else end_cm
    part = (risen[last] - by) / (risen[last] - risen[last + 1])
    return float(middles_cm[last] + part * (middles_cm[last + 1] - middles_cm[last]))


def depth_of_part_cm(run: Wetting, time: int, part: float = 0.95) -> float:
    """The depth above which so much of the water that was added lies. [cm]"""
    by_row = run.added_l()[time].sum(axis=1)
    so_far = np.concatenate([[0.0], np.cumsum(by_row)])
    return float(np.interp(part * so_far[-1], so_far, run.grid.down_cm))
