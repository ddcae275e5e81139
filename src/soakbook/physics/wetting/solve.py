"""Where the water of an emitter, a drip line or a soaker goes: Richards' equation around it, solved.

The soil may be layered, the source may lie on the surface, where it spreads over a disc (or strip) as large as it must, or be buried; water may
come in pulses; roots may draw. Mixed form (M. A. Celia et al., Water Resour. Res. 26:1483-1496, 1990), so that water is neither made nor lost.

Lengths in cm, times in h, heads in cm (negative: suction), as soil physics has them; flows in L/h (of a line: L/h per metre).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from itertools import pairwise

import numpy as np

from soakbook.errors import InputError, SoakbookError
from soakbook.physics.wetting.curves import SPECIFIC_STORAGE_PER_CM, tables
from soakbook.physics.wetting.ground import (
    Bottom,
    FloatArray,
    Grid,
    IntArray,
    Layer,
    Roots,
    Source,
    Wetting,
    soil_of_rows,
)

#: Local error of water content that a step may have, and by how much a cell's water may fail to add up within one. [m³/m³]
TOLERANCE, EXACT = 0.005, 1e-5
#: First step after a change of the supply. [h]
FIRST_STEP_H = 1e-3
#: Soil counts as at rest around the water where no more than this would flow through it meanwhile. [cm]
AT_REST_CM = 0.002
#: Part of the water given by which it may fail to add up.
BALANCE = 1e-6
#: Rows and rings that the water starts with.
_FIRST_BOX = 10
_BOTTOMS: dict[Bottom, int] = {"closed": 0, "drains": 1, "head": 2}
#: Supply of a disc kept under water.
_ENDLESS = 1e30


def wet(
    layers: Sequence[Layer], grid: Grid, source: Source, times_h: Sequence[float], *, first_head_cm: float | FloatArray, rain_cm_h: float = 0.0,
    roots: Roots | None = None, bottom: Bottom = "drains", bottom_head_cm: float = 0.0, surface_head_cm: float = 0.0, tolerance: float = TOLERANCE,
) -> Wetting:  # fmt: skip
    """Solve the wetting of soil around a source.

    Parameters
    ----------
    layers
        From the surface down.
    grid
        Cells; no water crosses the outermost edge (half the way to the next emitter).
    source
        What is put on.
    times_h
        When to look, rising; the run ends with the last.
    first_head_cm
        Head at the start, one or by row. [cm]
    rain_cm_h
        Water that falls evenly on all the surface.
    roots
        What draws.
    bottom
        ``drains`` by gravity alone, is ``closed``, or is held at ``bottom_head_cm``.
    surface_head_cm
        Head under which water stands where it stands.
    tolerance
        Local error of water content in a step. [m³/m³]

    Raises
    ------
    InputError
        A source or times that do not fit the grid.
    SoakbookError
        No step could be made, or the water does not add up to a part in a million: our bug, never to be shown as an answer.
    """
    ends = np.asarray(times_h, dtype=float)
    if not len(ends) or ends[0] <= 0.0 or np.any(np.diff(ends) <= 0.0):
        raise InputError("times must be above 0 and rise.", code="wetting.times", field="times_h")
    table = tables([layer.soil for layer in layers])
    soil = soil_of_rows(layers, grid)
    first = np.broadcast_to(np.asarray(first_head_cm, dtype=float), (grid.rows,))
    begin = {(s, h): float(table.u_at(int(s), h)) for s, h in set(zip(soil.tolist(), first.tolist(), strict=True))}
    u = np.repeat([begin[s, h] for s, h in zip(soil.tolist(), first.tolist(), strict=True)], grid.rings)
    box, is_boxed, stirs = _box(
        layers, grid, source, first, float(ends[-1]), roots, may=bottom != "head" and rain_cm_h == 0.0
    )
    flow, count, surface = np.zeros(5), np.zeros(5), np.zeros(grid.rings)
    first_theta, kept = _by_cell(table.theta_at, soil, u, grid), []
    allowed = 0.1 * BALANCE * _passes(source, roots, rain_cm_h, grid, float(ends[-1])) / float(ends[-1])
    pond = np.array([0.0, source.holds_cm * float(grid.area_cm2[: _within(source, grid)].sum())])
    sides = (grid.side_cm2 / np.append(np.diff(grid.out), np.inf)).ravel()  # no flow out of the last ring
    step, before = FIRST_STEP_H, False
    for begun, until in _stretches(source, ends):
        runs = any(a <= begun < b for a, b in source.runs_h)
        step, before = (step if runs == before else FIRST_STEP_H), runs
        fixed, supply, most = _given(source, grid, runs)
        fixed[: grid.rings] += rain_cm_h * grid.area_cm2
        step = _kernel()(
            until - begun, min(step, until - begun), tolerance,
            EXACT,
            allowed, grid.rings, soil, grid.volume_cm3.ravel(), sides,
            grid.area_cm2, np.concatenate([np.diff(grid.down), 0.5 * np.diff(grid.down_cm)[[-1, 0]]]),
            table.cubic, table.step, table.full, SPECIFIC_STORAGE_PER_CM, fixed, _shares(roots, grid), roots.uptake_lph * grid.cm3_per_l if roots else 0.0,
            np.array(roots.limits_cm if roots else (0.0, -1.0, -2.0, -3.0)), supply, most, np.array([surface_head_cm, bottom_head_cm]),
            _BOTTOMS[bottom], is_boxed,
            stirs,
            box, pond, u, surface, flow, count,
        )  # fmt: skip
        if count[4]:
            raise SoakbookError(
                f"the wetting of the soil could not be followed beyond {begun:.3g} h.", code="wetting.stuck",
                hint="This is a fault of the program; please report it with the soil and the flow.",
            )  # fmt: skip
        if until in ends:
            stands = grid.out_cm[1:][(surface > 0.0) & ((runs and supply > 0.0) or pond[0] > 0.0)].max(initial=0.0)
            kept.append(
                (
                    _by_cell(table.theta_at, soil, u, grid),
                    _by_cell(table.head_at, soil, u, grid),
                    stands,
                    pond[0] / grid.cm3_per_l,
                    flow / grid.cm3_per_l,
                )
            )
    theta, head, stands, stood, volume = (np.array(part) for part in zip(*kept, strict=True))
    error = _off(theta[-1] - first_theta, grid, volume[-1], _run_l(source, float(ends[-1])))
    return Wetting(
        grid, tuple(layers), ends, first_theta, theta, head, stands, volume[:, 0] + volume[:, 4], volume[:, 1], volume[:, 2], volume[:, 3], stood,
        error, int(count[0]), int(count[1]),
    )  # fmt: skip


def _passes(source: Source, roots: Roots | None, rain_cm_h: float, grid: Grid, hours: float) -> float:
    """Water that the source or rain gives or the roots want in so many hours; a litre where none is known. [cm³]"""
    litres = _run_l(source, hours) + (roots.uptake_lph * hours if roots else 0.0)
    rain = rain_cm_h * hours * float(grid.area_cm2.sum())
    return (litres * grid.cm3_per_l + rain) or grid.cm3_per_l


def _run_l(source: Source, hours: float) -> float:
    """Litres that the source gives within so many hours; of a line, per metre."""
    return source.flow_lph * sum(max(0.0, min(until, hours) - begun) for begun, until in source.runs_h)


def _off(gained: FloatArray, grid: Grid, volume: FloatArray, put_l: float) -> float:
    """What does not add up, as a part of what was given or passed."""
    taken, _, below, drawn, given = volume
    stored = float((gained * grid.volume_cm3).sum()) / grid.cm3_per_l
    off = abs(stored - float(taken + given - below - drawn))
    part = off / max(put_l, abs(float(taken + given)), abs(float(below)) + abs(float(drawn)), 1e-6)
    if not part <= BALANCE:
        raise SoakbookError(
            f"the water in the soil does not add up: off by {part:.2g} of what was given.", code="wetting.open",
            hint="This is a fault of the program; please report it with the soil and the flow.",
        )  # fmt: skip
    return part


def _by_cell(value: Callable[[int, FloatArray], FloatArray], soil: IntArray, u: FloatArray, grid: Grid) -> FloatArray:
    rows, out = u.reshape(grid.rows, grid.rings), np.empty((grid.rows, grid.rings))
    for which in np.unique(soil):
        out[soil == which] = value(int(which), rows[soil == which])
    return out


def _stretches(source: Source, ends: FloatArray) -> list[tuple[float, float]]:
    """Stretches of time between which the supply changes or somebody looks."""
    changes = {0.0, *ends.tolist(), *(t for run in source.runs_h for t in run if 0.0 < t < ends[-1])}
    cuts = sorted(changes)
    return list(pairwise(cuts))


def _given(source: Source, grid: Grid, runs: bool) -> tuple[FloatArray, float, int]:
    """What flows into each cell from outside, what is to be taken in at the surface, and over how many rings it may spread. [cm³/h]"""
    fixed = np.zeros(grid.rows * grid.rings)
    flow = source.flow_lph * grid.cm3_per_l if runs else 0.0
    if source.depth_cm > 0.0:
        row = int(np.searchsorted(grid.down_cm, source.depth_cm, side="right")) - 1
        if row >= grid.rows:
            raise InputError(
                f"the source lies below the cells ({source.depth_cm:g} cm, cells to {grid.down_cm[-1]:g} cm).",
                code="wetting.depth", field="depth_cm",
            )  # fmt: skip
        fixed[row * grid.rings] = flow
        return fixed, 0.0, _within(source, grid)  # what the soil cannot hold comes up and runs on over the ground
    if source.evenly_cm:
        inner, outer = (np.minimum(edges, source.evenly_cm) for edges in (grid.out_cm[:-1], grid.out_cm[1:]))
        share = outer**2 - inner**2 if grid.shape == "emitter" else outer - inner
        if source.ponded:
            rings = int(np.sum(grid.out_cm[1:] <= source.evenly_cm + 1e-9))
            return fixed, _ENDLESS if runs else 0.0, rings
        fixed[: grid.rings] = flow * share / share.sum()
        return fixed, 0.0, 0
    return fixed, flow, _within(source, grid)


def _within(source: Source, grid: Grid) -> int:
    """Rings that water may spread over."""
    return int(np.sum(grid.out_cm[:-1] < source.most_cm))


def _shares(roots: Roots | None, grid: Grid) -> FloatArray:
    """Share of the uptake by cell; all 0 without roots."""
    if roots is None:
        return np.zeros(grid.rows * grid.rings)
    down = np.maximum(0.0, 1.0 - grid.down / roots.depth_cm)[:, None]
    weight = down * np.maximum(0.0, 1.0 - grid.out / roots.out_cm) * grid.volume_cm3
    return np.asarray((weight / weight.sum()).ravel())


def _box(
    layers: Sequence[Layer],
    grid: Grid,
    source: Source,
    first: FloatArray,
    hours: float,
    roots: Roots | None,
    *,
    may: bool,
) -> tuple[IntArray, bool, float]:
    """Rows and rings to begin with, whether the soil around them is at rest, and by how much its water content may move all the same."""
    passes = max(float(layer.soil.conductivity_cm_h(first.max())) for layer in layers) * hours
    deep, far = (roots.depth_cm, roots.out_cm) if roots else (0.0, 0.0)
    rows, rings = (int(np.searchsorted(edges, at, side="right")) + _FIRST_BOX for edges, at in (
        (grid.down_cm, max(source.depth_cm, deep)), (grid.out_cm, max(source.evenly_cm, far)),
    ))  # fmt: skip
    is_even = bool(np.all(first == first[0]))
    return (
        np.array([min(grid.rows, rows), min(grid.rings, rings)]),
        may and is_even and passes <= AT_REST_CM,
        1e-5 + 2.0 * passes / float(np.diff(grid.down_cm).min()),
    )


@cache
def _kernel() -> Callable[..., float]:
    from soakbook.physics.wetting import _kernel as compiled

    run: Callable[..., float] = compiled.run
    return run


def warm_up() -> None:
    """Wet a few cells, so that the kernel is compiled and its cache written."""
    from soakbook.physics.wetting.curves import VanGenuchten
    from soakbook.physics.wetting.ground import even_grid

    soil = VanGenuchten(0.08, 0.43, 0.04, 1.6, 1.0)
    wet([Layer(soil)], even_grid("emitter", 2.0, 8.0, 8.0), Source(0.01, ((0.0, 0.1),)), [0.1], first_head_cm=-100.0)
