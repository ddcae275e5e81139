"""The soil of a place as the wetting solver wants it: which curves of retention and conductivity stand for what the gardener knows.

A soil known by its texture, its feel, a jar or its sand and clay is its texture class as both tables have it (:mod:`soakbook.physics.wetting.soils`): how far it
draws water sideways differs two to six times between soils of one class, and that spread has to be seen. An estimate from sand and clay alone would hide it.

A soil known by field capacity and wilting point gets curves of its own, for the class nearest to two figures need not conduct or draw alike. Two points do not fix a
curve: what they leave open (alpha, n, the residual water) stays near that class in the one table and the other, so that there are again two. Tried with the soils of
either table as the truth, known by both points, saturation and conductivity, and the other table to start from: the width after 2 L in an hour is off by 7 to 8 %
by the fit and by 16 % by the nearest class with the conductivity given, the depth by 13 to 20 % against 41 % and more (root mean square over twelve classes).
Without the conductivity the two do about alike: measure how fast water goes in.

Mixes have a curve in the catalogue. Density other than usual and organic matter are not followed: the tables are of classes. Stones are.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from math import hypot
from typing import TYPE_CHECKING

import numpy as np

from soakbook.errors import InputError
from soakbook.physics.saxton_rawls import matric_density, stone_conductivity_ratio, stone_volume_fraction
from soakbook.physics.soil import field_capacity_suction_kpa, jar_to_particles, soil_from_texture
from soakbook.physics.texture import TEXTURE_CLASSES, composition, texture_class
from soakbook.physics.wetting.curves import VanGenuchten
from soakbook.physics.wetting.ground import Layer
from soakbook.physics.wetting.soils import class_soils
from soakbook.said import say

if TYPE_CHECKING:
    from soakbook.garden.model import Place, SoilLayer

#: Soils that may be meant, each from the surface down.
Grounds = tuple[tuple[Layer, ...], ...]

CM_PER_KPA, WILTING_CM = 10.197, 15_000.0
#: How near a fitted curve comes to field capacity and wilting point, and where it counts as no fit. Judged. [m³/m³]
FITS_TO, MISSED = 0.005, 0.02
#: How far soils lie from their class in residual water [m³/m³], ln alpha and ln (n - 1). Judged after the spread between the two tables.
_STRAYS = (0.03, 0.7, 0.4)
#: Where a fit may look: ln alpha [alpha in 1/cm] and ln (n - 1); the residual water lies below the wilting point.
_LOW, _HIGH = (-8.0, -4.0), (0.0, 2.0)


def soils_of(place: Place) -> Grounds:
    """What a place's soil may be, as layers for :class:`soakbook.delivery.drip.Case`: one soil or two.

    The one place where the soil for the solver is chosen.

    Parameters
    ----------
    place
        A bed, pot or tray.

    Raises
    ------
    InputError
        A soil of which too little is known, or figures that no curve goes through.
    """
    made = [_curves(layer) for layer in place.soil]
    count = max(len(curves) for curves in made)
    thick = [np.inf if s.thickness_m is None else 100.0 * s.thickness_m for s in place.soil]
    thick[-1] = np.inf
    return tuple(
        tuple(Layer(curves[min(k, len(curves) - 1)], t) for curves, t in zip(made, thick, strict=True))
        for k in range(count)
    )


def grounds_of_class(texture: str) -> Grounds:
    """A texture class all the way down, as each table has it."""
    return tuple((Layer(soil),) for soil in class_soils(texture))


def class_of(layer: SoilLayer) -> str:
    """The texture class of a layer by whichever route it is known; empty for a mix and for figures, which have none."""
    from soakbook.physics.feel import feel_class

    if layer.route == "texture":
        return layer.texture
    if layer.route == "feel":
        return feel_class(layer.feel)
    if layer.route == "jar":
        sand, clay = jar_to_particles(
            *(_known(getattr(layer, f"jar_{part}_mm"), f"jar_{part}_mm") for part in ("sand", "silt", "clay"))
        )
        return str(texture_class(sand, clay))
    if layer.route == "particles":
        return str(texture_class(_known(layer.sand_pct, "sand_pct"), _known(layer.clay_pct, "clay_pct")))
    return ""


def _curves(layer: SoilLayer) -> tuple[VanGenuchten, ...]:
    if layer.route == "mix":
        return (_of_mix(layer.mix),)
    if layer.route == "measured":
        return fitted_curves(
            _known(layer.field_capacity, "field_capacity"), _known(layer.wilting_point, "wilting_point"), layer.saturation,
            layer.conductivity_mm_h,
        )  # fmt: skip
    return tuple(_with_stones(soil, layer.stones_pct_w) for soil in class_soils(class_of(layer)))


def _known(value: float | None, field: str) -> float:
    if value is None:
        raise InputError(
            say("Of this soil {field} is not known, so where its water goes cannot be followed.", field=field),
            code="ground.unknown", field=field, hint=say("Give the soil by its texture, or by how it feels."),
        )  # fmt: skip
    return value


def _of_mix(name: str) -> VanGenuchten:
    from soakbook.catalog import read

    mixes = read.mixes()
    if name not in mixes:
        raise InputError(
            say("The catalogue has no curve of the mix {name}, so where its water goes cannot be followed.", name=name),
            code="ground.mix", field="mix", hint=say("See 'soakbook soils'."),
        )  # fmt: skip
    row = mixes[name]
    return VanGenuchten(
        row.theta_r.value, row.theta_s.value, row.alpha_per_cm.value, row.n.value, row.ks_mm_h.value / 10.0
    )


def _with_stones(soil: VanGenuchten, stones_pct_w: float) -> VanGenuchten:
    """Stones hold nothing and are in the way: Eqs 19 and 22 of K. E. Saxton and W. J. Rawls, Soil Sci. Soc. Am. J. 70:1569-1578, 2006."""
    if stones_pct_w <= 0.0:
        return soil
    density = float(matric_density(soil.theta_s))
    fine = 1.0 - float(stone_volume_fraction(stones_pct_w, density))
    slower = float(stone_conductivity_ratio(stones_pct_w, density))
    return replace(soil, theta_r=fine * soil.theta_r, theta_s=fine * soil.theta_s, ks_cm_h=slower * soil.ks_cm_h)


@lru_cache(maxsize=64)
def fitted_curves(
    field_capacity: float, wilting_point: float, saturation: float | None = None, ks_mm_h: float | None = None
) -> tuple[VanGenuchten, ...]:
    """Curves through field capacity and wilting point, near the class nearest to them as each table has it.

    Parameters
    ----------
    field_capacity
        At the suction at which that class counts as drained (:func:`soakbook.physics.soil.field_capacity_suction_kpa`). [m³/m³]
    wilting_point
        At 15 000 cm. [m³/m³]
    saturation
        Where it was measured; else as much above field capacity as in that class. [m³/m³]
    ks_mm_h
        Saturated conductivity where it was measured; else that of the class in each table. [mm/h]

    Raises
    ------
    InputError
        Figures that do not rise, or that no curve meets within 0.02 m³/m³.

    References
    ----------
    .. [1] M. Th. van Genuchten, Soil Sci. Soc. Am. J. 44:892-898, 1980, Eqs 3 and 21 (m = 1 - 1/n).
    """
    typical = {name: soil_from_texture(name) for name in TEXTURE_CLASSES}
    name = min(typical, key=lambda c: hypot(typical[c].theta_fc - field_capacity, typical[c].theta_wp - wilting_point))
    full = field_capacity + typical[name].theta_sat - typical[name].theta_fc if saturation is None else saturation
    if not 0.0 < wilting_point < field_capacity < full < 1.0:
        raise InputError(
            say(
                "Water must rise from wilting point to field capacity to saturation between 0 and 1 (got {wilting:g}, {drained:g}, {full:g}).",
                wilting=wilting_point, drained=field_capacity, full=full,
            ),
            code="ground.order", field="field_capacity", hint=say("Check that they are by volume."),
        )  # fmt: skip
    own = composition(name)
    drained_cm = CM_PER_KPA * float(field_capacity_suction_kpa(own.sand_pct, own.clay_pct))
    return tuple(
        _fit(
            replace(near, ks_cm_h=near.ks_cm_h if ks_mm_h is None else ks_mm_h / 10.0), full,
            ((drained_cm, field_capacity), (WILTING_CM, wilting_point)),
        )
        for near in class_soils(name)
    )  # fmt: skip


def _fit(near: VanGenuchten, full: float, points: tuple[tuple[float, float], ...]) -> VanGenuchten:
    """Least squares of the misses at points (suction [cm], water content) and of how far the curve strays from the class."""
    from scipy.optimize import least_squares  # type: ignore[import-untyped]

    suctions, held = (np.array(part) for part in zip(*points, strict=True))
    driest = 0.999 * float(held.min())
    start = np.array([min(near.theta_r, 0.9 * driest), np.log(near.alpha_per_cm), np.log(near.n - 1.0)])

    def soil_of(x: np.ndarray) -> VanGenuchten:
        return VanGenuchten(float(x[0]), full, float(np.exp(x[1])), 1.0 + float(np.exp(x[2])), near.ks_cm_h)

    def missed(soil: VanGenuchten) -> np.ndarray:
        return np.asarray(soil.theta_r + (full - soil.theta_r) * soil.saturation(-suctions) - held)

    found = least_squares(
        lambda x: np.concatenate([missed(soil_of(x)) / FITS_TO, (x - start) / _STRAYS]), start,
        bounds=((0.0, *_LOW), (driest, *_HIGH)),
    )  # fmt: skip
    soil = soil_of(found.x)
    off = float(np.abs(missed(soil)).max())
    if not found.success or off > MISSED:
        raise InputError(
            say("No curve goes through this field capacity and wilting point (the nearest is {off:.3f} off).", off=off),
            code="ground.fit", field="field_capacity",
            hint=say("Check the two figures, or give the soil by its texture."),
        )  # fmt: skip
    return soil
