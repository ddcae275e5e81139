"""Layered soil, roots, buried lines and neighbours against solutions found another way, and a small case by two general libraries: what the solver is off by.

* Flow at rest down through layers and past roots: Darcy's law (E. Buckingham, 1907) dh/dz = 1 - q(z) / K(h), integrated by scipy from the bottom up.
* A buried line in a Gardner soil: phi = q / (2 pi) exp(alpha z / 2) K0(alpha R / 2) (J. R. Philip, Water Resour. Res. 4:1039, 1968; A. W. Warrick and others, from memory).
* Emitters on a square, or in one row: the surface point of P. A. C. Raats, Soil Sci. Soc. Am. Proc. 35:689, 1971, added up over all of them, since the Kirchhoff
  potential of a Gardner soil adds. No water crosses the middle between them, as if each had its image there.
* scipy's BDF (``tests/bdf_peer.py``) and FiPy (``tests/fipy_peer.py``) on the same cells.

What is allowed is judged: a part of a cell.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.special import exp1, k0

from soakbook.physics.wetting.curves import Gardner, VanGenuchten
from soakbook.physics.wetting.extent import edge_cm
from soakbook.physics.wetting.ground import Grid, Layer, Roots, Source, Wetting, even_grid
from soakbook.physics.wetting.soils import class_soils
from soakbook.physics.wetting.solve import wet
from tests.bdf_peer import run_bdf
from tests.fipy_peer import run_fipy
from tests.measured.delivery_check import Case, worst

FloatArray = NDArray[np.float64]
Soil = tuple[float, ...]
LOAM = (0.078, 0.43, 0.036, 1.56, 1.04)
SAND = (0.045, 0.43, 0.145, 2.68, 29.7)
DEEP_CM, BORDER_CM, RAIN = 120.0, 40.0, 0.2


def mualem(soil: Soil, head: float) -> float:
    """Conductivity by its formula, apart from the solver's own. [cm/h]"""
    _, _, alpha, n, ks = soil
    m = 1.0 - 1.0 / n
    se = (1.0 + (alpha * -min(head, 0.0)) ** n) ** -m
    return float(ks * se**0.5 * (1.0 - (1.0 - se ** (1.0 / m)) ** m) ** 2)


def darcy(soils: tuple[Soil, Soil], flux: Callable[[float], float], bottom_head: float) -> Callable[[FloatArray], FloatArray]:  # fmt: skip
    """Heads by depth of flow at rest, from the bottom up through both layers."""

    def slope(z: float, h: FloatArray) -> list[float]:
        soil = soils[0] if z < BORDER_CM else soils[-1]
        return [1.0 - flux(z) / mualem(soil, float(h[0]))]

    lower = solve_ivp(slope, (DEEP_CM, BORDER_CM), [bottom_head], rtol=1e-9, atol=1e-9, max_step=0.5, dense_output=True)
    upper = solve_ivp(slope, (BORDER_CM - 1e-9, 0.0), [lower.y[0, -1]], rtol=1e-9, atol=1e-9, max_step=0.5, dense_output=True)  # fmt: skip
    return lambda z: np.where(
        z < BORDER_CM, upper.sol(np.minimum(z, BORDER_CM))[0], lower.sol(np.maximum(z, BORDER_CM))[0]
    )


#: Roots that find water: what they want of the rain, how deep they go, and where they draw in full.
WANTS, ROOTS_CM = 0.12, 50.0
ROOTS = Roots(WANTS / 10.0, ROOTS_CM, 1e9, limits_cm=(-1.0, -2.0, -500.0, -8000.0))


@cache
def column(soils: tuple[Soil, Soil], bottom_head: float, *, has_roots: bool = False) -> Wetting:
    """1 cm² of ground, cells of 0.5 cm, until it rests."""
    grid = Grid("line", np.array([0.0, 0.5]), np.linspace(0.0, DEEP_CM, 241))
    layers = [
        Layer(VanGenuchten(*soils[0], air_entry_cm=0.0), BORDER_CM),
        Layer(VanGenuchten(*soils[-1], air_entry_cm=0.0)),
    ]
    return wet(
        layers, grid, Source(0.0, ()), [4000.0, 8000.0], first_head_cm=-60.0, rain_cm_h=RAIN, bottom="head", bottom_head_cm=bottom_head, roots=ROOTS if has_roots else None,
    )  # fmt: skip


