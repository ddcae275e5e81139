"""Water in pots: retention of the mix, what a drained pot holds, its layers, its shape and the loss through its wall.

After draining, the suction in a pot is the height above the water table at its base (the drain holes, or the water in
the saucer), so the base stays saturated and a tall pot drains more than a flat one: D. A. Milks, W. C. Fonteno and
R. A. Larson, J. Amer. Soc. Hort. Sci. 114:53-56, 1989. Retention sets use alpha in 1/cm of suction head.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import InputError

FloatArray = NDArray[np.float64]

_NODES = 48
_CM_PER_M = 100.0
#: Suctions that bound easily available and buffer water, cm: M. De Boodt and O. Verdonck, Acta Hort. 26:37-44, 1972
#: (definitions from memory).
AIR_CM, EASY_CM, BUFFER_CM = 10.0, 50.0, 100.0


def theta_van_genuchten(
    suction_cm: ArrayLike, theta_r: ArrayLike, theta_s: ArrayLike, alpha_per_cm: ArrayLike, n: ArrayLike
) -> FloatArray:
    r"""Water content at a suction after M. Th. van Genuchten, SSSAJ 44:892-898, 1980, Eqs 3 and 21 (m = 1 - 1/n).

    Parameters
    ----------
    suction_cm
        Suction head; 0 or less is saturated. [cm]
    theta_r, theta_s
        Residual and saturated water content. [m3/m3]
    alpha_per_cm, n
        Shape; n above 1. [1/cm], [-]

    Returns
    -------
    FloatArray
        Water content. [m3/m3]
    """
    head = np.maximum(np.asarray(suction_cm, dtype=float), 0.0)
    shape = np.asarray(n, dtype=float)
    dry = np.asarray(theta_r, dtype=float)
    saturation = (1.0 + (np.asarray(alpha_per_cm, dtype=float) * head) ** shape) ** (1.0 / shape - 1.0)
    return np.asarray(dry + (np.asarray(theta_s, dtype=float) - dry) * saturation)


def container_capacity(
    height_m: ArrayLike,
    theta_r: ArrayLike,
    theta_s: ArrayLike,
    alpha_per_cm: ArrayLike,
    n: ArrayLike,
    base_to_top_area: ArrayLike = 1.0,
    water_level_m: ArrayLike = 0.0,
) -> FloatArray:
    r"""Mean water content of a pot that was soaked and left to drain.

    Parameters
    ----------
    height_m
        Height of the mix. [m]
    theta_r, theta_s, alpha_per_cm, n
        Retention of the mix, see ``theta_van_genuchten``.
    base_to_top_area
        Area of the base over that of the top of the mix; sides are straight. Above 0.
    water_level_m
        Water standing around the base (saucer, reservoir), above the drain holes. [m]

    Returns
    -------
    FloatArray
        Container capacity. [m3/m3]

    Notes
    -----
    .. math:: CC = \frac{1}{V}\int_0^H \theta(\max(z - d, 0))\,A(z)\,dz,
       \qquad A(z) = A_{top}\,\bigl(b + (1-b)\,z/H\bigr)^2,\; b^2 = A_{base}/A_{top}

    Gauss-Legendre quadrature above the water level in z - d = (H - d) x^2, which is smooth at the wet end.
    Without taper this equals theta_r + (theta_s - theta_r) 2F1(m, 1/n; 1 + 1/n; -(alpha H)^n).
    """
    inputs = (height_m, theta_r, theta_s, alpha_per_cm, n, base_to_top_area, water_level_m)
    height, dry, wet, alpha, shape, ratio, level = (
        np.array(a[..., np.newaxis]) for a in np.broadcast_arrays(*(np.asarray(a, dtype=float) for a in inputs))
    )
    _check_pot(height, ratio)
    water = _water_between(np.zeros_like(height), height, height, ratio, level, (dry, wet, alpha, shape))
    return np.asarray((water / _volume_below(height, ratio, height))[..., 0])


def air_space(
    height_m: ArrayLike,
    theta_r: ArrayLike,
    theta_s: ArrayLike,
    alpha_per_cm: ArrayLike,
    n: ArrayLike,
    base_to_top_area: ArrayLike = 1.0,
    water_level_m: ArrayLike = 0.0,
) -> FloatArray:
    """Pores filled with air in a drained pot: theta_s less container capacity. [m3/m3]"""
    held = container_capacity(height_m, theta_r, theta_s, alpha_per_cm, n, base_to_top_area, water_level_m)
    return np.asarray(np.asarray(theta_s, dtype=float) - held)


def easily_available_water(theta_r: ArrayLike, theta_s: ArrayLike, alpha_per_cm: ArrayLike, n: ArrayLike) -> FloatArray:
    """Water held between 10 and 50 cm of suction, De Boodt & Verdonck 1972. [m3/m3]"""
    return _between(AIR_CM, EASY_CM, theta_r, theta_s, alpha_per_cm, n)


def buffer_water(theta_r: ArrayLike, theta_s: ArrayLike, alpha_per_cm: ArrayLike, n: ArrayLike) -> FloatArray:
    """Water held between 50 and 100 cm of suction (water buffering capacity), De Boodt & Verdonck 1972. [m3/m3]"""
    return _between(EASY_CM, BUFFER_CM, theta_r, theta_s, alpha_per_cm, n)


@dataclass(frozen=True)
class PotWater:
    """Litres in one pot of mix: all of it, at container capacity, and from there down to drier states."""

    mix_l: float
    at_capacity_l: float
    air_l: float
    to_50_cm_l: float
    to_100_cm_l: float
    to_wilting_l: float


def pot_water(
    mix_l: float,
    height_m: float,
    theta_r: float,
    theta_s: float,
    alpha_per_cm: float,
    n: float,
    wilting: float,
    base_to_top_area: float = 1.0,
) -> PotWater:
    """Litres held by a drained pot, and litres given up down to a mean water content as at 50 cm, 100 cm, wilting.

    ``wilting`` is a water content [m3/m3]; 0.05 to 0.14 in peat, coir, bark and wood (J. S. Fields et al., Agronomy
    10:1393, 2020).
    """
    held = float(container_capacity(height_m, theta_r, theta_s, alpha_per_cm, n, base_to_top_area))

    def down_to(theta: float) -> float:
        return mix_l * max(held - theta, 0.0)

    at_50, at_100 = (float(theta_van_genuchten(h, theta_r, theta_s, alpha_per_cm, n)) for h in (EASY_CM, BUFFER_CM))
    return PotWater(mix_l, mix_l * held, mix_l * (theta_s - held), down_to(at_50), down_to(at_100), down_to(wilting))


@dataclass(frozen=True)
class PotLayers:
    """Slices of equal thickness, the top one first.

    ``area`` is the mean cross-section over the top's area, so litres = 1000 x top area x thickness x area x theta;
    ``weight`` is the share of the pot's volume.
    """

    thickness_m: float
    height_above_base_m: FloatArray
    suction_cm: FloatArray
    theta_capacity: FloatArray
    area: FloatArray
    weight: FloatArray


def pot_layers(
    height_m: float,
    n_layers: int,
    theta_r: float,
    theta_s: float,
    alpha_per_cm: float,
    n: float,
    base_to_top_area: float = 1.0,
    water_level_m: float = 0.0,
) -> PotLayers:
    """Cut a drained pot into slices, each at its own container capacity (perched water: wettest at the base).

    The volume-weighted mean of the slices is ``container_capacity`` of the pot. Suction is that at the middle of a
    slice, its height above the drain holes or the water level.
    """
    if n_layers < 1:
        raise InputError(f"n_layers must be 1 or more (got {n_layers}).", code="pot.layers", field="n_layers")
    height, ratio, level = (np.asarray(a, dtype=float) for a in (height_m, base_to_top_area, water_level_m))
    _check_pot(height, ratio)
    edges = np.linspace(height_m, 0.0, n_layers + 1)
    top, base = edges[:-1], edges[1:]
    volume = _volume_below(height, ratio, top) - _volume_below(height, ratio, base)
    retention = tuple(np.asarray(a, dtype=float) for a in (theta_r, theta_s, alpha_per_cm, n))
    water = _water_between(base[:, np.newaxis], top[:, np.newaxis], height, ratio, level, retention)[:, 0]
    middle = 0.5 * (top + base)
    return PotLayers(
        thickness_m=height_m / n_layers,
        height_above_base_m=middle,
        suction_cm=_CM_PER_M * np.maximum(middle - water_level_m, 0.0),
        theta_capacity=water / volume,
        area=volume / (height_m / n_layers),
        weight=volume / volume.sum(),
    )


@dataclass(frozen=True)
class PotForm:
    """Outline of a pot, brimful: height, areas of top and base, area of the wall."""

    height_m: float
    top_area_m2: float
    base_area_m2: float
    wall_area_m2: float

    @property
    def volume_l(self) -> float:
        """Frustum from base to brim. [L]"""
        top, base = self.top_area_m2, self.base_area_m2
        return 1000.0 * self.height_m * (top + sqrt(top * base) + base) / 3.0


#: Base over top diameter of tapered nursery pots, and their height over top diameter (common practice).
BASE_TO_TOP_DIAMETER = 0.75
HEIGHT_TO_DIAMETER = 0.85


def round_pot(top_diameter_m: float, height_m: float, base_diameter_m: float | None = None) -> PotForm:
    """A round pot from its inner measures; without a base diameter, three quarters of the top's (common practice)."""
    base_m = BASE_TO_TOP_DIAMETER * top_diameter_m if base_diameter_m is None else base_diameter_m
    _check_positive(top_diameter_m=top_diameter_m, height_m=height_m, base_diameter_m=base_m)
    top, base = pi * top_diameter_m**2 / 4.0, pi * base_m**2 / 4.0
    return PotForm(height_m, top, base, round_wall_area_m2(top, base, height_m))


