"""A place laid out in columns: soil by layer, the surface, the pot; and the spread its members are drawn from."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import (
    AIR_NEEDED,
    DRY_BYPASS,
    DRY_FROM,
    ENOUGH,
    FIXED,
    HOLD,
    OVERHEAD,
    SAUCER,
    WALL,
    ZE,
    Columns,
)
from soakbook.catalog import read as catalog
from soakbook.catalog.model import Mix
from soakbook.errors import InputError
from soakbook.garden.model import Place, SoilLayer
from soakbook.physics import potting, soil
from soakbook.physics.evaporation import total_evaporable_water_mm
from soakbook.physics.soil import SoilWater
from soakbook.physics.texture import texture_class
from soakbook.said import Said, join_said, pattern, recognised, say

FloatArray = NDArray[np.float64]

#: Layers in every place; thin at the top.
LAYERS = 7
_BED_EDGES_M = np.array([0.0, 0.05, 0.10, 0.20, 0.35, 0.55, 0.80, 1.10])
#: Depth that dries by evaporation. FAO-56 p. 144: 0.10 to 0.15 m.
EVAPORATION_DEPTH_M = 0.10
#: Suction at which a bed mix over ground is taken to have drained. Common practice: raised beds drain to 5 to 10 kPa.
BED_MIX_SUCTION_CM = 60.0
#: Part of the water that runs straight through a mix dried past its critical point. Judged: peat that has dried takes up
#: about 30 % less (Agronomy 10:1389, sentence seen in part); the rest of a can finds the gap at the wall.
DRY_BYPASS_SHARE = 0.5
#: Lack of air is counted below this air-filled porosity (common practice: about 10 %), or half of what the soil has at
#: field capacity where that is less, so that a clay at field capacity does not count as too wet.
AIR_NEEDED_MAX = 0.10
#: Means whose water comes out beneath a mulch.
BENEATH = ("drip_line", "emitters", "soaker", "clay_pot", "tray")
#: Least available and drainable water that a slice of a pot is given. [m³/m³]
LEAST_STORE = 0.02
#: Share of the roots at ease that supplies a plant in full: the critical index of N. J. Jarvis, J. Hydrol. 107:57-72, 1989
#: (from memory; 0.5 is the usual choice).
ENOUGH_ROOTS = 0.5


@dataclass(frozen=True)
class Members:
    """Multipliers of the members, each shape (M,): how many standard deviations the store is off, and factors on demand,
    rain caught and water delivered; where given, also how many standard deviations (of its logarithm) the soil's
    conductivity is off, by which it drains and takes water in, and which path of day-to-day errors each follows
    (:mod:`soakbook.balance.wander`; none when not given)."""

    store_z: FloatArray
    demand: FloatArray
    catch: FloatArray
    delivery: FloatArray
    drainage_z: FloatArray | None = None
    paths: NDArray[np.int64] | None = None

    def __len__(self) -> int:
        return len(self.store_z)


def best_guess() -> Members:
    """One member, all at their best guess."""
    one = np.ones(1)
    return Members(np.zeros(1), one, one, one)


#: What :mod:`soakbook.physics.soil` says of a soil.
_SOIL_NOTES = (
    pattern("taken as a typical {texture}"),
    pattern("jar read as {sand} % sand, {clay} % clay"),
    pattern("saturation as in a typical {texture}"),
    pattern("conductivity as in a typical {texture}"),
    pattern("wilting point raised from {wilting} to {least}, the lowest of FAO-56 Table 19"),
    pattern("field capacity taken at {suction} kPa"),
)


@dataclass(frozen=True)
class LaidOut:
    """One place as columns, with what the advice needs beside them."""

    columns: Columns
    ground_m2: float
    edges_m: FloatArray
    wetted_fraction: float
    layers: tuple[SoilWater, ...]
    easily_used: float
    assumptions: tuple[str, ...]


def soil_of(layer: SoilLayer) -> SoilWater:
    """What a layer of the garden file holds, by whichever route it was described (not for mixes)."""
    made_of = (layer.organic_matter_pct, layer.stones_pct_w, layer.compaction)
    if layer.route == "texture":
        return soil.soil_from_texture(layer.texture, *made_of)
    if layer.route == "particles":
        if layer.sand_pct is None or layer.clay_pct is None:
            raise InputError(say("a soil by particles needs sand and clay."), code="soil.particles", field="sand_pct")
        return soil.soil_from_particles(layer.sand_pct, layer.clay_pct, *made_of)
    if layer.route == "measured":
        if layer.field_capacity is None or layer.wilting_point is None:
            raise InputError(say("a measured soil needs field capacity and wilting point."), code="soil.measured")
        return soil.soil_from_measured(
            layer.field_capacity, layer.wilting_point, layer.saturation, layer.conductivity_mm_h
        )
    if layer.route == "jar":
        if layer.jar_sand_mm is None or layer.jar_silt_mm is None or layer.jar_clay_mm is None:
            raise InputError(say("a jar test needs the heights of sand, silt and clay."), code="soil.jar")
        return soil.soil_from_jar(layer.jar_sand_mm, layer.jar_silt_mm, layer.jar_clay_mm, *made_of)
    if layer.route == "feel":
        return soil.soil_from_feel(layer.feel, *made_of)
    raise InputError(
        say("soil route {route} is not one of texture, particles, measured, jar, feel, mix.", route=repr(layer.route))
    )


def soil_note(water: SoilWater) -> str:
    """How the soil came to be known, so that it can be said in another language."""
    if isinstance(water.note, Said):
        return water.note
    return join_said([recognised(part, _SOIL_NOTES) for part in water.note.split("; ")], "; ")


def mix_in_bed(mix: Mix) -> SoilWater:
    """A bed mix drained over ground."""
    at = (mix.theta_r.value, mix.theta_s.value, mix.alpha_per_cm.value, mix.n.value)
    fc = float(potting.theta_van_genuchten(BED_MIX_SUCTION_CM, *at))
    return SoilWater(
        theta_wp=mix.wilting.value, theta_fc=fc, theta_sat=mix.theta_s.value, ks_mm_h=mix.ks_mm_h.value,
        theta_wp_sd=0.03, theta_fc_sd=0.06, ks_log_sd=0.7, route="mix", note=say("{mix}, drained to 6 kPa (judged)", mix=mix.name),
    )  # fmt: skip


def _intake(layer: SoilLayer, water: SoilWater) -> tuple[float, float, float]:
    """Green-Ampt suction [mm] and conductivity [mm/h] of the surface, and readily evaporable water [mm].

    The conductivity is the geometric mean of the field average of Rawls et al. (1983) and the estimate of Saxton & Rawls
    (2006): judged, for dug and mulched garden soil lies above the first, which is of whole landscapes, and the two together
    come near the handbook ranges of steady intake (loam 5 to 15 mm/h, clay loam 2 to 8, clay 0.5 to 3). Measure yours.
    """
    if layer.route == "mix":
        return 50.0, water.ks_mm_h, 8.0
    if layer.route == "texture":
        row = catalog.textures()[layer.texture]
    elif layer.route == "particles" and layer.sand_pct is not None and layer.clay_pct is not None:
        row = catalog.textures()[str(texture_class(layer.sand_pct, layer.clay_pct))]
    else:
        return 100.0, 0.5 * water.ks_mm_h, 8.0
    intake = math.sqrt(row.green_ampt_k_mm_h.value * water.ks_mm_h)
    return row.green_ampt_suction_mm.value, intake, row.rew_mm.value


def bed_edges_m(place: Place, root_full_m: float) -> FloatArray:
    """Layer boundaries of a bed: to the barrier, or a fifth beyond the deepest roots (0.6 to 1.8 m)."""
    bottom = place.root_barrier_m or float(np.clip(1.2 * root_full_m, 0.6, 1.8))
    return np.asarray(_BED_EDGES_M * (bottom / _BED_EDGES_M[-1]))


def _by_layer(values: FloatArray, depths_m: FloatArray, edges_m: FloatArray) -> FloatArray:
    """Thickness-weighted mean of soil values over the column's layers. ``depths_m``: bottoms, the last one infinite."""
    tops = np.concatenate([[0.0], depths_m[:-1]])
    overlap = np.minimum(edges_m[1:, None], depths_m) - np.maximum(edges_m[:-1, None], tops)
    overlap = np.maximum(overlap, 0.0)
    mean: FloatArray = (overlap * values).sum(1) / overlap.sum(1)
    return mean