def past_roots(z: float) -> float:
    """What of the rain is left at a depth: the density of the roots falls straight to nothing. [cm/h]"""
    part = min(z, ROOTS_CM) / ROOTS_CM
    return RAIN - WANTS * (2.0 * part - part**2)


def off_layers(soils: tuple[Soil, Soil]) -> float:
    """Fine soil on coarse stays wet above the border, coarse on fine is held up: heads as Darcy's law has them in both. [cm]"""
    run = column(soils, -20.0)
    return float(np.abs(run.head_cm[-1, :, 0] - darcy(soils, lambda _: RAIN, -20.0)(run.grid.down)).max())


def off_roots() -> float:
    """Below roots that find water the rest of the rain goes on down, at the heads that Darcy's law has for it. [cm]"""
    run = column((LOAM, LOAM), -40.0, has_roots=True)
    exact = darcy((LOAM, LOAM), past_roots, -40.0)(run.grid.down)
    assert -500.0 < float(exact.min()) < float(exact.max()) < -2.0  # neither too dry nor too wet for them
    return float(np.abs(run.head_cm[-1, :, 0] - exact).max())


GARDNER = Gardner(0.078, 0.43, 0.05, 1.04)


def growing(cell: float, even_to: float, far: float) -> FloatArray:
    """Edges of cells that are even at first and then grow, to 6 cm at most."""
    edges = list(np.arange(0.0, even_to + 1e-9, cell))
    while edges[-1] < far:
        edges.append(edges[-1] + min((edges[-1] - edges[-2]) * 1.1, 6.0))
    return np.array(edges)


def head_of(phi: float | FloatArray) -> FloatArray:
    """Head of a Kirchhoff potential."""
    return np.asarray(np.log(GARDNER.alpha_per_cm * np.asarray(phi) / GARDNER.ks_cm_h) / GARDNER.alpha_per_cm)


def off_line() -> float:
    """A line 150 cm down from a surface that takes what keeps the soil at -100 cm; heads at rest beside, above and below it. [cm]"""
    above, below = growing(1.0, 30.0, 150.0), growing(1.0, 50.0, 200.0)
    down = np.concatenate([-above[::-1], below[1:]]) + above[-1]
    grid = Grid("line", growing(1.0, 40.0, 260.0), down)
    at, rest, q = float(above[-1]) + 0.5, float(GARDNER.conductivity_cm_h(-100.0)), 15.0
    source = Source(q / 10.0, ((0.0, 1e9),), depth_cm=at)
    run = wet([Layer(GARDNER)], grid, source, [3000.0], first_head_cm=-100.0, rain_cm_h=rest, tolerance=0.002)
    pairs = []
    for z, ring_at in product((-10.5, -5.5, 6.5, 10.5, 20.5, 40.5), (0, 5, 10, 20)):
        row = int(np.argmin(np.abs(grid.down - (at + z))))
        x, deep = float(grid.out[ring_at]), float(grid.down[row]) - at
        half = 0.5 * GARDNER.alpha_per_cm
        phi = q / (2.0 * np.pi) * np.exp(half * deep) * k0(half * np.hypot(x, deep)) + rest / GARDNER.alpha_per_cm
        pairs.append((float(run.head_cm[0, row, ring_at]), float(head_of(phi))))
    return worst(pairs)


def raats(rho: FloatArray, z: float, q: float) -> FloatArray:
    """Kirchhoff potential of a surface point."""
    a, far = GARDNER.alpha_per_cm, np.hypot(rho, z)
    return np.asarray(
        q / (2.0 * np.pi) * (np.exp(0.5 * a * (z - far)) / far - 0.5 * a * np.exp(a * z) * exp1(0.5 * a * (z + far)))
    )


APART_CM, FLOW = 40.0, 400.0
#: Radius of a ring that holds as much ground as the square of an emitter.
OF_THE_AREA_CM = APART_CM / np.sqrt(np.pi)


def many(x: float, y: float, z: float, rows: int) -> float:
    """Head under emitters 40 cm apart, so many rows of them on either side of the middle one."""
    places = np.array(list(product(range(-25, 26), range(-rows, rows + 1)))) * APART_CM
    return float(head_of(raats(np.hypot(places[:, 0] - x, places[:, 1] - y), z, FLOW).sum()))


