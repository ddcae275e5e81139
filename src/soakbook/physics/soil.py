"""What a mineral soil holds and lets through, by each route by which a gardener may know it.

Estimates rest on Saxton & Rawls (2006), whose equations stand in ``saxton_rawls``. They hold for clay up
to 60 %, organic matter up to 8 % and a density factor of 0.9 to 1.3; beds richer in compost are mixes of the catalogue.

How far off they are
    Against 59 horizons of Swiss forest soils with a bulk density of 1.1 g/cm3 or more (F. Richard and P. Lüscher,
    1978-87; measured retention; organic matter taken as 2 %), Eq 2 is off by 0.080 m3/m3 root mean square at 33 kPa
    and Eq 1 by 0.052 at 1500 kPa. The two errors go together (0.76), so available water is off by 0.053 and not by
    the 0.09 that independent errors would give. Judged on top of that: no standard deviation above 45 % of the value
    itself, since a dry sand cannot be off by its whole wilting point (FAO-56 Table 19 gives sand 0.02-0.07 at
    wilting).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import InputError
from soakbook.physics.feel import feel_class
from soakbook.physics.saxton_rawls import (
    matric_density,
    saturated_conductivity_mm_h,
    stone_conductivity_ratio,
    stone_volume_fraction,
    theta_33,
    theta_33_at_density,
    theta_1500,
    theta_power_law,
    theta_sat,
    theta_sat_at_density,
)
from soakbook.physics.texture import TEXTURE_CLASSES, check_particles, composition, texture_class

FloatArray = NDArray[np.float64]

CLAY_MAX_PCT = 60.0
ORGANIC_MATTER_MAX_PCT = 8.0
STONES_MAX_PCT_W = 80.0
COMPACTION_MIN, COMPACTION_MAX = 0.9, 1.3
#: Lowest wilting point of FAO-56 Table 19 (sand). Eq 1 falls below it in clean sand.
THETA_WP_MIN = 0.02

#: Root mean square errors of the texture estimate, and how the two go together (see above).
_FC_SD, _WP_SD, FC_WP_CORRELATION = 0.08, 0.05, 0.75
_SD_MOST_OF_VALUE = 0.45
#: Added in quadrature where the composition itself is uncertain: layer heights read off a jar, a class guessed by
#: hand (judged).
_JAR_SD, _FEEL_SD = 0.03, 0.04
#: One laboratory sample standing for a bed (judged).
_MEASURED_FC_SD, _MEASURED_WP_SD, _MEASURED_KS_LOG_SD = 0.02, 0.015, 0.5
#: Natural logarithm; about 0.7 decades is the error of texture-only estimates of Ks (from memory of M. G. Schaap et
#: al., J. Hydrol. 251:163, 2001). Field soils with worm holes scatter more.
_KS_LOG_SD = 1.6
#: Dry density of freshly settled layers, g/cm3: fine material settles looser (judged; many guides read heights as
#: they are).
_SETTLED_SAND, _SETTLED_SILT, _SETTLED_CLAY = 1.5, 1.3, 0.9


@dataclass(frozen=True)
class SoilWater:
    """Water held by the bulk soil (stones already taken out), m3/m3, its conductivity, and how sure that is.

    ``theta_wp_sd`` and ``theta_fc_sd`` are standard deviations; ``ks_log_sd`` is that of ln Ks. ``note`` says in words
    what was assumed or bounded.
    """

    theta_wp: float
    theta_fc: float
    theta_sat: float
    ks_mm_h: float
    theta_wp_sd: float
    theta_fc_sd: float
    ks_log_sd: float
    route: str
    note: str

    def __post_init__(self) -> None:
        if not 0.0 < self.theta_wp < self.theta_fc < self.theta_sat < 1.0:
            raise InputError(
                "Soil water must rise from wilting point to field capacity to saturation between 0 and 1 "
                f"(got {self.theta_wp:.3f}, {self.theta_fc:.3f}, {self.theta_sat:.3f}).",
                code="soil.order",
                field="soil",
                hint="Check measured values are by volume; a compacted clay may have no air left.",
            )
        if not 0.0 < self.ks_mm_h < float("inf"):
            raise InputError(
                f"Saturated conductivity must be above 0 mm/h (got {self.ks_mm_h:g}).",
                code="soil.conductivity",
                field="conductivity_mm_h",
            )

    @property
    def available_water(self) -> float:
        """Field capacity less wilting point. [m3/m3]"""
        return self.theta_fc - self.theta_wp

    @property
    def available_water_sd(self) -> float:
        """Standard deviation of available water, with the errors of its two ends going together. [m3/m3]"""
        fc, wp = self.theta_fc_sd, self.theta_wp_sd
        return sqrt(fc * fc + wp * wp - 2.0 * FC_WP_CORRELATION * fc * wp)


def field_capacity_suction_kpa(sand_pct: ArrayLike, clay_pct: ArrayLike) -> FloatArray:
    """Suction at which a soil counts as drained: 10 kPa in sand and loamy sand, 20 in sandy loam, 33 in the rest.

    Common practice: 33 kPa is the laboratory's convention for loams, 10 kPa for sands, whose water moves too slowly to
    drain further once they reach it; 20 kPa between them is our step. [kPa]
    """
    names = texture_class(sand_pct, clay_pct)
    coarse = np.isin(names, ("sand", "loamy_sand"))
    return np.where(coarse, 10.0, np.where(names == "sandy_loam", 20.0, 33.0))


def field_capacity(theta_at_33: ArrayLike, theta_at_1500: ArrayLike, at_kpa: ArrayLike) -> FloatArray:
    """Water content at the suction chosen for field capacity. [m3/m3]

    Follows the power law of Eq 11 on from 33 kPa towards 10 kPa instead of the paper's straight line (Eq 12). In sand
    the line runs almost to saturation: 0.35 at 10 kPa, twice the upper end of FAO-56 Table 19 for field capacity
    (0.17), where the power law gives 0.13. Over the 59 measured horizons named above the power law is off by 0.074 at
    10 kPa, the line by 0.101.
    """
    return theta_power_law(at_kpa, theta_at_33, theta_at_1500)


def soil_from_particles(
    sand_pct: float,
    clay_pct: float,
    organic_matter_pct: float = 2.5,
    stones_pct_w: float = 0.0,
    compaction: float = 1.0,
    *,
    at_kpa: float | None = None,
) -> SoilWater:
    """Soil water from particle sizes, Saxton & Rawls (2006) Eqs 1-22.

    Parameters
    ----------
    sand_pct, clay_pct
        Of the fine earth, by mass. Clay up to 60.
    organic_matter_pct
        By mass, 0 to 8.
    stones_pct_w
        Stones (> 2 mm) in the whole soil, by mass, 0 to 80.
    compaction
        Density over the normal one of that texture, 0.9 (loosened) to 1.3 (driven on). Eqs 7-10.
    at_kpa
        Suction taken for field capacity, 5 to 100; None follows ``field_capacity_suction_kpa``.

    Examples
    --------
    Loam of Table 3: 28 and 14 % at field capacity and wilting point.

    >>> loam = soil_from_particles(40, 20)
    >>> round(loam.theta_fc, 2), round(loam.theta_wp, 2)
    (0.28, 0.14)
    """
    return _estimate(
        "particles", sand_pct, clay_pct, organic_matter_pct, stones_pct_w, compaction, at_kpa, (0.0, 0.0), ""
    )


def soil_from_texture(
    class_id: str,
    organic_matter_pct: float = 2.5,
    stones_pct_w: float = 0.0,
    compaction: float = 1.0,
    *,
    at_kpa: float | None = None,
) -> SoilWater:
    """Soil water of a USDA texture class at its Table 3 composition; the spread covers the whole class."""
    typical = composition(class_id)
    return _estimate(
        "texture", typical.sand_pct, typical.clay_pct, organic_matter_pct, stones_pct_w, compaction, at_kpa,
        class_spread(class_id), f"taken as a typical {class_id.replace('_', ' ')}",
    )  # fmt: skip


def soil_from_feel(
    answers: Sequence[str],
    organic_matter_pct: float = 2.5,
    stones_pct_w: float = 0.0,
    compaction: float = 1.0,
    *,
    at_kpa: float | None = None,
) -> SoilWater:
    """Soil water from the answers to the feel key (see ``feel``); wider than a known class: hands err."""
    class_id = feel_class(answers)
    typical = composition(class_id)
    within_fc, within_wp = class_spread(class_id)
    return _estimate(
        "feel", typical.sand_pct, typical.clay_pct, organic_matter_pct, stones_pct_w, compaction, at_kpa,
        (hypot(within_fc, _FEEL_SD), hypot(within_wp, _FEEL_SD)), f"felt as {class_id.replace('_', ' ')}",
    )  # fmt: skip


def jar_to_particles(sand_mm: float, silt_mm: float, clay_mm: float) -> tuple[float, float]:
    """Sand and clay percent by mass from the three layer heights of a shaken jar.

    Settled clay lies looser than settled sand, so heights alone overstate clay: heights are weighted by dry densities
    of 1.5 (sand), 1.3 (silt) and 0.9 g/cm3 (clay), which are judged. Many guides take the heights as they are.
    """
    for name, value in (("sand_mm", sand_mm), ("silt_mm", silt_mm), ("clay_mm", clay_mm)):
        if not 0.0 <= value < float("inf"):
            raise InputError(
                f"jar_{name} must be 0 or more (got {value:g}).", code="soil.jar_height", field=f"jar_{name}"
            )
    sand, silt, clay = sand_mm * _SETTLED_SAND, silt_mm * _SETTLED_SILT, clay_mm * _SETTLED_CLAY
    total = sand + silt + clay
    if total == 0.0:
        raise InputError(
            "The jar's three layers are all 0 mm high; at least one must be above 0.",
            code="soil.jar_empty",
            field="jar_sand_mm",
            hint="Measure after two days, when the water is nearly clear.",
        )
    return 100.0 * sand / total, 100.0 * clay / total


def soil_from_jar(
    sand_mm: float,
    silt_mm: float,
    clay_mm: float,
    organic_matter_pct: float = 2.5,
    stones_pct_w: float = 0.0,
    compaction: float = 1.0,
    *,
    at_kpa: float | None = None,
) -> SoilWater:
    """Soil water from the layer heights of a shaken jar (see ``jar_to_particles``)."""
    sand_pct, clay_pct = jar_to_particles(sand_mm, silt_mm, clay_mm)
    return _estimate(
        "jar", sand_pct, clay_pct, organic_matter_pct, stones_pct_w, compaction, at_kpa, (_JAR_SD, _JAR_SD),
        f"jar read as {sand_pct:.0f} % sand, {clay_pct:.0f} % clay",
    )  # fmt: skip


def soil_from_measured(
    field_capacity: float, wilting_point: float, saturation: float | None = None, ks_mm_h: float | None = None
) -> SoilWater:
    """Soil water from measured field capacity and wilting point (m3/m3 of the bulk, by volume).

    What is missing comes from the texture class whose two values lie nearest: its pores between field capacity and
    saturation, its conductivity. The note says so.
    """
    nearest = min(
        _typical(),
        key=lambda soil: hypot(soil.theta_fc - field_capacity, soil.theta_wp - wilting_point),
    )
    kind = nearest.note.removeprefix("taken as a typical ")
    notes = [
        f"{what} as in a typical {kind}"
        for what, given in (("saturation", saturation), ("conductivity", ks_mm_h))
        if given is None
    ]
    return SoilWater(
        theta_wp=wilting_point,
        theta_fc=field_capacity,
        theta_sat=field_capacity + nearest.theta_sat - nearest.theta_fc if saturation is None else saturation,
        ks_mm_h=nearest.ks_mm_h if ks_mm_h is None else ks_mm_h,
        theta_wp_sd=min(_MEASURED_WP_SD, _SD_MOST_OF_VALUE * wilting_point),
        theta_fc_sd=_MEASURED_FC_SD,
        ks_log_sd=nearest.ks_log_sd if ks_mm_h is None else _MEASURED_KS_LOG_SD,
        route="measured",
        note="; ".join(notes),
    )


@lru_cache(maxsize=1)
def _typical() -> tuple[SoilWater, ...]:
    """Every texture class as it usually is."""
    return tuple(soil_from_texture(name) for name in TEXTURE_CLASSES)


@lru_cache(maxsize=len(TEXTURE_CLASSES))
def class_spread(class_id: str) -> tuple[float, float]:
    """Standard deviations of Eqs 2 and 1 over the class's part of the triangle (1 % grid, clay up to 60 %). [m3/m3]"""
    composition(class_id)
    sand, clay = np.meshgrid(np.arange(0.5, 100.0), np.arange(0.5, CLAY_MAX_PCT))
    inside = sand + clay <= 100.0
    sand, clay = sand[inside], clay[inside]
    own = texture_class(sand, clay) == class_id
    return float(theta_33(sand[own], clay[own]).std()), float(theta_1500(sand[own], clay[own]).std())


