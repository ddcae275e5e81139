"""Random true gardens around what the grower believes. Everything comes from one numpy generator.

Spreads without a source are judged: what two gardens of the same description may well differ by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from soakbook.catalog.model import Means, Plant
from soakbook.catalog.read import means, mixes, plants
from soakbook.errors import InputError
from soakbook.season.truth import soils
from soakbook.season.truth.curves import Soil, water_content
from soakbook.season.truth.uptake import KY_STAGES, Heads, heads_of

FloatArray = NDArray[np.float64]

#: Columns a place is made of: more and less watered, or wetted and dry.
FEET = 2


class Fault(IntEnum):
    """What is wrong with a place from its starting day on."""

    NONE = 0
    BLOCKED = 1
    LEAK = 2
    NEVER_OPENED = 3
    LEFT_ON = 4
    GAUGE_IN_SHADOW = 5
    COMPACTED = 6
    REPELS = 7


@dataclass(frozen=True)
class Believed:
    """A place as the grower describes it; ``ground`` is a texture class or a mix of the catalogue."""

    plant: str
    ground: str
    means: str = "drip_line"
    kind: Literal["bed", "pot"] = "bed"
    pot_height_cm: float = 25.0
    #: Ground the leaves of a pot's plant cover when grown, in tops of the pot.
    canopy_ratio: float = 1.0
    #: Part of a bed that its means wets; the catalogue's where the grower says nothing.
    wetted_fraction: float | None = None


@dataclass(frozen=True)
class Spread:
    """How far truth may stray from belief: standard deviations of logarithms, unless said otherwise."""

    flow: float = 0.20
    rain: float = 0.12
    demand: float = 0.12
    cover: float = 0.10
    roots: float = 0.20
    stages: float = 0.10
    #: Share of places with a fault.
    faults: float = 0.25
    #: Share of plants whose roots make up for dry ones elsewhere.
    compensating: float = 0.0


@dataclass(frozen=True)
class Probe:
    """A true 0-10 dial: ``low + (high - low) w^bend`` of the wetness w of the soil at its tip, plus salt, with noise."""

    low: FloatArray
    high: FloatArray
    bend: FloatArray
    salt: FloatArray
    noise: FloatArray


@dataclass(frozen=True)
class Hidden:
    """G true places. Arrays by place, by place and foot, by place and stage; lengths in cm, amounts in mm."""

    believed: tuple[Believed, ...]
    thick_cm: tuple[FloatArray, ...]
    layers: tuple[tuple[Soil, ...], ...]
    is_pot: NDArray[np.bool_]
    kc: FloatArray
    kc_end: FloatArray
    extinction: FloatArray
    lai_most: FloatArray
    lai_last: FloatArray
    stage_days: FloatArray
    demand_factor: FloatArray
    leaf_factor: FloatArray
    ground_factor: FloatArray
    root_start_cm: FloatArray
    root_most_cm: FloatArray
    root_stop_cm: FloatArray
    root_steepness: FloatArray
    heads_cm: FloatArray
    omega: FloatArray
    ky: FloatArray
    ky_season: FloatArray
    flow_factor: FloatArray
    lost_share: FloatArray
    rate_mm_h: FloatArray
    foot_share: FloatArray
    foot_dose: FloatArray
    foot_roots: FloatArray
    rain_factor: FloatArray
    pond_mm: FloatArray
    probe: Probe
    fault: NDArray[np.int64]
    fault_day: NDArray[np.int64]
    fault_size: FloatArray
    wetness_start: FloatArray
    seed: int = field(default=0)

    def __len__(self) -> int:
        return len(self.believed)


def draw(believed: Sequence[Believed], seed: int, *, spread: Spread | None = None, season_days: int = 150) -> Hidden:
    """True places for what is believed of them: the same seed gives the same truth.

    Each place is drawn from its own stream, so that a garden does not change when another is added after it.
    """
    spread = spread or Spread()
    streams = np.random.SeedSequence(seed).spawn(len(believed))
    one = [_place(b, np.random.default_rng(s), spread, season_days) for b, s in zip(believed, streams, strict=True)]

    def of(name: str) -> Any:
        return np.array([p[name] for p in one])

    apart = {"thick_cm", "layers", "is_pot", "probe"}
    return Hidden(
        believed=tuple(believed),
        thick_cm=tuple(p["thick_cm"] for p in one),
        layers=tuple(p["layers"] for p in one),
        is_pot=np.array([b.kind == "pot" for b in believed]),
        probe=Probe(*np.array([p["probe"] for p in one]).T),
        seed=seed,
        **{name: of(name) for name in one[0] if name not in apart},
    )


def _place(believed: Believed, rng: np.random.Generator, spread: Spread, season_days: int) -> dict[str, Any]:
    fault, day, size = _fault(believed, rng, spread.faults, season_days)
    found: dict[str, Any] = {"fault": fault, "fault_day": day, "fault_size": size}
    found |= _ground(believed, rng, fault)
    found |= _plant(believed, plants()[_known(believed)], found["layers"][0], rng, spread)
    found |= _delivery(believed, means()[believed.means], rng, spread)
    found["probe"] = (
        rng.uniform(0.0, 1.5), rng.uniform(8.0, 11.0), rng.uniform(0.5, 1.8), abs(rng.normal(0.0, 0.5)), rng.uniform(0.2, 0.6)
    )  # fmt: skip
    found["wetness_start"] = rng.uniform(0.5, 1.0)
    return found


def _known(believed: Believed) -> str:
    if believed.plant not in plants():
        raise InputError(
            f"Plant must be an id of the catalogue (got {believed.plant!r}).", code="truth.plant", field="plant"
        )
    if believed.means not in means():
        raise InputError(
            f"Means must be an id of the catalogue (got {believed.means!r}).", code="truth.means", field="means"
        )
    return believed.plant


def _fault(believed: Believed, rng: np.random.Generator, share: float, season_days: int) -> tuple[int, int, float]:
    """Which fault, from which day (a compacted layer and a repelling mix are there all along), and how bad."""
    has, day, size = rng.uniform() < share, int(rng.integers(10, max(season_days - 20, 11))), rng.uniform()
    kinds = [f for f in Fault if f is not Fault.NONE and not (believed.kind == "pot" and f is Fault.COMPACTED)]
    if believed.ground not in mixes():
        kinds.remove(Fault.REPELS)
    kind = kinds[int(rng.integers(len(kinds)))]
    if not has:
        return int(Fault.NONE), 0, 0.0
    return int(kind), 0 if kind in (Fault.COMPACTED, Fault.REPELS) else day, size


def _ground(believed: Believed, rng: np.random.Generator, fault: int) -> dict[str, Any]:
    top = soils.draw_soil(believed.ground, rng)
    if believed.kind == "pot":
        height = believed.pot_height_cm * rng.uniform(0.85, 1.0)  # not filled to the rim
        cells = max(6, round(height))
        return {"thick_cm": np.full(cells, height / cells), "layers": (top,) * cells, "pond_mm": rng.uniform(10.0, 30.0),
                "root_stop_cm": np.inf}  # fmt: skip
    thick = _bed_cells(rng.uniform(100.0, 130.0))
    below = soils.subsoil(top, rng) if believed.ground in soils.CARSEL_PARRISH else soils.subsoil(
        soils.draw_soil(("sandy_loam", "loam", "silt_loam", "clay_loam")[int(rng.integers(4))], rng), rng
    )  # fmt: skip
    dug, pan_from, pan = rng.uniform(20.0, 45.0), rng.uniform(18.0, 32.0), rng.uniform(4.0, 10.0)
    middle = np.cumsum(thick) - 0.5 * thick
    hard = soils.packed(below, rng)
    layers = tuple(
        hard if fault == Fault.COMPACTED and pan_from <= z < pan_from + pan else top if z < dug else below
        for z in middle
    )
    return {
        "thick_cm": thick, "layers": layers, "pond_mm": float(np.exp(rng.normal(np.log(5.0), 0.5))),
        "root_stop_cm": pan_from + 0.3 * pan if fault == Fault.COMPACTED else np.inf,
    }  # fmt: skip


def _bed_cells(depth_cm: float) -> FloatArray:
    """Cells from 1 cm at the surface, each 8 % thicker than the one above, filling the depth."""
    count = round(np.log1p(0.08 * depth_cm) / np.log(1.08))
    thick = 1.08 ** np.arange(count)
    return np.asarray(thick * depth_cm / thick.sum())


def _airy_cm(soil: Soil, air: float) -> float:
    """The suction at which a share ``air`` of the soil's volume is drained."""
    s = max(1e-6, 1.0 - air / (soil.theta_s - soil.theta_r))
    return float((s ** (-1.0 / (1.0 - 1.0 / soil.n)) - 1.0) ** (1.0 / soil.n) / soil.alpha_per_cm)