def lay_out(place: Place, root_full_m: float, members: Members) -> LaidOut:
    """Lay a place out in columns (P = 1).

    Parameters
    ----------
    place
        The place.
    root_full_m
        Deepest rooting of what grows there this season. [m]
    members
        Multipliers of the members.

    Returns
    -------
    LaidOut
    """
    return _pot(place, members) if place.pot is not None else _bed(place, root_full_m, members)


def _bed(place: Place, root_full_m: float, members: Members) -> LaidOut:
    notes: list[str] = []
    waters = tuple(mix_in_bed(catalog.mixes()[s.mix]) if s.route == "mix" else soil_of(s) for s in place.soil)
    depths = np.cumsum([np.inf if s.thickness_m is None else s.thickness_m for s in place.soil])
    depths[-1] = np.inf
    edges = bed_edges_m(place, root_full_m)
    pick = {
        f: _by_layer(np.array([getattr(w, f) for w in waters]), depths, edges)
        for f in ("theta_wp", "theta_fc", "theta_sat", "theta_fc_sd")
    }
    slowness = _by_layer(1.0 / np.array([w.ks_mm_h for w in waters]), depths, edges)
    sd = _by_layer(np.array([_available_sd(w) for w in waters]), depths, edges)
    ks_sd = _by_layer(np.array([w.ks_log_sd for w in waters]), depths, edges)
    suction, intake, rew = _intake(place.soil[0], waters[0])
    means = catalog.means()[place.means]
    wetted = means.wetted_fraction.value if place.wetted_fraction is None else place.wetted_fraction
    notes += [soil_note(w) for w in waters if w.note]
    thickness = 1000.0 * np.diff(edges)
    columns = _columns(
        place, members, thickness, pick["theta_wp"], pick["theta_fc"], pick["theta_sat"], 1.0 / slowness, sd, ks_sd,
        rew=rew, suction=suction, intake=intake, catch=1.0, efficiency=means.efficiency.value,
    )  # fmt: skip
    return LaidOut(columns, place.area_m2, edges, wetted, waters, 1.0, tuple(notes))


