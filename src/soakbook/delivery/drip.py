"""What an emitter or a drip line does to the soil: how wide and deep after how long, how long to run, how far apart, what pulses change.

Each answer is computed for the soil as two tables of texture classes have it, and given from the one to the other: soils of one name differ that much.
A wet circle and a hole dug beside it say more than the name (:func:`fitted`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import inf

import numpy as np

from soakbook.errors import InputError
from soakbook.physics.wetting.curves import VanGenuchten
from soakbook.physics.wetting.extent import Extent, edge_cm, extents, seen
from soakbook.physics.wetting.ground import FloatArray, Grid, Layer, Roots, Shape, Source, Wetting
from soakbook.physics.wetting.solve import wet
from soakbook.said import Measure, say

#: Cells, and how far they reach without a neighbour or a hard bottom. [cm]
CELL_CM, OUT_CM, DOWN_CM = 2.0, 90.0, 130.0
#: Suction of soil that is due for water, about half used up, and of soil a day or two after rain. Judged. [cm]
DUE_CM, MOIST_CM = -800.0, -330.0
#: Of the water given, what soil may lose by itself before that is told apart from it; less than is worth a sentence. Judged.
DRAINS_PART = 0.02
#: Soil is nearly full where it can take no more than this. Judged: three times a rise that is seen. [m³/m³]
NEARLY_FULL = 0.06
#: How deep water stands on a bed with an edge before it runs over it: ground raked level holds some millimetres. Judged. [cm]
HOLDS_CM = 0.5
#: Emitters no farther apart than this part of the wetted width make a strip (common practice).
OVERLAP = 0.8
#: When one looks again after the water is off: what goes on sinking has mostly sunk. [h]
NEXT_DAY_H = 24.0
#: Longest run that is looked for. [h]
LONGEST_H = 12.0
#: More than the plants of one emitter or metre of line draw in a day: a grown fruit tree draws some 100 L (common practice). [L]
MOST_DRAWN_L = 200.0
#: How deep roots may go, so that what sinks below them is still seen. [m]
ROOTED_M = (0.05, 1.2)
#: What may be asked: from one source to the next, from it to the bed's edge, how deep it lies. Judged. [m]
APART_M, EDGE_M, BURIED_M = (0.1, 3.0), (0.02, 3.0), (0.0, 1.0)


@dataclass(frozen=True)
class Case:
    """What is run: ``layers`` of soil, an ``emitter`` [L/h] or a joined ``line`` [L/h per metre], buried or not; ``apart_m`` from the next, ``edge_m`` to where
    water would run off a bed; how dry the soil is, how deep the roots go, and what the plants of one emitter, or of a metre of line, draw in a day [L]. They draw
    by day and night alike, and reach as far out as down, or half way to the neighbour (judged)."""

    layers: tuple[Layer, ...]
    flow_lph: float
    shape: Shape = "emitter"
    depth_m: float = 0.0
    apart_m: float | None = None
    edge_m: float | None = None
    first_head_cm: float = DUE_CM
    root_depth_m: float = 0.4
    draws_l_day: float = 0.0

    def __post_init__(self) -> None:
        if not 0.0 < self.flow_lph <= 100.0:
            raise InputError(
                say("The flow must be above 0 and at most 100 L/h (got {got:g}).", got=self.flow_lph), code="drip.flow", field="flow",
                hint=say("Give what one emitter, or one metre of line, lets out."),
            )  # fmt: skip
        if not 0.0 <= self.draws_l_day <= MOST_DRAWN_L:
            raise InputError(
                say("What plants draw in a day must be from 0 to {most:g} L (got {got:g}).", most=MOST_DRAWN_L, got=self.draws_l_day), code="drip.draws",
                field="draws", hint=say("Give it for the plants of one emitter, or of one metre of line."),
            )  # fmt: skip
        low, high = ROOTED_M
        if not low <= self.root_depth_m <= high:
            raise InputError(
                say("Roots must be from {low} to {high} deep (got {got}).", low=Measure(low, "length"), high=Measure(high, "length"), got=Measure(self.root_depth_m, "length")),
                code="drip.roots", field="roots",
            )  # fmt: skip


def follow(case: Case, hours: float, *, pulses: int = 1, looks_h: Sequence[float] = ()) -> tuple[Extent, ...]:
    """How the soil is wetted: at each look, at the end of the run, and a day after it began.

    Parameters
    ----------
    case
        What is run.
    hours
        For how long water runs in all. [h]
    pulses
        In how many equal goes, with as long a pause after each.
    looks_h
        Further times to look. [h]
    """
    if not 0.0 < hours <= 48.0:
        raise InputError(
            say("The run must be above 0 and at most 48 hours (got {got:g}).", got=hours),
            code="drip.hours",
            field="hours",
        )
    if not 1 <= pulses <= 24:
        raise InputError(
            say("The run must be in 1 to 24 goes (got {got}).", got=pulses), code="drip.pulses", field="pulses"
        )
    run, rest = _both(case, hours, pulses, looks_h)
    return extents(run, 100.0 * case.root_depth_m, rest)


def _both(
    case: Case, hours: float, pulses: int, looks_h: Sequence[float], *, next_day: bool = True
) -> tuple[Wetting, Wetting | None]:
    """A run; and the same soil without the water, where it drains by itself: what this water does is the difference."""
    run = _solve(case, hours, pulses, looks_h, next_day=next_day)
    if not _drains(case, hours, float(run.times_h[-1])):
        return run, None
    return run, _solve(case, hours, pulses, looks_h, next_day=next_day, is_watered=False)


def _drains(case: Case, hours: float, until_h: float) -> bool:
    """Whether soil loses so much by itself that shares of the water would be off by it: by gravity alone, at the conductivity it has to begin with."""
    if case.first_head_cm > DUE_CM:
        return True
    grid = grid_of(case)
    most_cm_h = max(float(layer.soil.conductivity_cm_h(case.first_head_cm)) for layer in case.layers)
    lost_l = most_cm_h * until_h * float(grid.area_cm2.sum()) / grid.cm3_per_l
    return lost_l > DRAINS_PART * case.flow_lph * hours


def _solve(
    case: Case, hours: float, pulses: int, looks_h: Sequence[float], *, next_day: bool = True, is_watered: bool = True
) -> Wetting:
    each = hours / pulses
    runs = tuple((2.0 * k * each, 2.0 * k * each + each) for k in range(pulses))
    off = runs[-1][1]
    grid = grid_of(case)
    source = Source(
        case.flow_lph,
        runs,
        100.0 * case.depth_m,
        most_cm=np.inf if case.edge_m is None else 100.0 * case.edge_m,
        holds_cm=0.0 if case.edge_m is None else HOLDS_CM,
    )
    if not is_watered:
        source = Source(case.flow_lph, runs, most_cm=0.0)  # all of it runs off at once
    later = {max(NEXT_DAY_H, off + 12.0)} if next_day else set()
    times = sorted({off, *later, *(t for t in looks_h if t > 0.0)})
    deep = 100.0 * case.root_depth_m
    roots = Roots(case.draws_l_day / 24.0, deep, min(deep, float(grid.out_cm[-1]))) if case.draws_l_day else None
    return wet(case.layers, grid, source, times, first_head_cm=case.first_head_cm, roots=roots)


def grid_of(case: Case) -> Grid:
    """Cells for a case. Lines end half way to the next; emitters are taken to stand on a square, each with a ring of as much ground as its square, which differs from
    the square by less than 0.5 cm of head (``tests/published/test_layers_roots_neighbours.py``)."""
    out = OUT_CM
    if case.apart_m is not None:
        out = 100.0 * case.apart_m / np.sqrt(np.pi) if case.shape == "emitter" else 50.0 * case.apart_m
    cell = min(CELL_CM, out / 4.0)
    return Grid(case.shape, _even(cell, 0.0, out), _down(case.layers, cell))


def is_nearly_full(case: Case) -> bool:
    """Whether some layer can take so little more before it is full that wet is hardly told from not."""
    return any(
        layer.soil.theta_s - _theta(layer, case.first_head_cm) < NEARLY_FULL for layer in case.layers
    )  # fmt: skip


def _theta(layer: Layer, head_cm: float) -> float:
    soil = layer.soil
    return soil.theta_r + (soil.theta_s - soil.theta_r) * float(soil.saturation(head_cm))


def _even(cell: float, begin: float, end: float) -> FloatArray:
    return np.linspace(begin, end, max(1, round((end - begin) / cell)) + 1)


def _down(layers: tuple[Layer, ...], cell: float) -> FloatArray:
    """Edges of rows, one at each border of layers."""
    borders = [d for d in np.cumsum([layer.thickness_cm for layer in layers[:-1]]) if d < DOWN_CM - cell]
    parts = [_even(cell, a, b)[1:] for a, b in pairwise([0.0, *borders, DOWN_CM])]
    return np.concatenate([[0.0], *parts])


@dataclass(frozen=True)
class Frame:
    """The wetted soil at one look: for what counts as wetted and each of :data:`SHADES` how far out it reaches by depth, (cm out, cm down) from the surface to its deepest; and how far
    water stands. [cm]"""

    hours: float
    edges: tuple[tuple[tuple[float, float], ...], ...]
    stands_cm: float


#: Rises of water content that are drawn within what counts as wetted. [m³/m³]
SHADES = (0.08, 0.16)


def frames(case: Case, hours: float, count: int = 10) -> tuple[Frame, ...]:
    """The soil at ``count`` looks while water runs, evenly apart, and the next day."""
    return filling(case, hours, count)[0]


def filling(
    case: Case, hours: float, count: int = 10, *, pulses: int = 1
) -> tuple[tuple[Frame, ...], tuple[Extent, ...]]:
    """As :func:`frames`, with what is seen at each look; in so many goes with as long a pause after each, looks lie evenly until the last is over."""
    off = (2 * pulses - 1) * hours / pulses
    run, rest = _both(case, hours, pulses, [off * (k + 1) / count for k in range(count - 1)])
    found, least = [], seen(run)[:, None]
    for k, at in enumerate(run.times_h):
        risen = run.theta[k] - (run.first_theta if rest is None else rest.theta[k])
        edges = (_outline(run.grid, risen / least, 1.0), *(_outline(run.grid, risen, shade) for shade in SHADES))
        found.append(Frame(float(at), edges, float(run.wet_out_cm[k])))
    return tuple(found), extents(run, 100.0 * case.root_depth_m, rest)


def _outline(grid: Grid, risen: FloatArray, shade: float) -> tuple[tuple[float, float], ...]:
    edges = [edge_cm(grid.out, row, shade, float(grid.out_cm[-1])) for row in risen]
    wet_rows = [k for k, edge in enumerate(edges) if edge > 0.0]
    if not wet_rows:
        return ()
    bottom = edge_cm(grid.down, risen.max(axis=1), shade, float(grid.down_cm[-1]))
    first = wet_rows[0]
    points = [(edges[first], float(grid.down_cm[first]))]
    points += [(edges[k], float(grid.down[k])) for k in wet_rows if grid.down[k] < bottom]
    return (*points, (0.0, max(bottom, points[-1][1])))


@lru_cache(maxsize=256)
def run_time_h(case: Case, depth_m: float, *, pulses: int = 1) -> float | None:
    """How long to run in all, in so many goes with as long a pause after each, so that the soil is wet to a depth by the day after; None where half a day of
    running does not do it. [h]

    Depth grows about as a power of time: each run is guessed from the one before, until one that does and one that does not lie within 3 %.
    """
    wanted, low, high, hours, power = 100.0 * depth_m, 0.0, inf, 1.0, 0.45
    before: tuple[float, float] | None = None
    while True:
        # In sand a small run has spread so thin by the next day that nothing is seen any more.
        deep = max(look.depth_cm for look in follow(case, hours, pulses=pulses))
        low, high = (low, hours) if deep >= wanted else (hours, high)
        if low >= LONGEST_H:
            return None
        if high - low <= max(0.05, 0.03 * high) and high < inf:
            return high
        if before is not None and before[0] != hours and before[1] > 0.0 < deep:
            power = float(np.clip(np.log(deep / before[1]) / np.log(hours / before[0]), 0.2, 1.5))
        before = hours, deep
        guess = hours * (wanted / max(deep, 1.0)) ** (1.0 / power) * (0.985 if deep >= wanted else 1.01)
        edge = 0.1 * (high - low)
        hours = (
            float(np.clip(guess, low + edge, high - edge)) if high < inf else min(max(guess, 1.2 * hours), LONGEST_H)
        )


def joins_at_m(extent: Extent) -> float:
    """How far apart emitters may stand for their wetted soil to join: four fifths of its width. [m]"""
    return OVERLAP * 2.0 * extent.widest_cm / 100.0


@dataclass(frozen=True)
class Fitted:
    """A soil made to fit what was seen: how many times as fast it takes water in, and how far it draws water sideways, against the table's; what it then
    would have wetted, and the misses left. [cm]"""

    soil: VanGenuchten
    faster: float
    farther: float
    circle_m: float
    depth_m: float
    missed_cm: float


#: How far a fit may go from the table's values, and what the two sizes seen are worth: read to about a finger's width. Judged. [cm]
MOST_TIMES, SEEN_TO_CM = 30.0, 1.5
#: Spread of the logarithms of intake and of draw among soils of one class. Judged after Carsel and Parrish 1988.
PRIOR_SD = (1.2, 0.7)


def fitted(case: Case, hours: float, circle_m: float, depth_m: float) -> Fitted:
    """Fit the top soil to a wet circle and a hole: two numbers say more than the name of a texture.

    ``circle_m`` is how wide the ground was wet when the water was turned off, ``depth_m`` how deep the wet reached under the emitter then. Intake (Ks) and draw
    (1 / alpha) are moved until both fit, held back by how far soils of a class differ (Gauss-Newton on logarithms).

    Raises
    ------
    InputError
        A circle or depth that no run of so much water can leave.
    """
    if not (0.02 <= circle_m <= 1.5 and 0.02 <= depth_m <= 1.2):
        raise InputError(
            say("The wet circle must be 2 cm to 1.5 m wide and the wet 2 cm to 1.2 m deep (got {width:g} and {depth:g} m).", width=circle_m, depth=depth_m),
            code="drip.seen", field="circle",
        )  # fmt: skip
    first = case.layers[0]
    if not isinstance(first.soil, VanGenuchten):
        raise InputError(say("Only a soil by its texture can be fitted."), code="drip.fit", field="soil")
    base = first.soil
    seen = np.array([50.0 * circle_m, 100.0 * depth_m])

    def soil_of(x: np.ndarray) -> VanGenuchten:
        return replace(
            base, ks_cm_h=base.ks_cm_h * float(np.exp(x[0])), alpha_per_cm=base.alpha_per_cm / float(np.exp(x[1]))
        )

    def found(x: np.ndarray) -> np.ndarray:
        made = replace(case, layers=(replace(first, soil=soil_of(x)), *case.layers[1:]))
        run, rest = _both(made, hours, 1, (), next_day=False)
        end = extents(run, 100.0 * case.root_depth_m, rest)[-1]
        return np.array([end.surface_cm, end.depth_cm])

    x, most, prior = np.zeros(2), np.log(MOST_TIMES), np.array(PRIOR_SD)
    for _ in range(6):
        now = found(x)
        slope = np.column_stack([(found(x + 0.2 * np.eye(2)[k]) - now) / 0.2 for k in range(2)])
        left = np.concatenate([(seen - now) / SEEN_TO_CM, -x / prior])
        step = np.linalg.lstsq(np.vstack([slope / SEEN_TO_CM, np.diag(1.0 / prior)]), left, rcond=None)[0]
        x = np.clip(x + np.clip(step, -1.0, 1.0), -most, most)
        if np.abs(step).max() < 0.03:
            break
    end = found(x)
    return Fitted(
        soil_of(x), float(np.exp(x[0])), float(np.exp(x[1])), 2.0 * float(end[0]) / 100.0, float(end[1]) / 100.0,
        float(np.abs(end - seen).max()),
    )  # fmt: skip