def _estimate(
    route: str,
    sand_pct: float,
    clay_pct: float,
    organic_matter_pct: float,
    stones_pct_w: float,
    compaction: float,
    at_kpa: float | None,
    composition_sd: tuple[float, float],
    note: str,
) -> SoilWater:
    _check_range(sand_pct, clay_pct, organic_matter_pct, stones_pct_w, compaction, at_kpa)
    notes = [note] if note else []
    wilting = float(theta_1500(sand_pct, clay_pct, organic_matter_pct))
    if wilting < THETA_WP_MIN:
        notes.append(f"wilting point raised from {wilting:.3f} to {THETA_WP_MIN}, the lowest of FAO-56 Table 19")
        wilting = THETA_WP_MIN
    normal_sat = theta_sat(sand_pct, clay_pct, organic_matter_pct)
    saturation = float(theta_sat_at_density(normal_sat, compaction))
    at_33 = float(theta_33_at_density(theta_33(sand_pct, clay_pct, organic_matter_pct), normal_sat, compaction))
    suction = float(field_capacity_suction_kpa(sand_pct, clay_pct)) if at_kpa is None else at_kpa
    if not wilting < at_33 < saturation:
        _raise_no_air(wilting, at_33, saturation, compaction)
    drained = float(field_capacity(at_33, wilting, suction))
    if suction != 33.0:
        notes.append(f"field capacity taken at {suction:g} kPa")
    density = matric_density(saturation)
    fine = 1.0 - float(stone_volume_fraction(stones_pct_w, density))
    conductivity = float(saturated_conductivity_mm_h(saturation, at_33, wilting))
    return SoilWater(
        theta_wp=wilting * fine,
        theta_fc=drained * fine,
        theta_sat=saturation * fine,
        ks_mm_h=conductivity * float(stone_conductivity_ratio(stones_pct_w, density)),
        theta_wp_sd=min(hypot(_WP_SD, composition_sd[1]), _SD_MOST_OF_VALUE * wilting) * fine,
        theta_fc_sd=min(hypot(_FC_SD, composition_sd[0]), _SD_MOST_OF_VALUE * drained) * fine,
        ks_log_sd=_KS_LOG_SD,
        route=route,
        note="; ".join(notes),
    )


