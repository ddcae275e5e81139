"""Drip on soil: how fast the solver's error falls with smaller cells, steps kept out of it, and with smaller steps, cells kept as they are.

The error is the part of the water given that lies elsewhere: half of what differs from cell to cell, fine cells added up to coarse ones. Where cells are looked at, the error of time is
taken out: backward Euler is of first order, so that two runs, of which one has about half the steps, tell what endless steps would give.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from itertools import pairwise

import numpy as np

from soakbook.physics.wetting.curves import Gardner
from soakbook.physics.wetting.extent import extents
from soakbook.physics.wetting.ground import FloatArray, Grid, Layer, Shape, Source, Wetting, even_grid
from soakbook.physics.wetting.soils import class_soils
from soakbook.physics.wetting.solve import TOLERANCE, wet
from tests.measured.delivery_check import Case, worst
from tests.measured.gardner_box import head_of, rises
from tests.measured.kept import keep, kept
from tests.measured.orders import Recipe, Study

NAME = "delivery_orders"
Found = tuple[tuple[float, ...], tuple[float, ...]]

#: The smooth soil: that of benchmarks A to C. Its box, what is put on [L/h, or per metre], half the width it falls on, and how long. [cm, h]
SMOOTH, SMOOTH_BOX, SMOOTH_HALF_CM, SMOOTH_H = Gardner(0.078, 0.43, 0.05, 1.04), (60.0, 80.0), 10.0, 4.0
SMOOTH_FLOW: dict[Shape, float] = {"emitter": 0.6, "line": 0.3}
REST_CM = -100.0
#: How water comes in the drip cases: L/h (of a line per metre), for how long [h], half the width it falls on evenly (0: it stands and spreads), suction at the start. [cm]
How = tuple[dict[Shape, float], float, float, float]
STANDS, FALLS, GENTLY = "standing and spreading", "falling evenly", "falling evenly and gently on moist soil"
HOWS: dict[str, How] = {
    STANDS: ({"emitter": 2.0, "line": 6.0}, 1.0, 0.0, -500.0), FALLS: ({"emitter": 2.0, "line": 6.0}, 1.0, 16.0, -500.0),
    GENTLY: ({"emitter": 0.6, "line": 2.4}, 3.0, 16.0, -100.0),
}  # fmt: skip
#: Their box, and when one looks again after the end. [cm, h]
BOX_CM, LATER_H = 48.0, 11.0
LOAMS = dict(zip(("loam", "loam of the second table"), class_soils("loam"), strict=True))
#: Tolerances from which the error of time is taken out: a quarter makes half the step.
SMOOTH_TIGHT, TIGHT = (1e-6, 2.5e-7), (1e-4, 2.5e-5)
SMOOTH_CELLS, CELLS = (5.0, 2.5, 1.25, 0.625), (4.0, 2.0, 1.0, 0.5, 0.25)
#: Cells and tolerance of a page.
PAGE_CM, TOLERANCES = 2.0, tuple(TOLERANCE / 4.0**k for k in range(7))


def without_time(runs: tuple[Wetting, Wetting], time: int) -> FloatArray:
    """Water content that endless steps would give."""
    coarse, fine = runs
    return np.asarray(fine.theta[time] + (fine.theta[time] - coarse.theta[time]) * coarse.steps / (fine.steps - coarse.steps))  # fmt: skip


def elsewhere_pct(differs: FloatArray, given_cm3: float) -> float:
    """Half of what differs, by cell [cm³], in parts of what was given. [%]"""
    return float(50.0 * np.abs(differs).sum() / given_cm3)


def together(water: FloatArray, by: int) -> FloatArray:
    """So many cells by so many added up to one."""
    rows, rings = water.shape
    return np.asarray(water.reshape(rows // by, by, rings // by, by).sum(axis=(1, 3)))


@cache
def smooth(shape: Shape, cell: float, hours: float | None, tolerance: float) -> Wetting:
    """Even flux on a disc or strip; ``None`` is at rest."""
    grid = even_grid(shape, cell, *SMOOTH_BOX)
    source = Source(SMOOTH_FLOW[shape], ((0.0, 1e9),), evenly_cm=SMOOTH_HALF_CM)
    rain = float(SMOOTH.conductivity_cm_h(REST_CM))
    return wet([Layer(SMOOTH)], grid, source, [hours or 4000.0], first_head_cm=REST_CM, rain_cm_h=rain, tolerance=tolerance)  # fmt: skip


def _smooth_theta(shape: Shape, cell: float, hours: float | None) -> tuple[Wetting, FloatArray]:
    """A run, and its water contents without the error of time, of which at rest there is none."""
    if hours is None:
        run = smooth(shape, cell, None, TOLERANCE)
        return run, run.theta[0]
    runs = (smooth(shape, cell, hours, SMOOTH_TIGHT[0]), smooth(shape, cell, hours, SMOOTH_TIGHT[1]))
    return runs[1], without_time(runs, 0)


def exact_head(grid: Grid, hours: float | None) -> FloatArray:
    """In the middles of cells. [cm]"""
    half, flow = SMOOTH_HALF_CM, SMOOTH_FLOW[grid.shape] * grid.cm3_per_l
    flux = flow / (np.pi * half**2 if grid.shape == "emitter" else 2.0 * half)
    rest = float(SMOOTH.conductivity_cm_h(REST_CM)) / SMOOTH.alpha_per_cm
    phi = rises(grid.shape, SMOOTH, SMOOTH_BOX, half, flux, hours, grid.out, grid.down)
    return head_of(SMOOTH, phi + rest)


def _theta(head: FloatArray) -> FloatArray:
    return np.asarray(SMOOTH.theta_r + (SMOOTH.theta_s - SMOOTH.theta_r) * SMOOTH.saturation(head))


def off_exact(shape: Shape, hours: float | None, cells: tuple[float, ...]) -> Found:
    """Against the exact solution."""
    off = []
    for cell in cells:
        run, theta = _smooth_theta(shape, cell, hours)
        exact = _theta(exact_head(run.grid, hours))
        volume = run.grid.volume_cm3
        off.append(elsewhere_pct((theta - exact) * volume, float(((exact - run.first_theta) * volume).sum())))
    return cells, tuple(off)


def off_heads(shape: Shape, at_edge: bool, cells: tuple[float, ...]) -> Found:
    """Largest error of head at rest, 5 cm and more from where the flux ends, or over all cells. [cm]"""
    off = []
    for cell in cells:
        run = smooth(shape, cell, None, TOLERANCE)
        away = np.hypot(run.grid.out - SMOOTH_HALF_CM, run.grid.down[:, None])
        miss = np.abs(run.head_cm[0] - exact_head(run.grid, None))
        off.append(float(miss.max() if at_edge else miss[away > 5.0].max()))
    return cells, tuple(off)


def off_ponded(cells: tuple[float, ...]) -> Found:
    """Flux into a disc under water, at rest: what differs from cells to cells. [%]"""
    flows = []
    for cell in cells:
        grid = even_grid("emitter", cell, *SMOOTH_BOX)
        source = Source(0.0, ((0.0, 1e9),), evenly_cm=SMOOTH_HALF_CM, ponded=True)
        run = wet([Layer(SMOOTH)], grid, source, [3000.0, 3010.0], first_head_cm=REST_CM, tolerance=0.02)
        flows.append(float(np.diff(run.taken_l)[0]))
    return cells, tuple(100.0 * abs(a - b) / flows[-1] for a, b in pairwise(flows))


@cache
def drip(shape: Shape, soil: str, how: str, cell: float, tolerance: float) -> Wetting:
    """A drip case, at its end and later."""
    flow, hours, half, first = HOWS[how]
    source = Source(flow[shape], ((0.0, hours),), evenly_cm=half)
    grid = even_grid(shape, cell, BOX_CM, BOX_CM)
    return wet([Layer(LOAMS[soil])], grid, source, [hours, hours + LATER_H], first_head_cm=first, bottom="closed", tolerance=tolerance)  # fmt: skip


def given_l(shape: Shape, how: str) -> float:
    """What a drip case gives, of a line per metre. [L]"""
    flow, hours, *_ = HOWS[how]
    return flow[shape] * hours


def off_cells(shape: Shape, soil: str, how: str, time: int, cells: tuple[float, ...]) -> Found:
    """What differs from cells to cells of half the size."""
    water = []
    for cell in cells:
        runs = (drip(shape, soil, how, cell, TIGHT[0]), drip(shape, soil, how, cell, TIGHT[1]))
        water.append(without_time(runs, time) * runs[0].grid.volume_cm3)
    given = given_l(shape, how) * runs[0].grid.cm3_per_l
    return cells, tuple(elsewhere_pct(together(fine, 2) - coarse, given) for coarse, fine in pairwise(water))


def off_steps(run_with: Callable[[float], Wetting], gives_l: float, time: int, tolerances: tuple[float, ...]) -> Found:
    """What differs from a tolerance to a quarter of it; sizes are the mean step in parts of the run."""
    runs = [run_with(tolerance) for tolerance in tolerances]
    volume, given = runs[0].grid.volume_cm3, gives_l * runs[0].grid.cm3_per_l
    off = (elsewhere_pct((a.theta[time] - b.theta[time]) * volume, given) for a, b in pairwise(runs))
    return tuple(1.0 / run.steps for run in runs), tuple(off)


def off_edges(shape: Shape) -> float:
    """How far a page's cells have the wet edge from where the finest have it, at the end of a run and 11 h later, where it is widest and under the source. [cm]"""
    page, fine = (extents(drip(shape, "loam", STANDS, cell, TIGHT[0]), 30.0) for cell in (PAGE_CM, CELLS[-1]))
    return worst((getattr(a, what), getattr(b, what)) for a, b in zip(page, fine, strict=True) for what in ("widest_cm", "depth_cm"))  # fmt: skip


