"""Drip on soil by finite volumes in plain numpy: a peer of our own solver that shows what one choice in it does to a wet edge.

The choice is the conductivity between two cells: the arithmetic mean, which is the usual one, or the mean over head (Kirchhoff), which is ours. All else is
as it is mostly written: head as the unknown, backward Euler, the mixed form by modified Picard iteration (M. A. Celia et al., Water Resour. Res. 26:1483-1496,
1990), steps that grow while iterations are few. Nothing of ``soakbook.physics.wetting.solve`` or its tables is used.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import solveh_banded

from soakbook.physics.wetting.curves import VanGenuchten

FloatArray = NDArray[np.float64]
Mean = Literal["arithmetic", "over head"]

#: Iterations end where no head changes by more than this and no cell's water is off by more than that; most of them. [cm, m³/m³]
ENDS_CM, ENDS, MOST = 0.5, 1e-3, 30
#: Iterations below which the next step may be longer, and above which it must be shorter; first and longest step. [h]
FEW, MANY, FIRST_H, LONGEST_H = 8, 15, 1e-4, 0.1


@dataclass(frozen=True)
class FullAtEntry(VanGenuchten):
    """Full, and conducting in full, from the air entry on: both curves are drawn out so that they reach it (T. Vogel and M. Císlerová, Transp. Porous
    Media 3:1-15, 1988, from memory), where ours leave Mualem's curve only between it and head 0. With an air entry of 0 both are the plain curves."""

    def saturation(self, head_cm: ArrayLike) -> FloatArray:
        """Water content as a part of the way from dry to full."""
        return np.minimum(super().saturation(head_cm) / super().saturation(-self.air_entry_cm), 1.0)

    def conductivity_cm_h(self, head_cm: ArrayLike) -> FloatArray:
        """Hydraulic conductivity. [cm/h]"""
        drawn_out = self.ks_cm_h / self._mualem(np.array(-self.air_entry_cm))
        return np.minimum(self._mualem(np.asarray(head_cm, dtype=float)) * drawn_out, self.ks_cm_h)

    def slope(self, head_cm: FloatArray) -> FloatArray:
        """Of water content over head. [1/cm]"""
        dry, m = np.maximum(-head_cm, 1e-9), 1.0 - 1.0 / self.n
        x = (self.alpha_per_cm * dry) ** self.n
        whole = (self.theta_s - self.theta_r) / super().saturation(-self.air_entry_cm)
        slope = whole * m * self.n * x / dry * (1.0 + x) ** (-m - 1.0)
        return np.asarray(np.where(head_cm < -self.air_entry_cm, slope, 0.0))

    def integral(self) -> Callable[[FloatArray], FloatArray]:
        """Of conductivity over head, from the dry end, by trapezes. [cm²/h]"""
        head = -np.concatenate([[0.0], np.geomspace(1e-4, 1e5, 60_001)])[::-1]
        k = self.conductivity_cm_h(head)
        whole = np.concatenate([[0.0], np.cumsum(0.5 * (k[1:] + k[:-1]) * np.diff(head))])
        return lambda at: np.interp(at, head, whole) + self.ks_cm_h * np.maximum(at, 0.0)


@dataclass(frozen=True)
class _Cells:
    """Rings of one size and rows as thick: their volumes, and areas of faces over distances, outwards and down."""

    size_cm: float
    volume: FloatArray
    side: FloatArray
    down: FloatArray


def risen(
    soil: FullAtEntry, cell_cm: float, rings: int, rows: int, flow_lph: float, disc_cm: float, hours: float, head_cm: float, mean: Mean = "arithmetic",
) -> FloatArray:  # fmt: skip
    """By how much the water content (rows, rings) has risen after ``hours`` of a flow spread evenly over a disc; no water crosses the bottom or the outermost edge."""
    edges = np.arange(rings + 1) * cell_cm
    area = np.pi * np.diff(edges**2)
    cells = _Cells(cell_cm, area * cell_cm, 2.0 * np.pi * edges[1:-1], area / cell_cm)
    between, given = _between(soil, mean), np.zeros((rows, rings))
    given[0] = 1000.0 * flow_lph * np.diff(np.minimum(edges, disc_cm) ** 2) / disc_cm**2
    head = np.full((rows, rings), head_cm)
    first, t, step = _water(soil, head), 0.0, FIRST_H
    while t < hours - 1e-12:
        step = min(step, hours - t)
        new, took = _step(soil, cells, head, step, given, between)
        if new is None:
            step *= 0.3
            assert step > 1e-10
            continue
        head, t = new, t + step
        step = min(LONGEST_H, step * (1.5 if took < FEW else 0.7 if took > MANY else 1.0))
    return _water(soil, head) - first


def _water(soil: VanGenuchten, head: FloatArray) -> FloatArray:
    return soil.theta_r + (soil.theta_s - soil.theta_r) * soil.saturation(head)


def _between(soil: FullAtEntry, mean: Mean) -> Callable[[FloatArray, FloatArray, FloatArray, FloatArray], FloatArray]:
    """Conductivity between cells by heads and conductivities on both sides. [cm/h]"""
    upto = soil.integral()

    def over_head(one: FloatArray, other: FloatArray, k_one: FloatArray, k_other: FloatArray) -> FloatArray:
        differs = np.abs(one - other) > 1e-3
        return np.where(
            differs, (upto(one) - upto(other)) / np.where(differs, one - other, 1.0), 0.5 * (k_one + k_other)
        )

    return over_head if mean == "over head" else lambda one, other, k_one, k_other: 0.5 * (k_one + k_other)


def _step(
    soil: FullAtEntry, cells: _Cells, head: FloatArray, step: float, given: FloatArray,
    between: Callable[[FloatArray, FloatArray, FloatArray, FloatArray], FloatArray],
) -> tuple[FloatArray | None, int]:  # fmt: skip
    """Heads after a step and the iterations it took; none where they do not end."""
    rings, was = head.shape[1], _water(soil, head)
    for tried in range(1, MOST + 1):
        k = soil.conductivity_cm_h(head)
        side = cells.side * between(head[:, :-1], head[:, 1:], k[:, :-1], k[:, 1:])
        down = cells.down * between(head[:-1], head[1:], k[:-1], k[1:])
        out, fall = side * (head[:, :-1] - head[:, 1:]), down * (head[:-1] - head[1:] + cells.size_cm)
        off = cells.volume * (_water(soil, head) - was) / step - given
        own = cells.volume * (soil.slope(head) + 1e-9) / step
        for off_, own_, flow, lets in ((off.T, own.T, out.T, side.T), (off, own, fall, down)):
            off_[:-1] += flow
            off_[1:] -= flow
            own_[:-1] += lets
            own_[1:] += lets
        bands = np.zeros((rings + 1, head.size))
        bands[0], bands[rings, :-rings] = own.ravel(), -down.ravel()
        bands[1] = np.pad(-side, ((0, 0), (0, 1))).ravel()
        change = solveh_banded(bands, -off.ravel(), lower=True, check_finite=False).reshape(head.shape)
        if not np.abs(change).max() < 1e6:
            break
        head = head + change
        if np.abs(change).max() < ENDS_CM and np.abs(off).max() * step < ENDS * cells.volume.min():
            return head, tried
    return None, MOST