@cache
def ring(radius: float) -> Wetting:
    """An emitter in a ring that no water leaves to the sides."""
    size = radius / round(radius)
    grid = Grid("emitter", np.arange(round(radius) + 1) * size, growing(1.0, 60.0, 200.0))
    source = Source(FLOW / 1000.0, ((0.0, 1e9),), evenly_cm=size)
    return wet([Layer(GARDNER)], grid, source, [2000.0], first_head_cm=-40.0, tolerance=0.004)


def around(x: float, z: float, rows: int) -> float:
    """Mean head at a distance from the middle emitter; the directions of an eighth of the circle stand for all."""
    return float(np.mean([many(x * np.cos(f), x * np.sin(f), z, rows) for f in np.linspace(0.0, np.pi / 4.0, 5)]))


def off_ring(radius: float, rows: int) -> float:
    """Largest miss of a ring beneath and between emitters, from 5 to 100 cm down. [cm of head]"""
    run, pairs = ring(radius), []
    for z, ring_at in product((5.0, 10.0, 20.0, 100.0), (4, 10, ring(radius).grid.rings - 1)):
        row = int(np.argmin(np.abs(run.grid.down - z)))
        exact = around(float(run.grid.out[ring_at]), float(run.grid.down[row]), rows)
        pairs.append((float(run.head_cm[0, row, ring_at]), exact))
    return worst(pairs)


#: Libraries are given few cells and a quarter of an hour, so that FiPy ends within seconds: 2 L/h evenly on a disc.
SMALL, SMALL_H, SMALL_DISC_CM, SMALL_HEAD_CM = even_grid("emitter", 2.0, 20.0, 20.0), 0.25, 14.0, -500.0
SANDY_LOAM = class_soils("sandy_loam")[0]
WAYS: dict[str, Callable[[], FloatArray]] = {
    "ours": lambda: wet([Layer(SANDY_LOAM)], SMALL, Source(2.0, ((0.0, SMALL_H),), evenly_cm=SMALL_DISC_CM), [SMALL_H], first_head_cm=SMALL_HEAD_CM, bottom="closed").theta[0],
    "BDF": lambda: run_bdf(SANDY_LOAM, SMALL, SMALL_H, SMALL_DISC_CM),
    "FiPy": lambda: run_fipy(SANDY_LOAM, SMALL, 2.0, SMALL_DISC_CM, SMALL_H, SMALL_H, SMALL_HEAD_CM),
}  # fmt: skip


def apart(theta: FloatArray, ours: FloatArray) -> float:
    """How far wet edges are apart, at the surface and below. [cm]"""
    risen, mine = theta - ours[-1, -1], ours - ours[-1, -1]
    return worst(
        [
            (edge_cm(SMALL.out, risen[0]), edge_cm(SMALL.out, mine[0])),
            (edge_cm(SMALL.down, risen.max(axis=1)), edge_cm(SMALL.down, mine.max(axis=1))),
        ]
    )


def _off_way(name: str) -> float:
    return apart(WAYS[name](), WAYS["ours"]())


def _peer(name: str, source: str) -> Case:
    return Case(f"a quarter of an hour on sandy loam, wet edges, by {name}", source, 1.5, "cm", partial(_off_way, name))


PEERS = {
    "BDF": _peer("BDF", "method of lines, scipy's BDF"),
    "FiPy": _peer("FiPy", "finite volumes, modified Picard iteration"),
}
DARCY = "Darcy's law"
SOILS = (
    Case("loam on sand, heads at rest", DARCY, 0.3, "cm", partial(off_layers, (LOAM, SAND))),
    Case("sand on loam, heads at rest", DARCY, 0.3, "cm", partial(off_layers, (SAND, LOAM))),
    Case("roots that draw, heads at rest", DARCY, 0.3, "cm", off_roots),
    Case("buried line, heads at rest", "exact, Philip 1968", 0.5, "cm", off_line),
    Case("emitters on a square, 40 cm apart, heads at rest", "exact, Raats 1971, added up", 0.5, "cm", partial(off_ring, OF_THE_AREA_CM, 25)),
)  # fmt: skip
