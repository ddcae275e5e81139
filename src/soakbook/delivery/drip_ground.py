"""The ground under an emitter as a gardener says it: one soil, or up to three, one on the other."""

from __future__ import annotations

import re

import numpy as np

from soakbook.errors import InputError
from soakbook.physics.wetting.ground import Layer
from soakbook.physics.wetting.soils import class_soils
from soakbook.said import Measure, say

#: Texture and thickness of each layer from the surface down [m]; the last goes on down, whatever stands for its thickness.
Ground = tuple[tuple[str, float], ...]
#: Most layers, and the thickness that one may have. Thinner ones are crusts, which are not modelled; deeper ones the water of drip hardly reaches. Judged. [m]
MOST_LAYERS, THICKNESS_M = 3, (0.03, 1.2)

_PART = re.compile(r"\s*(?P<name>[^\d¼½¾]*[^\s\d¼½¾])\s*(?P<thick>[\d¼½¾].*)?$")


def parse_ground(text: str) -> Ground:
    """Read soils from the surface down, each but the last with its thickness.

    Raises
    ------
    InputError
        No such soil, too many layers, or a thickness that is missing or out of range.

    Examples
    --------
    >>> parse_ground("sandy loam 25 cm, clay loam")
    (('sandy_loam', 0.25), ('clay_loam', inf))
    """
    from soakbook.catalog import read
    from soakbook.units import parse_quantity

    textures = read.textures()
    names = read.index_of(textures)
    parts = re.split(r",(?!\d)|;", text)
    found = []
    for k, part in enumerate(parts):
        match = _PART.match(part)
        texture = read.pick(match["name"] if match else part.strip(), textures, names, what="soil").id
        thick = match["thick"] if match else None
        if k + 1 == len(parts):
            if thick is not None:
                raise InputError(
                    say("The last soil goes on down and has no thickness (got {got}).", got=part.strip()), code="drip.layers", field="soil",
                    hint=say("Such as 'sandy loam 25 cm, clay loam', from the surface down."),
                )  # fmt: skip
            found.append((texture, np.inf))
        elif thick is None:
            raise InputError(
                say("Each soil but the last needs its thickness (got {got}).", got=part.strip()), code="drip.layers", field="soil",
                hint=say("Such as 'sandy loam 25 cm, clay loam', from the surface down."),
            )  # fmt: skip
        else:
            found.append((texture, parse_quantity(thick, "length", field="soil")))
    return tuple(found)


def tables_of(ground: Ground) -> tuple[tuple[Layer, ...], ...]:
    """The layers as each of the two tables of soils has them.

    Raises
    ------
    InputError
        Too many layers, a thickness out of range, or no such texture.
    """
    if not 1 <= len(ground) <= MOST_LAYERS:
        raise InputError(
            say("The ground may have 1 to {most} soils, one on the other (got {got}).", most=MOST_LAYERS, got=len(ground)), code="drip.layers", field="soil",
        )  # fmt: skip
    low, high = THICKNESS_M
    for _, thick in ground[:-1]:
        if not low <= thick <= high:
            raise InputError(
                say(
                    "A layer must be from {low} to {high} thick (got {got}).", low=Measure(low, "length"), high=Measure(high, "length"), got=Measure(thick, "length"),
                ), code="drip.layers", field="soil",
            )  # fmt: skip
    thick_cm = [*(100.0 * thick for _, thick in ground[:-1]), np.inf]
    soils = [class_soils(texture) for texture, _ in ground]
    return tuple(tuple(Layer(pair[k], t) for pair, t in zip(soils, thick_cm, strict=True)) for k in range(2))