def _between(heads: Heads, plant: Plant, soil: Soil, share: float) -> tuple[float, float]:
    """Heads at which roots begin to lack water at 5 mm a day and at 1 mm a day, somewhere between two published accounts that differ
    by half of what a soil holds: the list of heads (share 0), and FAO-56 Table 22's part p of the available water, p + 0.04 (5 - ETc),
    gone from this very soil (share 1). [cm]"""
    p = float(plant.depletion_p)
    of_water = (-_used_cm(soil, p), -_used_cm(soil, min(p + 0.16, 0.8)))
    low, high = (
        -((-a) ** (1.0 - share) * (-b) ** share) for a, b in zip((heads.h3_high, heads.h3_low), of_water, strict=True)
    )
    return low, min(high, low)


def _used_cm(soil: Soil, part: float) -> float:
    """The suction at which a part of the water between 100 and 15,000 cm is gone. [cm]"""
    full, dry = (float(water_content(soil, -h)) for h in (100.0, 15_000.0))
    s = (full - part * (full - dry) - soil.theta_r) / (soil.theta_s - soil.theta_r)
    return float((s ** (-1.0 / (1.0 - 1.0 / soil.n)) - 1.0) ** (1.0 / soil.n) / soil.alpha_per_cm)


def _plant(believed: Believed, plant: Plant, soil: Soil, rng: np.random.Generator, spread: Spread) -> dict[str, Any]:
    def off(sd: float) -> float:
        return float(np.exp(sd * rng.standard_normal()))

    heads = heads_of(plant.group)
    dry = off(0.25)
    # Roots lack air at the listed heads, or nearer saturation in ground coarse enough to hold a twentieth and a tenth of air there.
    wet = [max(heads.h1, -_airy_cm(soil, 0.05)), max(heads.h2, -_airy_cm(soil, 0.10))]
    h3_high, h3_low = _between(heads, plant, soil, float(rng.spawn(1)[0].uniform()))
    rows = [*wet, h3_high * dry, h3_low * dry, heads.h4]
    if believed.kind == "pot":
        # Mixes give little past 100 cm: judged.
        rows = [*wet, -60.0 * dry, -100.0 * dry, -3000.0]
    extinction, lai, kc = rng.uniform(0.5, 0.75), rng.uniform(2.5, 4.5), float(plant.kcb_mid) * off(spread.cover)
    full = kc / -np.expm1(-extinction * lai)
    ky = KY_STAGES.get(plant.group, (np.nan,) * 4)
    stages = np.array([float(d) for d in (plant.days_ini, plant.days_dev, plant.days_mid, plant.days_late)])
    return {
        "kc": full, "kc_end": full * (0.5 + 0.5 * float(plant.kcb_end) / float(plant.kcb_mid)),
        "extinction": extinction, "lai_most": lai, "lai_last": lai * min(1.0, float(plant.kcb_end) / float(plant.kcb_mid)),
        "stage_days": np.maximum(stages, 1.0) * np.exp(spread.stages * rng.standard_normal(4)),
        "demand_factor": off(spread.demand), "leaf_factor": believed.canopy_ratio, "ground_factor": rng.uniform(0.9, 1.1),
        "root_start_cm": max(5.0, 100.0 * float(plant.root_min_m) * off(0.2)),
        "root_most_cm": max(8.0, 100.0 * float(plant.root_max_m) * off(spread.roots)),
        "root_steepness": rng.uniform(1.5, 3.5), "heads_cm": np.array(rows),
        "omega": rng.uniform(0.4, 0.9) if rng.uniform() < spread.compensating else 1.0,
        "ky": np.array(ky) * off(0.1), "ky_season": float(plant.ky) * off(0.1),
    }  # fmt: skip