def pot_from_volume(volume_l: float, height_to_diameter: float = HEIGHT_TO_DIAMETER) -> PotForm:
    """A round tapered pot of a nominal (brimful) volume and usual proportions."""
    _check_positive(volume_l=volume_l, height_to_diameter=height_to_diameter)
    b = BASE_TO_TOP_DIAMETER
    diameter_m = (volume_l / 1000.0 / (pi / 12.0 * height_to_diameter * (1.0 + b + b * b))) ** (1.0 / 3.0)
    return round_pot(diameter_m, height_to_diameter * diameter_m)


def trough(length_m: float, width_m: float, height_m: float, base_to_top_side: float = 1.0) -> PotForm:
    """A square or oblong box; both sides may shrink towards the base by the same ratio."""
    _check_positive(length_m=length_m, width_m=width_m, height_m=height_m, base_to_top_side=base_to_top_side)
    top = length_m * width_m
    shrink = 1.0 - base_to_top_side
    slants = (np.hypot(height_m, shrink * width_m / 2.0), np.hypot(height_m, shrink * length_m / 2.0))
    wall = (1.0 + base_to_top_side) * (length_m * slants[0] + width_m * slants[1])
    return PotForm(height_m, top, top * base_to_top_side**2, float(wall))


def round_wall_area_m2(top_area_m2: float, base_area_m2: float, height_m: float) -> float:
    """Lateral area of a round frustum, pi (R + r) slant; a square pot of the same areas has 1.13 times as much. [m2]"""
    big, small = (top_area_m2 / pi) ** 0.5, (base_area_m2 / pi) ** 0.5
    return float(pi * (big + small) * np.hypot(height_m, big - small))


