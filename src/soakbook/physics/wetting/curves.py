"""What a soil holds and lets through at each suction, as tables that the solver can look up.

The solver's unknown is neither head nor water content but a number ``u`` that grows with both: by head where the soil is nearly full (there
water content hardly moves), by water content where it is drier (there head runs away). So one Newton iteration serves both ends (the
variable is switched without a switch: K. Brenner and C. Cancès, SIAM J. Numer. Anal. 55:1760-1785, 2017, from memory). All curves are
tabulated over ``u`` in equal steps and taken as cubics in between, smooth enough for Newton's method; what is stored is counted from the same
table, so that nothing is lost.

Heads in cm (negative: suction), conductivities in cm/h, water contents as fractions of the volume.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import InputError

FloatArray = NDArray[np.float64]

#: Steps of a table, and the suction at its dry end. [cm]
NODES, DRIEST_CM = 1000, -1.0e5
#: Conductivity runs straight to its full value over the last part of the suction: for fine soils the slope of Mualem's curve has no bound there.
AIR_ENTRY_CM = 2.0
#: Water content at which head takes over as the unknown, as a part of the way from dry to full; and what a saturated soil still takes, as it gives. [1/cm]
SWITCH_AT, SPECIFIC_STORAGE_PER_CM = 0.95, 1e-7


@dataclass(frozen=True)
class VanGenuchten:
    """Retention of M. Th. van Genuchten, Soil Sci. Soc. Am. J. 44:892-898, 1980, with conductivity by Mualem's model (l = 0.5)."""

    theta_r: float
    theta_s: float
    alpha_per_cm: float
    n: float
    ks_cm_h: float
    air_entry_cm: float = AIR_ENTRY_CM

    def __post_init__(self) -> None:
        _check(self.theta_r, self.theta_s, self.ks_cm_h, self.alpha_per_cm)
        if self.n <= 1.0:
            raise InputError(
                f"n must be above 1 (got {self.n:g}).", hint="It is 1.1 for clay to 2.7 for sand.", code="soil.n", field="n"
            )  # fmt: skip

    def saturation(self, head_cm: ArrayLike) -> FloatArray:
        """Water content as a part of the way from dry to full."""
        suction = np.maximum(-np.asarray(head_cm, dtype=float), 0.0)
        return np.asarray((1.0 + (self.alpha_per_cm * suction) ** self.n) ** -(1.0 - 1.0 / self.n))

    def conductivity_cm_h(self, head_cm: ArrayLike) -> FloatArray:
        """Hydraulic conductivity; straight over the last ``air_entry_cm``. [cm/h]"""
        head = np.minimum(np.asarray(head_cm, dtype=float), 0.0)
        edge = self.air_entry_cm
        k = self._mualem(np.minimum(head, -edge))
        near = self._mualem(np.array(-edge)) if edge else k
        return np.asarray(np.where(head > -edge, self.ks_cm_h + (near - self.ks_cm_h) * -head / max(edge, 1e-12), k))

    def _mualem(self, head_cm: FloatArray) -> FloatArray:
        # With x = (alpha s)^n: Se^(1/m) = 1 / (1 + x), so that 1 - Se^(1/m) is found without taking alike numbers from each other in dry soil.
        m = 1.0 - 1.0 / self.n
        x = (self.alpha_per_cm * np.maximum(-head_cm, 0.0)) ** self.n
        return np.asarray(self.ks_cm_h * (1.0 + x) ** (-0.5 * m) * (1.0 - (x / (1.0 + x)) ** m) ** 2)


@dataclass(frozen=True)
class Gardner:
    """Conductivity and water content exponential in head (W. R. Gardner, Soil Sci. 85:228-232, 1958): the soil that exact solutions are known for."""

    theta_r: float
    theta_s: float
    alpha_per_cm: float
    ks_cm_h: float

    def __post_init__(self) -> None:
        _check(self.theta_r, self.theta_s, self.ks_cm_h, self.alpha_per_cm)

    def saturation(self, head_cm: ArrayLike) -> FloatArray:
        """Water content as a part of the way from dry to full."""
        return np.asarray(np.exp(self.alpha_per_cm * np.minimum(np.asarray(head_cm, dtype=float), 0.0)))

    def conductivity_cm_h(self, head_cm: ArrayLike) -> FloatArray:
        """Hydraulic conductivity. [cm/h]"""
        return np.asarray(self.ks_cm_h * self.saturation(head_cm))


Soil = VanGenuchten | Gardner


