"""How a soil holds and conducts water, as curves tabulated for the solver.

Lengths in cm of water, times in hours, as in the soil-physics papers. Each soil becomes one table of water content and of
matric flux potential :math:`\\Phi(h) = \\int_{-\\infty}^h K\\,dh` at points even in :math:`u = \\ln(1 - h/x_0)`, with
slopes, so that a cubic between the points gives both and their derivatives. Mean conductivity between two points of a
soil is then a difference of :math:`\\Phi` and exact however far apart their heads are.

References
----------
M. Th. van Genuchten, Soil Sci. Soc. Am. J. 44:892-898, 1980; Y. Mualem, Water Resour. Res. 12:513-522, 1976;
W. R. Gardner, Soil Sci. 85:228-232, 1958.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

#: Suction at which the scale of the tables turns from linear to logarithmic [cm].
X0_CM = 1.0
#: Points of a table and the driest suction it reaches [cm]; below that a column is air-dry and stays so.
POINTS = 641
DRIEST_CM = 3.0e6
U_STEP = float(np.log1p(DRIEST_CM / X0_CM)) / (POINTS - 1)
#: Within this suction the conductivity runs straight to its saturated value: for n < 2 the slope of the formula is without
#: bound at saturation, in soils it is not [cm].
SMOOTH_CM = 2.0
#: Water a saturated soil takes up per cm of pressure [1/cm]: keeps a full, closed column solvable.
SPECIFIC_STORAGE = 1e-7

#: Places in the row a soil has beside its table.
THETA_R, THETA_S, ALPHA, N, KS, EXPONENTIAL = range(6)


@dataclass(frozen=True)
class Soil:
    """One soil: van Genuchten-Mualem, or, where ``exponential``, Gardner's :math:`K = K_s e^{\\alpha h}` with water content
    following the same exponential (``n`` then stands idle)."""

    theta_r: float
    theta_s: float
    alpha_per_cm: float
    n: float
    ks_cm_h: float
    exponential: bool = False

    def row(self) -> tuple[float, ...]:
        """The numbers the kernel needs beside the table."""
        return (self.theta_r, self.theta_s, self.alpha_per_cm, self.n, self.ks_cm_h, float(self.exponential))


def saturation(soil: Soil, head_cm: ArrayLike) -> FloatArray:
    """Effective saturation at a pressure head; 1 above zero. [-]"""
    x = np.maximum(-np.asarray(head_cm, dtype=float), 0.0)
    if soil.exponential:
        return np.asarray(np.exp(-soil.alpha_per_cm * x))
    m = 1.0 - 1.0 / soil.n
    return np.asarray((1.0 + (soil.alpha_per_cm * x) ** soil.n) ** -m)


def water_content(soil: Soil, head_cm: ArrayLike) -> FloatArray:
    """Water content at a pressure head, from the formula and not from the table. [m³/m³]"""
    return soil.theta_r + (soil.theta_s - soil.theta_r) * saturation(soil, head_cm)


def conductivity_cm_h(soil: Soil, head_cm: ArrayLike) -> FloatArray:
    """Conductivity at a pressure head, straight over the last :data:`SMOOTH_CM` of suction for van Genuchten soils."""
    head = np.minimum(np.asarray(head_cm, dtype=float), 0.0)
    if soil.exponential:
        return np.asarray(soil.ks_cm_h * np.exp(soil.alpha_per_cm * head))
    dry = _mualem(soil, np.minimum(head, -SMOOTH_CM))
    return np.where(head > -SMOOTH_CM, soil.ks_cm_h + (soil.ks_cm_h - dry) * head / SMOOTH_CM, dry)


def table(soil: Soil) -> FloatArray:
    """Points × (water content, its slope, flux potential, its slope), slopes per step of u."""
    u = np.asarray(np.arange(POINTS) * U_STEP, dtype=np.float64)
    x = X0_CM * np.expm1(u)
    rise = X0_CM + x  # dx/du
    found = np.empty((POINTS, 4))
    found[:, 0] = water_content(soil, -x)
    found[:, 1] = _content_slope(soil, x) * rise * U_STEP
    found[:, 2] = _flux_potential(soil, u)
    found[:, 3] = -conductivity_cm_h(soil, -x) * rise * U_STEP
    return found


def tables(soils: Sequence[Soil]) -> tuple[FloatArray, FloatArray]:
    """The tables and the rows of several soils, stacked."""
    return np.stack([table(s) for s in soils]), np.array([s.row() for s in soils])


def _mualem(soil: Soil, head: FloatArray) -> FloatArray:
    m = 1.0 - 1.0 / soil.n
    x = (soil.alpha_per_cm * -head) ** soil.n
    # 1 - (1 - S^(1/m))^m with S^(1/m) = 1/(1 + x), written so that nothing is lost when the soil is dry.
    inner = -np.expm1(-m * np.log1p(1.0 / x))
    return np.asarray(soil.ks_cm_h * (1.0 + x) ** (-0.5 * m) * inner**2)


def _content_slope(soil: Soil, x: FloatArray) -> FloatArray:
    """dθ/dx, x the suction."""
    width, alpha, n = soil.theta_s - soil.theta_r, soil.alpha_per_cm, soil.n
    if soil.exponential:
        return np.asarray(-width * alpha * np.exp(-alpha * x))
    ax = alpha * x
    return np.asarray(-width * (n - 1.0) * alpha * ax ** (n - 1.0) * (1.0 + ax**n) ** (1.0 / n - 2.0))


def _flux_potential(soil: Soil, u: FloatArray) -> FloatArray:
    """Φ at each point, summed from the dry end; the kink of K at :data:`SMOOTH_CM` is an end of an interval."""
    at, weight = np.polynomial.legendre.leggauss(8)
    kink = float(np.log1p(SMOOTH_CM / X0_CM))

    def over(lo: FloatArray, hi: FloatArray) -> FloatArray:
        half = (hi - lo)[:, None] / 2.0
        x = X0_CM * np.expm1(lo[:, None] + half * (at + 1.0))
        return np.asarray((conductivity_cm_h(soil, -x) * (X0_CM + x) * weight * half).sum(axis=1))

    middle = np.clip(kink, u[:-1], u[1:])
    pieces = over(u[:-1], middle) + over(middle, u[1:])
    return np.append(np.cumsum(pieces[::-1])[::-1], 0.0)