#: Evaporation through a moist pot's wall, per m2 of wall, over reference evapotranspiration. Judged, not measured:
#: plastic and glaze are tight; a wet unglazed wall evaporates about as a wet surface does, but half of it is in shade
#: and the clay slows the flow; fabric lets more through; unlined wood little. Growers' common practice that a small
#: clay pot dries about twice as fast as a plastic one agrees with 0.35 (0.2 to 0.6).
WALL_FACTOR: dict[str, float] = {"plastic": 0.0, "glazed": 0.0, "clay": 0.35, "fabric": 0.5, "wood": 0.1}


def wall_evaporation_l(eto_mm: ArrayLike, wall_area_m2: ArrayLike, wall: str) -> FloatArray:
    """Litres lost through the wall while the mix against it is moist: factor x ETo x wall area (see ``WALL_FACTOR``).

    An upper limit: it stops as the mix dries, which the caller has to see to.
    """
    if wall not in WALL_FACTOR:
        raise InputError(
            f"Pot wall must be one of {', '.join(WALL_FACTOR)} (got {wall!r}).", code="pot.wall_unknown", field="wall"
        )
    return np.asarray(WALL_FACTOR[wall] * np.asarray(eto_mm, dtype=float) * np.asarray(wall_area_m2, dtype=float))


