"""What the cut through a place's soil shows, as plain numbers taken from its balance and advice."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from soakbook.advice.decide import Advice
    from soakbook.balance.columns import State
    from soakbook.balance.place import PlaceDays
    from soakbook.catalog.model import Plant
    from soakbook.garden.model import Place, Planting, SoilLayer

Shape = Literal["staked", "bush", "rosette", "root", "blades", "vine", "shrub", "seed"]

#: Shapes by plant where its group does not say enough, then by group. Judged from how they stand in a garden.
_SHAPES: dict[str, Shape] = {
    "tomato_tall": "staked", "bean_pole": "staked", "pea_tall": "staked", "cucumber_climbing": "staked", "grape": "staked",
    "raspberry": "staked", "pea": "staked", "okra": "bush", "kale": "rosette", "strawberry": "rosette", "kohlrabi": "rosette",
    "turnip": "root", "rutabaga": "root", "sweet_potato": "vine", "chives": "blades", "rosemary": "shrub", "fennel": "root",
    "asparagus": "blades", "celeriac": "root",
}  # fmt: skip
_GROUPS: dict[str, Shape] = {
    "tomato family": "bush", "squash family": "vine", "peas and beans": "bush", "corn and okra": "blades",
    "cabbage family": "rosette", "roots": "root", "onion family": "blades", "leaves": "rosette", "stalks": "rosette",
    "perennials": "rosette", "fruit": "shrub", "herbs": "bush",
}  # fmt: skip


@dataclass(frozen=True)
class WetBand:
    """One depth range: wetness between the wilting point (0) and field capacity (1, more is wetter) and water content
    [m³/m³] of the watered part and of the part never watered (None where all is watered)."""

    top_m: float
    bottom_m: float
    wet: float
    theta: float
    dry: float | None = None
    dry_theta: float | None = None


@dataclass(frozen=True)
class Soil:
    """A named layer of soil."""

    top_m: float
    bottom_m: float
    name: str


@dataclass(frozen=True)
class PlantCut:
    """What stands there: ``spacing_m`` is the mean distance, ``seed_m`` the depth of a seed not up yet."""

    name: str
    shape: Shape
    height_m: float
    width_m: float
    spacing_m: float
    seed_m: float = 0.0


@dataclass(frozen=True)
class PotCut:
    """A pot or tray cut through its middle: widths at rim and base, height, wall and saucer."""

    height_m: float
    fill_m: float
    top_m: float
    base_m: float
    wall: str
    saucer_m: float


@dataclass(frozen=True)
class CutView:
    """A place cut open. Depths count down from the surface of the soil, in m.

    ``width_m`` is across the place, ``bottom_m`` the end of what is computed, ``watered`` the part of the area that is
    watered. ``soak_m`` is how deep today's soak goes (None without one), ``soak_if_dry`` whether it depends on the probe.
    """

    place: str
    kind: str
    width_m: float
    bottom_m: float
    watered: float
    bands: tuple[WetBand, ...]
    soils: tuple[Soil, ...]
    roots_m: float
    reach_m: float
    probe_m: float
    plant: PlantCut | None
    mulch: str | None = None
    soak_m: float | None = None
    soak_if_dry: bool = False
    pot: PotCut | None = None


def cut_view(days: PlaceDays, state: State, advice: Advice) -> CutView:
    """The cut of a place as it stands on the morning of its advice.

    Parameters
    ----------
    days
        The place's days (:func:`soakbook.balance.place.place_days`).
    state
        What its columns hold that morning; the first member is the best guess.
    advice
        The advice of that morning.

    Returns
    -------
    CutView
    """
    from soakbook.catalog import read as catalog

    place, today = days.place, days.index(advice.on)
    edges = days.laid.edges_m
    watered = days.area_wet(today) if days.laid.columns.footprints == 2 else 1.0
    if_dry = advice.verdict == "probe first" and advice.if_dry_litres > 0.0
    litres = advice.if_dry_litres if if_dry else advice.litres
    return CutView(
        place=place.name,
        kind=place.kind,
        width_m=_width_m(place),
        bottom_m=float(edges[-1]),
        watered=watered,
        bands=_bands(days, state, watered),
        soils=_soils(place, float(edges[-1])),
        roots_m=float(days.crops.root_m[today]),
        reach_m=advice.reach_m,
        probe_m=advice.probe_depth_m,
        plant=_plant(days, today),
        mulch=catalog.mulches()[place.mulch.kind].name if place.mulch else None,
        soak_m=_soak_m(days, state, today, litres * advice.efficiency) if litres > 0.0 else None,
        soak_if_dry=if_dry,
        pot=_pot(place),
    )


def _width_m(place: Place) -> float:
    if place.pot is not None:
        return _across(place, place.pot.top_area_m2)
    sides = [s for s in (place.length_m, place.width_m) if s is not None]
    return min(sides) if sides else math.sqrt(place.area_m2)


def _across(place: Place, area_m2: float) -> float:
    """Width of a round pot's opening, or of a tray's side (taken as twice as long as it is wide)."""
    return math.sqrt(2.0 * area_m2) if place.kind == "tray" else 2.0 * math.sqrt(area_m2 / math.pi)


def _bands(days: PlaceDays, state: State, watered: float) -> tuple[WetBand, ...]:
    columns, water = days.laid.columns, state.water_mm[0, :, :, 0]
    wilting, full, size = columns.wp_mm[0, :, 0], columns.fc_mm[0, :, 0], columns.thickness_mm[0]
    wetness, theta = (water - wilting) / (full - wilting), water / size
    parts = watered < 0.999
    return tuple(
        WetBand(
            float(top), float(bottom), float(wetness[0, i]), float(theta[0, i]),
            float(wetness[-1, i]) if parts else None, float(theta[-1, i]) if parts else None,
        )
        for i, (top, bottom) in enumerate(pairwise(days.laid.edges_m))
    )  # fmt: skip


def _soils(place: Place, bottom_m: float) -> tuple[Soil, ...]:
    out, top = [], 0.0
    for layer in place.soil:
        end = bottom_m if layer.thickness_m is None or layer is place.soil[-1] else top + layer.thickness_m
        if top < bottom_m:
            out.append(Soil(top, min(end, bottom_m), _soil_name(layer)))
        top = end
    return tuple(out)


def _soil_name(layer: SoilLayer) -> str:
    """A word for a layer: its mix or texture, or the texture class of its grains; else how it is known."""
    from soakbook.catalog import read as catalog
    from soakbook.physics.texture import texture_class

    sand, clay = layer.sand_pct, layer.clay_pct
    if layer.route == "jar" and layer.jar_sand_mm and layer.jar_silt_mm and layer.jar_clay_mm:
        total = layer.jar_sand_mm + layer.jar_silt_mm + layer.jar_clay_mm
        sand, clay = 100.0 * layer.jar_sand_mm / total, 100.0 * layer.jar_clay_mm / total
    if layer.route == "mix":
        return catalog.mixes()[layer.mix].name
    if layer.route == "texture":
        return catalog.textures()[layer.texture].name
    if sand is not None and clay is not None:
        return catalog.textures()[str(texture_class(sand, clay))].name
    return "soil"


def _plant(days: PlaceDays, today: int) -> PlantCut | None:
    """The planting that gives the place its height: the tallest alive; None on bare soil."""
    from soakbook.balance.crops import NONE, SEEDBED

    if int(days.crops.phase[today]) == NONE or not days.plantings:
        return None
    on = days.days[today].astype("datetime64[D]")
    alive = [
        (p, plant)
        for p, plant in days.plantings
        if (p.cleared is None or on < np.datetime64(p.cleared))
        and (p.established or on >= np.datetime64(p.planted_out or p.sown))
    ]
    if not alive:
        return None
    planting, plant = max(alive, key=lambda pair: pair[1].height_max_m.value)
    is_seed = int(days.crops.phase[today]) == SEEDBED
    return PlantCut(
        name=plant.name,
        shape="seed" if is_seed else _SHAPES.get(plant.id, _GROUPS.get(plant.group, "bush")),
        height_m=0.0 if is_seed else float(days.crops.height_m[today]),
        width_m=0.0 if is_seed else float(days.crops.width_m[today]),
        spacing_m=_spacing_m(days, planting, plant, today),
        seed_m=plant.sowing_depth_m.value if is_seed else 0.0,
    )


def _spacing_m(days: PlaceDays, planting: Planting, plant: Plant, today: int) -> float:
    """Mean distance between neighbours: in the row as given or usual, else what the count leaves."""
    if planting.in_row_m is not None or planting.count is None:
        return planting.in_row_m or plant.in_row_m.value
    place = days.place
    area = place.pot.top_area_m2 * place.pot.count if place.pot else place.area_m2
    return math.sqrt(area * planting.share / planting.count)


def _pot(place: Place) -> PotCut | None:
    pot = place.pot
    if pot is None:
        return None
    return PotCut(
        height_m=pot.height_m, fill_m=pot.height_m * pot.fill_fraction, top_m=_across(place, pot.top_area_m2),
        base_m=_across(place, pot.base_area_m2), wall=pot.wall, saucer_m=pot.saucer_depth_m,
    )  # fmt: skip


def _soak_m(days: PlaceDays, state: State, today: int, litres: float) -> float:
    """Depth to which so much water fills the watered part from the top, no deeper than the roots' reach."""
    left, depth = days.depth_mm(litres, today), 0.0
    short = np.maximum(days.laid.columns.fc_mm[0, :, 0] - state.water_mm[0, 0, :, 0], 0.0)
    reach = float(days.crops.reach_m[today])
    for lack, (top, bottom) in zip(short, pairwise(days.laid.edges_m), strict=True):
        if lack > left + 1e-9:
            depth = float(top + (bottom - top) * left / lack)
            break
        left, depth = left - float(lack), float(bottom)
    return min(depth, reach)