PART = "% of the water"
_DISC: dict[Shape, str] = {"emitter": "disc", "line": "strip"}


def _smooth() -> list[Recipe]:
    made = [
        Recipe(f"even flux on a {disc}, {'at rest' if hours is None else f'after {hours:g} h'}", "cells", True, PART, 2.0, 1.8, SMOOTH_CELLS, partial(off_exact, shape, hours), long=1)
        for shape, disc in _DISC.items() for hours in (SMOOTH_H, None)
    ]  # fmt: skip
    made += [
        Recipe(f"even flux on a {disc}, heads at rest, {where}", "cells", True, "cm", theory, asked, SMOOTH_CELLS, partial(off_heads, shape, at_edge), long=1)
        for shape, disc in _DISC.items() for at_edge, where, theory, asked in ((False, "5 cm and more from its edge", 2.0, 1.8), (True, "at its edge", 1.0, 0.9))
    ]  # fmt: skip
    return [*made, Recipe("disc under water, flow at rest", "cells", False, "%", 1.0, 0.9, (*SMOOTH_CELLS, 0.3125), off_ponded, long=1)]  # fmt: skip


def _drips(how: str, theory: float, asked: float, of: tuple[tuple[Shape, str], ...]) -> list[Recipe]:
    return [
        Recipe(f"{shape} on {soil}, {how}, {when}", "cells", False, PART, theory, asked, CELLS if (soil, how) in (("loam", STANDS), ("loam", FALLS)) else CELLS[:-1], partial(off_cells, shape, soil, how, time), PAGE_CM, int(how != GENTLY))
        for shape, soil in of for time, when in enumerate(("when it ends", "11 h later"))
    ]  # fmt: skip


