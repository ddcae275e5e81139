"""Why our wet edges lie within those of benchmark F (:mod:`tests.measured.delivery_drip`).

F says: flux over a disc, the plain curves (loam and clay loam with an air entry of 2 cm), cells of 0.75 cm, those of 1.5 cm differ by 0.3 to 1.0 cm. It does not say how it
takes conductivity between cells, nor how it makes the air entry. With the arithmetic mean and curves drawn out to the air entry (:mod:`tests.picard_peer`) all its
36 figures come out, to 0.04 cm, and cells of 1.5 cm make them 0.3 to 1.0 cm larger. ``python -m tests.measured.delivery_front`` prints them all, in a minute; of
them the tests run what takes seconds. FiPy (:mod:`tests.fipy_peer`), whose mean is the arithmetic one too, finds the first runs of both sands to 0.01 cm; it takes 40 s for each, so
that no test runs it. Other means on the same cells do not fit: the geometric mean is 0.2 to 2.2 cm short of F, that over head 0.2 to 0.7 cm; the upstream one is 0.2 to 0.9 cm beyond it (first
runs of all four soils).
"""

from __future__ import annotations

from functools import cache, partial

import numpy as np

from soakbook.physics.wetting.extent import edge_cm
from soakbook.physics.wetting.ground import FloatArray, Layer, Source, even_grid
from soakbook.physics.wetting.solve import wet
from tests.measured.delivery_check import Case, worst
from tests.measured.delivery_drip import CARSEL_PARRISH, ROWS
from tests.picard_peer import FullAtEntry, Mean, risen

Figures = tuple[float, float, float]
#: Cells of F, and how much room is left beyond its edges. [cm]
CELL_CM, ROOM_CM, HEAD_CM = 0.75, 2.0, -500.0
#: A run: soil, flow [L/h], hours, radius of the disc [cm].
Run = tuple[str, float, float, float]
SANDY_LOAM, CLAY_LOAM = ("sandy loam", 2.0, 1.0, 6.0), ("clay loam", 2.0, 1.0, 26.0)


def printed() -> dict[Run, Figures]:
    """Wet radius at the surface, largest, and depth of each run, to both digits printed. [cm]"""
    found: dict[Run, dict[str, float]] = {}
    for row in ROWS:
        if row["case"].startswith("F_"):
            soil, _, rest = row["case"].removeprefix("F_vg_drip_").partition("_q")
            run = (soil.replace("_", " "), float(rest[0]), float(row["time_h"]), float(rest.rpartition("_r0_")[2].removesuffix("cm")))  # fmt: skip
            found.setdefault(run, {})[row["quantity"]] = float(row["value"])
    names = ("surface_wetted_radius_cm", "max_wetted_radius_cm", "wetted_depth_cm")
    return {run: tuple(by[name] for name in names) for run, by in found.items()}  # type: ignore[misc]


def its_soil(soil: str) -> FullAtEntry:
    """Sands have the plain curves."""
    return FullAtEntry(*CARSEL_PARRISH[soil], air_entry_cm=2.0 if soil in {"loam", "clay loam"} else 0.0)


def figures(theta_risen: FloatArray, cell_cm: float) -> Figures:
    """As in F: where water content has risen by 0.02."""
    out, down = ((np.arange(n) + 0.5) * cell_cm for n in (theta_risen.shape[1], theta_risen.shape[0]))
    return edge_cm(out, theta_risen[0]), max(edge_cm(out, row) for row in theta_risen), edge_cm(down, theta_risen[:, 0])


def _room(run: Run, cell_cm: float) -> tuple[int, int]:
    """Rings and rows."""
    _, largest, depth = printed()[run]
    rings, rows = (int(np.ceil((far + ROOM_CM) / cell_cm)) for far in (largest, depth))
    return rings, rows


@cache
def by_peer(run: Run, cell_cm: float, mean: Mean) -> Figures:
    """By the peer, on the curves of F. [cm]"""
    soil, flow, hours, disc_cm = run
    return figures(risen(its_soil(soil), cell_cm, *_room(run, cell_cm), flow, disc_cm, hours, HEAD_CM, mean), cell_cm)


@cache
def by_ours(run: Run, cell_cm: float) -> Figures:
    """By our solver, on the curves of F. [cm]"""
    soil, flow, hours, disc_cm = run
    rings, rows = _room(run, cell_cm)
    grid = even_grid("emitter", cell_cm, rings * cell_cm, rows * cell_cm)
    source = Source(flow, ((0.0, hours),), evenly_cm=disc_cm)
    found = wet([Layer(its_soil(soil))], grid, source, [hours], first_head_cm=HEAD_CM, bottom="closed", tolerance=0.001)
    return figures(found.theta[0] - found.first_theta, cell_cm)


def off_print(run: Run) -> float:
    """By the peer with the arithmetic mean against F. [cm]"""
    return worst(zip(by_peer(run, CELL_CM, "arithmetic"), printed()[run], strict=True))


def off_ours(run: Run) -> float:
    """By the peer with our mean against ours, in cells twice as large, where the mean tells more. [cm]"""
    return worst(zip(by_peer(run, 2.0 * CELL_CM, "over head"), by_ours(run, 2.0 * CELL_CM), strict=True))


def wider(run: Run, cell_cm: float) -> FloatArray:
    """How much farther the arithmetic mean carries the edges than ours does in cells of 0.25 cm. [cm]"""
    return np.subtract(by_peer(run, cell_cm, "arithmetic"), by_ours(run, 0.25))


WHY = tuple(
    case
    for run in (SANDY_LOAM, CLAY_LOAM)
    for case in (
        Case(f"F: {run[0]}, first run again, with the arithmetic mean, its cells and curves", "another solver", 0.05, "cm", partial(off_print, run)),
        Case(f"F: the same with the mean over head, by ours, {run[0]}", "finite volumes, modified Picard iteration", 0.1, "cm", partial(off_ours, run)),
    )
)  # fmt: skip


if __name__ == "__main__":
    for one, figs in printed().items():
        again = by_peer(one, CELL_CM, "arithmetic")
        print(
            *one, "printed", figs, "again", np.round(again, 2), "off", np.round(np.subtract(again, figs), 3), flush=True
        )