def _available_sd(water: SoilWater) -> float:
    """Standard deviation of the available water, as a fraction of it, at most 0.35."""
    sd: float = min(water.available_water_sd / (water.theta_fc - water.theta_wp), 0.35)
    return sd


def soil_in_pot(water: SoilWater, suction_cm: FloatArray, *, is_measured: bool) -> FloatArray:
    """Water content of drained garden soil at heights above a pot's base. [m³/m³]

    Field capacity the grower measured is taken as that of the pot and kept. Else garden soil stays wetter in a pot than in
    the ground, for it drains only to its height: between saturation at the base and field capacity at 33 kPa the water
    content falls with the logarithm of suction above 1 kPa (judged; loam then has 2 to 5 % of air in a pot of 10 to 40 cm,
    as the retention of Carsel & Parrish 1988 gives).
    """
    if is_measured:
        return np.full(len(suction_cm), water.theta_fc)
    kpa = np.maximum(0.0981 * suction_cm, 1.0)
    share = np.minimum(np.log(kpa) / math.log(33.0), 1.0)
    return np.asarray(water.theta_sat - (water.theta_sat - water.theta_fc) * share)


def _pot(place: Place, members: Members) -> LaidOut:
    pot = place.pot
    assert pot is not None
    height = pot.height_m * pot.fill_fraction
    layer = place.soil[0]
    if layer.route == "mix":
        mix = catalog.mixes()[layer.mix]
        at = (mix.theta_r.value, mix.theta_s.value, mix.alpha_per_cm.value, mix.n.value)
        slices = potting.pot_layers(height, LAYERS, *at, base_to_top_area=pot.base_area_m2 / pot.top_area_m2)
        capacity, sat = slices.theta_capacity, mix.theta_s.value
        wilting, ks = mix.wilting.value, mix.ks_mm_h.value
        easy = float(potting.theta_van_genuchten(50.0, *at))
        mean = float(np.sum(slices.weight * capacity))
        easily_used = float(np.clip((mean - easy) / (mean - wilting), 0.2, 0.8))
        dry_from = float(np.clip((mix.critical_dry.value - wilting) / (mean - wilting), 0.05, 0.5))
        bypass, sd = DRY_BYPASS_SHARE, 0.15
        water = SoilWater(
            wilting,
            mean,
            sat,
            ks,
            0.03,
            0.05,
            0.7,
            route="mix",
            note=say("{mix} in a {height:.0f} cm pot", mix=mix.name, height=100 * height),
        )
    else:
        water = soil_of(layer)
        shape = pot.base_area_m2 / pot.top_area_m2
        # Only the slices' sizes are taken from here: 1/cm and shape are of no soil.
        slices = potting.pot_layers(height, LAYERS, 0.0, water.theta_sat, 0.01, 1.5, base_to_top_area=shape)
        capacity = soil_in_pot(water, slices.suction_cm, is_measured=layer.route == "measured")
        sat, wilting, ks = water.theta_sat, water.theta_wp, water.ks_mm_h
        easily_used, dry_from, bypass, sd = 0.5, 0.0, 0.0, _available_sd(water)
    # At the top of a very tall pot the mix drains below what roots can use: such slices keep a sliver, so that the sums hold.
    capacity = np.clip(capacity, wilting + LEAST_STORE, sat - LEAST_STORE)
    ground = pot.volume_l / 1000.0 / height
    thickness = 1000.0 * slices.thickness_m * slices.area / np.sum(slices.weight * slices.area)
    thickness = thickness * (1000.0 * height / thickness.sum())
    full = np.ones(LAYERS)
    means = catalog.means()[place.means]
    columns = _columns(
        place, members, thickness, wilting * full, capacity, sat * full, ks * full, sd * full,
        water.ks_log_sd * full, rew=8.0, suction=50.0, intake=ks, catch=pot.top_area_m2 / ground,
        efficiency=means.efficiency.value,
    )  # fmt: skip
    fixed = columns.fixed.copy()
    # A saucer holds its depth over the pot's foot; what stands beside the foot is not counted.
    fixed[0, SAUCER] = 1000.0 * pot.saucer_depth_m * pot.base_area_m2 / ground
    fixed[0, DRY_FROM], fixed[0, DRY_BYPASS] = dry_from, bypass
    factor = potting.WALL_FACTOR[pot.wall]
    around = np.pi * (np.sqrt(pot.top_area_m2 / np.pi) + np.sqrt(pot.base_area_m2 / np.pi))
    fixed[0, WALL] = factor * around * 0.001 / ground
    edges = height * np.linspace(0.0, 1.0, LAYERS + 1)
    return LaidOut(
        replace(columns, fixed=fixed), ground * pot.count, edges, 1.0, (water,), easily_used, (soil_note(water),)
    )


