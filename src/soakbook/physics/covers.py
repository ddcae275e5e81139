"""What a cover (shade cloth, fleece, tunnel, glass) and shelter from wind do to the weather at a place.

A cover lets through a part of the radiation, slows the wind and may keep off the rain; reference
evapotranspiration is then computed from the weather that is left. Temperature and humidity are taken as
outside: warmer, moister air under a cover partly cancels in the equation, and a gardener rarely measures
either.

References
----------
.. [1] "Water" 14(15), 2022, article 2410: mean transmissivity 0.69 of a solar greenhouse's film.
.. [2] Evaporation pans inside and outside: ratio 0.64 in a glasshouse (Int. J. Global Environmental Issues
   17(4), 2018), 0.54-0.59 in three plastic greenhouses (abstract).
.. [3] Kitta et al., 2014: under nets, evapotranspiration falls by a radiation part, linear in the
   transmittance, and a wind part (abstract).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from soakbook.errors import InputError
from soakbook.physics.air import WIND_FLOOR_MS

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Cover:
    """One kind of cover.

    ``wind_factor`` is of the wind outside; where ``wind_ms`` is given instead, that is the wind at 2 m under
    the cover, never above the wind outside.
    """

    transmittance: float
    wind_factor: float
    wind_ms: float | None
    rain_fraction: float
    standing: str


#: Wind at 2 m in a closed tunnel or glasshouse, from memory. [m/s]
STILL_AIR_MS = 0.5

COVERS = {
    "none": Cover(1.0, 1.0, None, 1.0, "nothing overhead"),
    "shade_cloth": Cover(
        0.5,
        0.5,
        None,
        1.0,
        "cloth labelled 50 % passes about half (common practice); wind halved under nets, from memory",
    ),
    "fleece": Cover(0.85, 0.5, None, 1.0, "light fleece passes about 85 %, wind as under nets, both from memory"),
    "tunnel": Cover(0.69, 1.0, STILL_AIR_MS, 0.0, "film of a solar greenhouse [1]; wind from memory; keeps off rain"),
    "glass": Cover(0.70, 1.0, STILL_AIR_MS, 0.0, "glass with its bars about as film, from memory; keeps off rain"),
}

#: Part of the open wind that is left, by shelter word. From memory: a hedge or fence nearby takes a quarter,
#: an enclosed yard a half. One trial page measured 15-20 % less evaporation behind a windbreak, which the
#: strong value gives in a fresh wind.
SHELTER_WIND_FACTOR = {"open": 1.0, "some": 0.75, "strong": 0.5}


def cover_named(cover: str) -> Cover:
    """The cover of a word; InputError when it is not known."""
    if cover not in COVERS:
        raise InputError(
            f"cover must be one of {', '.join(COVERS)} (got {cover!r}).", code="cover.unknown", field="cover"
        )
    return COVERS[cover]


def radiation_under_cover(solar_mj_m2: ArrayLike, cover: str, transmittance: float | None = None) -> FloatArray:
    """Solar radiation under a cover, ``transmittance`` (0-1) overriding the usual value. [MJ/m² per step]"""
    share = cover_named(cover).transmittance if transmittance is None else transmittance
    if not 0.0 <= share <= 1.0:
        raise InputError(
            f"cover_transmittance must be between 0 and 1 (got {share:g}).",
            code="cover.transmittance",
            field="cover_transmittance",
            hint="A shade cloth sold as 40 % passes 0.6.",
        )
    return np.asarray(np.asarray(solar_mj_m2, dtype=float) * share)


def wind_under_cover(wind_2m_ms: ArrayLike, cover: str) -> FloatArray:
    """Wind at 2 m under a cover: halved under cloth and fleece, at most 0.5 m/s under film and glass.
    [m/s]"""
    kind, wind = cover_named(cover), np.asarray(wind_2m_ms, dtype=float)
    if kind.wind_ms is not None:
        return np.asarray(np.minimum(wind, kind.wind_ms))
    return np.asarray(wind * kind.wind_factor)


def rain_under_cover(rain_mm: ArrayLike, cover: str, rain_fraction: float | None = None) -> FloatArray:
    """Rain that reaches a place: none under film and glass, all otherwise, or the ``rain_fraction`` (0-1)
    given. [mm]"""
    share = cover_named(cover).rain_fraction if rain_fraction is None else rain_fraction
    if not 0.0 <= share <= 1.0:
        raise InputError(
            f"rain_fraction must be between 0 and 1 (got {share:g}).",
            code="cover.rain",
            field="rain_fraction",
        )
    return np.asarray(np.asarray(rain_mm, dtype=float) * share)


def sheltered_wind(wind_2m_ms: ArrayLike, shelter: str) -> FloatArray:
    """Wind at 2 m at a place by its shelter word, never taken below 0.5 m/s by it (the floor of FAO-56 ch.
    3). [m/s]"""
    if shelter not in SHELTER_WIND_FACTOR:
        raise InputError(
            f"shelter must be one of {', '.join(SHELTER_WIND_FACTOR)} (got {shelter!r}).",
            code="shelter.unknown",
            field="shelter",
        )
    wind = np.asarray(wind_2m_ms, dtype=float)
    return np.asarray(np.maximum(wind * SHELTER_WIND_FACTOR[shelter], np.minimum(wind, WIND_FLOOR_MS)))