@dataclass(frozen=True)
class Tables:
    """Curves of several soils over ``u``. ``cubic`` (S, NODES - 1, 12): coefficients of water content, head and the integral of conductivity over head
    from the dry end (Kirchhoff), four each, rising powers of the part of the step. ``step`` (S,) is the step of ``u``; the last node is head 0;
    ``full`` (S, 4): there water content, integral, conductivity, and head by ``u``."""

    cubic: FloatArray
    step: FloatArray
    full: FloatArray

    def u_at(self, soil: int, head_cm: ArrayLike) -> FloatArray:
        """``u`` for a head."""
        head = np.asarray(head_cm, dtype=float)
        top = self.cubic.shape[1] * self.step[soil]
        dry = np.minimum(head, 0.0)
        low = (np.searchsorted(self.cubic[soil, :, 4], dry, side="right") - 1.0).clip(0.0) * self.step[soil]
        high, u = low + self.step[soil], low + 0.5 * self.step[soil]
        for _ in range(
            30
        ):  # Newton within the step, halving it where that leads out: a profile at rest must be at rest to the last digit
            found, slope = self._value(soil, u, 4)
            low, high = np.where(found < dry, u, low), np.where(found < dry, high, u)
            new = u + (dry - found) / slope
            new = np.where((new >= low) & (new <= high), new, 0.5 * (low + high))
            moved, u = np.abs(new - u), new
            if np.all(moved <= 1e-15 * top):
                break
        return np.asarray(np.where(head > 0.0, top + head / self.full[soil, 3], u))

    def theta_at(self, soil: int, u: ArrayLike) -> FloatArray:
        """Water content for ``u``."""
        u = np.asarray(u, dtype=float)
        pressed = SPECIFIC_STORAGE_PER_CM * np.maximum(self.head_at(soil, u), 0.0)
        return np.asarray(self._value(soil, u, 0)[0] + pressed)

    def head_at(self, soil: int, u: ArrayLike) -> FloatArray:
        """Head for ``u``. [cm]"""
        u = np.asarray(u, dtype=float)
        over = u - self.cubic.shape[1] * self.step[soil]
        return np.asarray(np.where(over > 0.0, over * self.full[soil, 3], self._value(soil, u, 4)[0]))

    def _value(self, soil: int, u: FloatArray, first: int) -> tuple[FloatArray, FloatArray]:
        x = np.clip(u / self.step[soil], 0.0, self.cubic.shape[1])
        k = np.minimum(x.astype(int), self.cubic.shape[1] - 1)
        c = self.cubic[soil, k, first : first + 4]
        f = x - k
        value = c[..., 0] + f * (c[..., 1] + f * (c[..., 2] + f * c[..., 3]))
        slope = (c[..., 1] + f * (2.0 * c[..., 2] + 3.0 * f * c[..., 3])) / self.step[soil]
        return np.asarray(value), np.asarray(slope)


def tables(soils: Sequence[Soil]) -> Tables:
    """Tabulate soils for the solver."""
    made = [_one(soil) for soil in soils]
    return Tables(np.array([m[0] for m in made]), np.array([m[1] for m in made]), np.array([m[2] for m in made]))


@lru_cache(maxsize=64)
def _one(soil: Soil) -> tuple[FloatArray, float, FloatArray]:
    suction = np.concatenate([[0.0], np.geomspace(1e-3, -DRIEST_CM, 40_000)])
    if isinstance(soil, VanGenuchten) and soil.air_entry_cm:
        suction = np.unique(np.append(suction, soil.air_entry_cm))
    head = -suction[::-1]
    se, k = soil.saturation(head), soil.conductivity_cm_h(head)
    # Mean of K over a stretch by its logarithm where it changes fast.
    ratio = np.log(np.maximum(k[1:], 1e-300) / np.maximum(k[:-1], 1e-300))
    mean = np.where(np.abs(ratio) > 1e-4, (k[1:] - k[:-1]) / np.where(ratio == 0.0, 1.0, ratio), 0.5 * (k[1:] + k[:-1]))
    d_head = np.diff(head)
    phi = np.concatenate([[0.0], np.cumsum(mean * d_head)])
    # Above the switch u grows by head, at the rate at which water content last made it grow.
    by_head = np.diff(se) / d_head
    rate = (
        by_head.max()
        if isinstance(soil, Gardner)
        else by_head[min(int(np.searchsorted(se, SWITCH_AT)), len(by_head) - 1)]
    )
    grows = np.maximum(by_head, np.where(se[1:] > SWITCH_AT, rate, 0.0)) + 1e-9
    u = np.concatenate([[0.0], np.cumsum(grows * d_head)])
    even = np.linspace(0.0, u[-1], NODES)
    step = float(even[1])
    middle = 0.5 * (u[1:] + u[:-1])
    # Slopes over u at the nodes.
    by_u = np.interp(even, middle, 1.0 / grows)
    k_even = np.interp(even, u, k)
    theta = soil.theta_r + (soil.theta_s - soil.theta_r) * np.interp(even, u, se)
    slopes = (np.interp(even, middle, by_head / grows) * (soil.theta_s - soil.theta_r), by_u, k_even * by_u)
    values = (theta, np.interp(even, u, head), np.interp(even, u, phi))
    cubic = np.concatenate([_cubics(v, d * step) for v, d in zip(values, slopes, strict=True)], axis=1)
    return cubic, step, np.array([soil.theta_s, phi[-1], k[-1], by_u[-1]])


def _cubics(value: FloatArray, slope: FloatArray) -> FloatArray:
    """Coefficients of cubics through values with slopes (by step), held back where a curve that only rises would overshoot (F. N. Fritsch and
    R. E. Carlson, SIAM J. Numer. Anal. 17:238-246, 1980)."""
    rise = np.diff(value)
    most = 3.0 * np.minimum(np.append(rise, rise[-1]), np.append(rise[0], rise))
    slope = np.minimum(slope, most)
    a, b, d, e = value[:-1], slope[:-1], rise, slope[1:]
    return np.stack([a, b, 3.0 * d - 2.0 * b - e, b + e - 2.0 * d], axis=1)


def _check(theta_r: float, theta_s: float, ks_cm_h: float, alpha_per_cm: float) -> None:
    if not 0.0 <= theta_r < theta_s < 1.0:
        raise InputError(
            f"water contents must rise from dry to full within 0 to 1 (got {theta_r:g} and {theta_s:g}).",
            code="soil.theta", field="theta_s",
        )  # fmt: skip
    if ks_cm_h <= 0.0:
        raise InputError(
            f"the saturated conductivity must be above 0 (got {ks_cm_h:g}).", code="soil.ks", field="ks_cm_h"
        )
    if alpha_per_cm <= 0.0:
        raise InputError(f"alpha must be above 0 (got {alpha_per_cm:g}).", code="soil.alpha", field="alpha_per_cm")