def _raise_no_air(wilting: float, at_33: float, saturation: float, compaction: float) -> None:
    raise InputError(
        f"By the estimate this soil would hold {wilting:.3f}, {at_33:.3f} and {saturation:.3f} at wilting, 33 kPa and "
        f"saturation at a compaction of {compaction:g}; they must rise.",
        code="soil.order",
        field="compaction" if compaction > 1.0 else "soil",
        hint="Give measured values." if compaction <= 1.0 else "Give a compaction nearer 1, or measured values.",
    )


def _check_range(
    sand_pct: float,
    clay_pct: float,
    organic_matter_pct: float,
    stones_pct_w: float,
    compaction: float,
    at_kpa: float | None,
) -> None:
    check_particles(sand_pct, clay_pct)
    limits = (
        ("clay_pct", clay_pct, 0.0, CLAY_MAX_PCT, "The estimate is not made for heavier clay: give measured values."),
        ("organic_matter_pct", organic_matter_pct, 0.0, ORGANIC_MATTER_MAX_PCT, "Above that, use a bed mix."),
        ("stones_pct_w", stones_pct_w, 0.0, STONES_MAX_PCT_W, "Percent by mass of the whole soil."),
        ("compaction", compaction, COMPACTION_MIN, COMPACTION_MAX, "1 is normal, 0.9 freshly dug, 1.3 driven on."),
        ("at_kpa", 33.0 if at_kpa is None else at_kpa, 5.0, 100.0, "10 for sands, 33 for loams and clays is usual."),
    )  # fmt: skip
    for name, value, low, high, hint in limits:
        if not low <= value <= high:
            raise InputError(
                f"{name} must be between {low:g} and {high:g} (got {value:g}).",
                code="soil.out_of_range",
                field=name,
                hint=hint,
            )