def _between(
    wet_cm: float, dry_cm: float, theta_r: ArrayLike, theta_s: ArrayLike, alpha_per_cm: ArrayLike, n: ArrayLike
) -> FloatArray:
    wetter, drier = (theta_van_genuchten(h, theta_r, theta_s, alpha_per_cm, n) for h in (wet_cm, dry_cm))
    return np.asarray(wetter - drier)


def _area(height: FloatArray, ratio: FloatArray, z: FloatArray) -> FloatArray:
    """Cross-section at height z over that of the top."""
    b = np.sqrt(ratio)
    return np.asarray((b + (1.0 - b) * z / height) ** 2)


def _volume_below(height: FloatArray, ratio: FloatArray, z: FloatArray) -> FloatArray:
    """Volume from the base up to z, over the top's area. [m]"""
    b = np.sqrt(ratio)
    c, u = 1.0 - b, z / height
    return np.asarray(height * u * (b * b + b * c * u + c * c * u * u / 3.0))


def _water_between(
    low: FloatArray,
    high: FloatArray,
    height: FloatArray,
    ratio: FloatArray,
    level: FloatArray,
    retention: tuple[FloatArray, ...],
) -> FloatArray:
    """Water between two heights of a drained pot, over the top's area. Inputs end in an axis of length 1. [m]"""
    soaked_to = np.clip(level, low, high)
    soaked = _volume_below(height, ratio, soaked_to) - _volume_below(height, ratio, low)
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    x, weight = 0.5 * (nodes + 1.0), 0.5 * weights
    z = soaked_to + (high - soaked_to) * x * x
    step = 2.0 * (high - soaked_to) * x * weight
    theta_r, theta_s, alpha, n = retention
    theta = theta_van_genuchten(_CM_PER_M * (z - level), theta_r, theta_s, alpha, n)
    drained = (theta * _area(height, ratio, z) * step).sum(axis=-1, keepdims=True)
    return np.asarray(theta_s * soaked + drained)


def _check_pot(height_m: FloatArray, ratio: FloatArray) -> None:
    for name, values in (("height_m", height_m), ("base_to_top_area", ratio)):
        if not (values > 0.0).all():
            raise InputError(
                f"{name} must be above 0 (got {float(np.min(values)):g}).", code="pot.not_positive", field=name
            )


def _check_positive(**values: float) -> None:
    for name, value in values.items():
        if not 0.0 < value < float("inf"):
            raise InputError(f"{name} must be above 0 and finite (got {value:g}).", code="pot.not_positive", field=name)
