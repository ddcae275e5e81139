"""What a run of the wetting solver is made of: layers of soil, cells, a source, roots; and what comes out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from soakbook.errors import InputError
from soakbook.physics.wetting.curves import Soil

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Shape = Literal["emitter", "line"]
Bottom = Literal["drains", "closed", "head"]


@dataclass(frozen=True)
class Layer:
    """Soil down to a depth; the last may go on for ever. [cm]"""

    soil: Soil
    thickness_cm: float = np.inf


@dataclass(frozen=True)
class Grid:
    """Edges of cells outwards and downwards from the source, and whether they are rings around an emitter or strips beside a line. [cm]"""

    shape: Shape
    out_cm: FloatArray
    down_cm: FloatArray

    def __post_init__(self) -> None:
        for name, edges in (("out_cm", self.out_cm), ("down_cm", self.down_cm)):
            if len(edges) < 2 or edges[0] != 0.0 or np.any(np.diff(edges) <= 0.0):
                raise InputError(
                    f"{name} must begin with 0 and rise, with two edges or more.", code="grid.edges", field=name
                )  # fmt: skip

    @property
    def rings(self) -> int:
        """Cells outwards."""
        return len(self.out_cm) - 1

    @property
    def rows(self) -> int:
        """Cells downwards."""
        return len(self.down_cm) - 1

    @cached_property
    def out(self) -> FloatArray:
        """Middles of cells outwards. [cm]"""
        return np.asarray(0.5 * (self.out_cm[1:] + self.out_cm[:-1]))

    @cached_property
    def down(self) -> FloatArray:
        """Middles of cells downwards. [cm]"""
        return np.asarray(0.5 * (self.down_cm[1:] + self.down_cm[:-1]))

    @cached_property
    def area_cm2(self) -> FloatArray:
        """Ground that each ring covers; of a line, both strips of 1 cm of its length. (rings,)"""
        e = self.out_cm
        return np.asarray(np.pi * np.diff(e**2) if self.shape == "emitter" else 2.0 * np.diff(e))

    @property
    def cm3_per_l(self) -> float:
        """Of a litre; of a line, of a litre per metre over the 1 cm of it that is solved."""
        return 1000.0 if self.shape == "emitter" else 10.0

    @cached_property
    def volume_cm3(self) -> FloatArray:
        """Soil in each cell, (rows, rings)."""
        return np.asarray(np.diff(self.down_cm)[:, None] * self.area_cm2)

    @cached_property
    def side_cm2(self) -> FloatArray:
        """Outer face of each cell, (rows, rings)."""
        around = 2.0 * np.pi * self.out_cm[1:] if self.shape == "emitter" else np.full(self.rings, 2.0)
        return np.asarray(np.diff(self.down_cm)[:, None] * around)


def soil_of_rows(layers: Sequence[Layer], grid: Grid) -> IntArray:
    """Which layer each row lies in, by its middle; the last reaches on down."""
    bottoms = np.cumsum([layer.thickness_cm for layer in layers[:-1]])
    return np.searchsorted(bottoms, grid.down, side="right").astype(np.int64)


def even_grid(shape: Shape, cell_cm: float, out_cm: float, down_cm: float) -> Grid:
    """Cells of one size."""
    return Grid(shape, *(np.linspace(0.0, far, max(2, round(far / cell_cm)) + 1) for far in (out_cm, down_cm)))


@dataclass(frozen=True)
class Roots:
    """Roots that draw ``uptake_lph`` where they find water: their density falls straight to nothing at ``depth_cm`` and ``out_cm``. ``limits_cm``: heads at which
    they begin to draw from too wet a soil, draw in full, begin to draw less from a dry one, and cease (R. A. Feddes, P. J. Kowalik, H. Zaradny,
    Simulation of field water use and crop yield, 1978; figures for vegetables from memory)."""

    uptake_lph: float
    depth_cm: float
    out_cm: float
    limits_cm: tuple[float, float, float, float] = (-10.0, -25.0, -500.0, -8000.0)


@dataclass(frozen=True)
class Source:
    """Where water comes from: ``flow_lph`` while it runs; ``runs_h`` are (from, until), at the start or in pulses. On the surface at depth 0. ``most_cm`` bounds the
    disc or strip that it may spread over (a bed's edge: the rest runs off). ``evenly_cm`` has it fall evenly over a disc of that radius instead, whatever the soil
    takes; ``ponded`` keeps that disc under water. ``holds_cm`` is how deep water stands on all the ground
    within ``most_cm``, as in a level basin, before it runs off; so thin that it presses no water in."""

    flow_lph: float
    runs_h: tuple[tuple[float, float], ...]
    depth_cm: float = 0.0
    most_cm: float = np.inf
    evenly_cm: float = 0.0
    ponded: bool = False
    holds_cm: float = 0.0


@dataclass(frozen=True)
class Wetting:
    """A run. ``times_h`` (T,), ``theta`` (T, rows, rings) water contents, ``head_cm`` likewise; ``wet_out_cm`` (T,) how far the water stands on
    the surface. Volumes so far, (T,) each: ``taken_l``, ``ran_off_l``, ``below_l``, ``drawn_l``; ``stood_l`` (T,) is what
    stands on the ground then. For a line all are per metre. ``balance_error`` is what does not
    add up, as a part of what was given."""

    grid: Grid
    layers: tuple[Layer, ...]
    times_h: FloatArray
    first_theta: FloatArray
    theta: FloatArray
    head_cm: FloatArray
    wet_out_cm: FloatArray
    taken_l: FloatArray
    ran_off_l: FloatArray
    below_l: FloatArray
    drawn_l: FloatArray
    stood_l: FloatArray
    balance_error: float
    steps: int
    iterations: int

    def added_l(self) -> FloatArray:
        """What each cell has gained since the start, (T, rows, rings). [L]"""
        return np.asarray((self.theta - self.first_theta) * self.grid.volume_cm3 / self.grid.cm3_per_l)