def _columns(
    place: Place, members: Members, thickness_mm: FloatArray, wp: FloatArray, fc: FloatArray, sat: FloatArray,
    ks: FloatArray, sd: FloatArray, ks_log_sd: FloatArray, *, rew: float, suction: float, intake: float, catch: float,
    efficiency: float,
) -> Columns:  # fmt: skip
    m = len(members)
    faster = np.zeros((len(ks), m)) if members.drainage_z is None else ks_log_sd[:, None] * members.drainage_z
    shift = (fc - wp)[:, None] * sd[:, None] * members.store_z  # the store moves, the room above it stays
    theta_fc, theta_sat = fc[:, None] + shift, sat[:, None] + shift
    size = thickness_mm[:, None]
    edges = np.concatenate([[0.0], np.cumsum(thickness_mm)]) / 1000.0
    into = np.clip(EVAPORATION_DEPTH_M - edges[:-1], 0.0, np.diff(edges)) / np.diff(edges)
    drying = np.sum(into * np.diff(edges))
    share = into * np.diff(edges) / drying
    dry, deep = float(share @ wp), float(drying)
    tew = np.array([total_evaporable_water_mm(full, dry, deep) for full in (share @ theta_fc).tolist()])
    fixed = np.zeros((1, len(FIXED)))
    fixed[0, ZE] = drying
    fixed[0, ENOUGH] = ENOUGH_ROOTS
    fixed[0, AIR_NEEDED] = min(AIR_NEEDED_MAX, 0.5 * float(np.min(sat - fc)))
    if place.mulch is not None:
        kind = catalog.mulches()[place.mulch.kind]
        fixed[0, HOLD] = kind.holds_mm.value * place.mulch.cover_fraction
        fixed[0, OVERHEAD] = 0.0 if place.means in BENEATH else 1.0

    def lane(v: float | FloatArray) -> FloatArray:
        return np.ascontiguousarray(np.broadcast_to(np.asarray(v, dtype=float), (1, m)))

    def block(v: FloatArray) -> FloatArray:
        return np.ascontiguousarray(np.broadcast_to(v, (len(thickness_mm), m)))[None]

    return Columns(
        wp_mm=block(wp[:, None] * size),
        fc_mm=block(theta_fc * size),
        sat_mm=block(theta_sat * size),
        ks_mm_h=block(ks[:, None] * np.exp(faster)),
        thickness_mm=thickness_mm[None].copy(),
        evaporating=into[None].copy(),
        rew_mm=lane(np.minimum(rew, 0.8 * tew)),
        tew_mm=lane(tew),
        suction_mm=lane(suction),
        # Intake goes with the square root: half of it rests on figures of its own (see _intake).
        intake_mm_h=lane(intake * np.exp(0.5 * faster[0])),
        demand=lane(members.demand),
        catch=lane(catch * members.catch),
        delivery=lane(efficiency * members.delivery),
        fixed=fixed,
        weather_of=np.zeros(1, dtype=np.int64),
        footprints=1 if place.pot is not None else 2,
    )