def _steps() -> list[Recipe]:
    made = [
        Recipe(f"even flux on a {disc}, after {SMOOTH_H:g} h", "steps", False, PART, 1.0, 0.9, TOLERANCES,
               partial(off_steps, partial(smooth, shape, 1.25, SMOOTH_H), SMOOTH_FLOW[shape] * SMOOTH_H, 0), TOLERANCE)
        for shape, disc in _DISC.items()
    ]  # fmt: skip
    return made + [
        Recipe(f"{shape} on loam, {STANDS}, {when}", "steps", False, PART, 1.0, 0.9, TOLERANCES,
               partial(off_steps, partial(drip, shape, "loam", STANDS, PAGE_CM), given_l(shape, STANDS), time), TOLERANCE)
        for shape in _DISC for time, when in enumerate(("when it ends", "11 h later"))
    ]  # fmt: skip


#: What is allowed is judged: a cell and a half.
EDGES = tuple(
    Case(f"{shape} on loam, water standing and spreading, wet edges in cells of {PAGE_CM:g} cm", f"cells of {CELLS[-1]:g} cm", 3.0, "cm", partial(off_edges, shape))
    for shape in _DISC
)  # fmt: skip
#: Shapes and soils of the drip cases.
PLAIN: tuple[tuple[Shape, str], ...] = (("emitter", "loam"), ("line", "loam"))
BOTH: tuple[tuple[Shape, str], ...] = (*PLAIN, ("emitter", "loam of the second table"))
SMOOTHS, STANDING, EVEN, STEPS = "smooth", "standing", "even", "steps"


def recipes() -> dict[str, tuple[Recipe, ...]]:
    """All, as they stand on the page."""
    even = (*_drips(FALLS, 2.0, 1.3, BOTH), *_drips(GENTLY, 2.0, 1.8, PLAIN))
    return {SMOOTHS: tuple(_smooth()), STANDING: tuple(_drips(STANDS, 1.0, 0.9, BOTH)), EVEN: even, STEPS: tuple(_steps())}  # fmt: skip


def keep_orders() -> None:
    """Run all, and keep what was found."""
    keep(NAME, {group: [one.study() for one in some] for group, some in recipes().items()})


def kept_orders() -> dict[str, tuple[Study, ...]]:
    """What was kept."""
    return kept(NAME, Study)