def _delivery(believed: Believed, way: Means, rng: np.random.Generator, spread: Spread) -> dict[str, Any]:
    """Feet: two of a half each, watered one spread more and one less than the mean, or the wetted strip and what stays dry."""
    said, is_pot = believed.wetted_fraction, believed.kind == "pot"
    wet, uneven = float(way.wetted_fraction) if said is None else said, rng.uniform(0.1, 0.35)
    if is_pot or wet > 0.75:
        share, dose, roots = np.array([0.5, 0.5]), np.array([1.0 + uneven, 1.0 - uneven]), np.array([0.5, 0.5])
    else:
        wet = float(np.clip(wet * np.exp(0.2 * rng.standard_normal()), 0.15, 0.9))
        wet += (1.0 - wet) * rng.uniform(0.15, 0.45)  # the bulb is wider below than what shows
        held = wet + (1.0 - wet) * rng.uniform(0.75, 1.0)  # roots follow the water
        share, dose, roots = np.array([wet, 1.0 - wet]), np.array([1.0 / wet, 0.0]), np.array([held, 1.0 - held])
    return {
        "flow_factor": float(np.exp(spread.flow * rng.standard_normal())),
        "lost_share": float(np.clip((1.0 - float(way.efficiency)) * rng.uniform(0.3, 1.5), 0.0, 0.6)),
        "rate_mm_h": float(way.rate_mm_h), "foot_share": share, "foot_dose": dose, "foot_roots": roots,
        "rain_factor": float(np.exp(spread.rain * rng.standard_normal())) * (rng.uniform(0.4, 1.0) if is_pot else 1.0),
    }  # fmt: skip
