"""Exact: water around a disc, or a strip, under even flux in a box of Gardner soil with closed sides whose bottom drains by gravity. The solver has the same box, so that
what it is off by is its own error, to the last cell.

Where conductivity and water content are both exponential in head, the Kirchhoff potential phi = K / alpha obeys a linear equation (W. R. Gardner, Soil Sci.
85:228-232, 1958; J. R. Philip, Aust. J. Soil Res. 6:249, 1968),

    (alpha / kappa) dphi/dt = del² phi - alpha dphi/dz,    kappa = Ks / (theta_s - theta_r),

solved here by modes outwards (Bessel's J0 or cosines, without slope at the wall), two exponentials downwards, and a Laplace transform in time, which is inverted on
Talbot's contour (J. Abate and P. P. Valkó, Int. J. Numer. Methods Eng. 60:979-993, 2004, from memory). Derived here; ``tests/published/test_wetting_orders.py`` holds
it against the table for an unbounded soil and against the equation.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import j0, j1, jn_zeros

from soakbook.physics.wetting.curves import Gardner
from soakbook.physics.wetting.ground import Shape

FloatArray = NDArray[np.float64]
#: Modes outwards and points on the contour: three times as many modes move no head of a cell's middle by more than 0.00001 cm, 32 points by less.
MODES, POINTS = 400, 24


def rises(
    shape: Shape, soil: Gardner, box_cm: tuple[float, float], half_cm: float, flux_cm_h: float, hours: float | None, out_cm: ArrayLike, down_cm: ArrayLike, modes: int = MODES
) -> FloatArray:  # fmt: skip
    """By how much phi has risen, (down, out): flux on the surface from the middle to ``half_cm``, in a box so wide and deep, after ``hours``, or at rest (None). [cm²/h]"""
    wide, deep = box_cm
    k, flux = _modes(shape, wide, half_cm, flux_cm_h, modes)
    across = (j0 if shape == "emitter" else np.cos)(np.outer(k, np.asarray(out_cm, dtype=float)))
    z, a = np.asarray(down_cm, dtype=float), soil.alpha_per_cm
    slow = a * (soil.theta_s - soil.theta_r) / soil.ks_cm_h

    def of(p: complex) -> NDArray[np.complex128]:
        """Of each mode, (modes, down), for a flux that stays on: its transform but for 1 / p."""
        s = np.sqrt(a * a / 4.0 + k**2 + slow * p)[:, None]
        up, away = a / 2.0 + s, a / 2.0 - s  # exponents: of what the bottom sends back, and of what goes down
        first = flux[:, None] / (up - away**2 / up * np.exp(-2.0 * s * deep))
        return np.asarray(first * (np.exp(away * z) - away / up * np.exp(up * z - 2.0 * s * deep)))

    if hours is None:
        return np.asarray(of(0.0j).real.T @ across)
    angle = np.pi * np.arange(1, POINTS) / POINTS
    cot = 1.0 / np.tan(angle)
    p = np.concatenate([[1.0 + 0.0j], angle * (cot + 1.0j)]) * 2.0 * POINTS / 5.0
    weight = np.concatenate([[0.5 + 0.0j], 1.0 + 1.0j * (angle + (angle * cot - 1.0) * cot)]) * np.exp(p)
    summed = sum((w * of(at / hours) * hours / at).real for w, at in zip(weight, p, strict=True))
    return np.asarray((2.0 / (5.0 * hours) * summed).T @ across)


def _modes(shape: Shape, wide: float, half: float, flux: float, count: int) -> tuple[FloatArray, FloatArray]:
    """Wave numbers, and the part of the flux that each mode has."""
    if shape == "emitter":
        zeros = jn_zeros(1, count)
        k = zeros / wide
        part = 2.0 * half * j1(k * half) / (wide**2 * k * j0(zeros) ** 2)
        return np.append(0.0, k), flux * np.append((half / wide) ** 2, part)
    k = np.pi * np.arange(1, count + 1) / wide
    return np.append(0.0, k), flux * np.append(half / wide, 2.0 * np.sin(k * half) / (k * wide))


def head_of(soil: Gardner, phi: ArrayLike) -> FloatArray:
    """Head of a Kirchhoff potential. [cm]"""
    return np.asarray(np.log(soil.alpha_per_cm * np.asarray(phi, dtype=float) / soil.ks_cm_h) / soil.alpha_per_cm)
