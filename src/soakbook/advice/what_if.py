"""What would change a first answer most: one thing about the place altered at a time, the season watered by the rule again."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

import numpy as np

from soakbook.advice.ask import season_dates, usual_weather
from soakbook.advice.question import SHADE_FROM_NOON
from soakbook.advice.season import Season, water_by_rule
from soakbook.balance.layout import Members
from soakbook.balance.place import place_days
from soakbook.catalog import read as catalog
from soakbook.garden.model import Exposure, Garden, Mulch, Place, PotShape, SoilLayer
from soakbook.physics.feel import feel_class
from soakbook.said import Measure, say
from soakbook.weather.normals import normals_at

Kind = Literal["lighter", "heavier", "mulch", "no mulch", "shade", "sun", "hotter", "bigger pot", "bigger plants"]

#: The neighbours of each texture class: a class with more sand or coarser grains, and one with more clay.
NEIGHBOURS: dict[str, tuple[str | None, str | None]] = {
    "sand": (None, "loamy_sand"), "loamy_sand": ("sand", "sandy_loam"), "sandy_loam": ("loamy_sand", "loam"),
    "loam": ("sandy_loam", "clay_loam"), "silt_loam": ("loam", "silty_clay_loam"), "silt": ("loam", "silt_loam"),
    "sandy_clay_loam": ("sandy_loam", "sandy_clay"), "clay_loam": ("loam", "clay"),
    "silty_clay_loam": ("silt_loam", "silty_clay"), "sandy_clay": ("sandy_clay_loam", "clay"),
    "silty_clay": ("silty_clay_loam", "clay"), "clay": ("clay_loam", None),
}  # fmt: skip
#: How far demand, pots and plants are altered.
HOTTER, BIGGER_POT, BIGGER_PLANTS = 1.2, 1.5, 1.25
#: Smallest change worth a line, as a share of the season's water or of its waterings.
LEAST = 0.05


@dataclass(frozen=True)
class Change:
    """One thing altered: litres and waterings that the season then takes.

    ``size`` orders changes: the larger of the two differences, as a logarithm.
    """

    kind: Kind
    says: str
    litres: float
    waterings: int
    size: float


@dataclass(frozen=True)
class Changes:
    """The changes that do most, the largest first, and the season they are held against."""

    litres: float
    waterings: int
    most: tuple[Change, ...]


@dataclass(frozen=True)
class _Altered:
    kind: Kind
    says: str
    place: Place
    demand: float = 1.0


def what_changes_most(garden: Garden, on: date, season: Season, count: int = 3) -> Changes | None:
    """What would change the answer for a garden's only place most.

    Parameters
    ----------
    garden
        As :func:`soakbook.advice.question.garden_of` makes it.
    on
        The day asked about.
    season
        That of the answer: the usual weather, watered by the rule.
    count
        How many changes to keep.

    Returns
    -------
    Changes or None
        None when the season needs no water, so that there is nothing to hold against.
    """
    if not season.soaks:
        return None
    place = garden.places[0]
    litres, waterings = _in_all(season)
    normals = normals_at(garden.lat_deg, garden.lon_deg, garden.elevation_m)
    first, last = season_dates(place.plantings[0], on)
    weather = usual_weather(garden, normals, first, last)
    found = []
    for altered in alterations(place):
        members = Members(np.zeros(1), np.array([altered.demand]), np.ones(1), np.ones(1))
        days = place_days(replace(garden, places=(altered.place,)), altered.place, weather, members=members)
        found.append(_change(altered, litres, waterings, water_by_rule(days)))
    worth = sorted((c for c in found if c.size >= math.log1p(LEAST)), key=lambda c: -c.size)
    return Changes(litres, waterings, tuple(worth[:count]))


def _in_all(season: Season) -> tuple[float, int]:
    return sum(m.litres for m in season.months), sum(m.soaks for m in season.months)


def _change(altered: _Altered, litres: float, waterings: int, other: Season) -> Change:
    total, count = _in_all(other)
    often = abs(math.log((count + 1) / (waterings + 1)))  # one more, so that none at all has a size
    much = abs(math.log(total / litres)) if total > 0.0 else math.log(2.0)
    return Change(altered.kind, altered.says, total, count, max(often, much))


def alterations(place: Place) -> Iterator[_Altered]:
    """Everything that is tried on a place, one thing at a time."""
    yield from _soils(place)
    if place.mulch is None:
        yield _Altered("mulch", say("With straw mulch"), replace(place, mulch=Mulch("straw")))
    else:
        yield _Altered("no mulch", say("Without mulch"), replace(place, mulch=None))
    if place.exposure.horizon:
        yield _Altered("sun", say("In full sun"), replace(place, exposure=Exposure()))
    else:
        yield _Altered("shade", say("With shade from noon on"), replace(place, exposure=Exposure(SHADE_FROM_NOON)))
    more = 100 * (HOTTER - 1)
    yield _Altered("hotter", say("In hotter or windier weather (demand {more:.0f} % up)", more=more), place, HOTTER)
    if place.pot is not None:
        bigger = bigger_pot(place.pot)
        size = Measure(bigger.volume_l / bigger.fill_fraction, "volume")
        words = say("In pots of {size}", size=size) if bigger.count > 1 else say("In a pot of {size}", size=size)
        yield _Altered("bigger pot", words, replace(place, pot=bigger, area_m2=bigger.top_area_m2 * bigger.count))
    elif (wide := place.plantings[0].width_m) is not None:
        wider = replace(place.plantings[0], width_m=wide * BIGGER_PLANTS)
        yield _Altered("bigger plants", say("With plants a quarter wider"), replace(place, plantings=(wider,)))


def _soils(place: Place) -> Iterator[_Altered]:
    layer = place.soil[0]
    texture = feel_class(layer.feel) if layer.route == "feel" else layer.texture
    kinds: tuple[Kind, Kind] = ("lighter", "heavier")
    for kind, name in zip(kinds, NEIGHBOURS.get(texture, (None, None)), strict=True):
        if name is not None:
            named = catalog.textures()[name].name
            lighter = kind == "lighter"
            words = (
                say("In lighter soil ({soil})", soil=named) if lighter else say("In heavier soil ({soil})", soil=named)
            )
            yield _Altered(kind, words, replace(place, soil=(SoilLayer("texture", texture=name),)))


def bigger_pot(pot: PotShape) -> PotShape:
    """The pot with :data:`BIGGER_POT` times the volume, in the same proportions."""
    grown = BIGGER_POT ** (1.0 / 3.0)
    return replace(
        pot,
        height_m=pot.height_m * grown,
        top_area_m2=pot.top_area_m2 * grown**2,
        base_area_m2=pot.base_area_m2 * grown**2,
    )
