"""Columns: the arrays in which the kernel finds places, and what it gives back.

A *column* is one footprint of one member of one place. Places stand along the first axis (``P``), members along the last
(``M``); footprints (``F``: 1, or wetted strip and dry remainder) and layers (``L``) between them; steps are ``T``.
Everything is float64 and C-contiguous. Depths are mm over the footprint or place named, rates mm/h.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Fluxes the kernel returns, in order. All are mm over the place's area per step unless it says otherwise.
FLUXES = (
    "rain",  # rain that reached the place
    "irrigation",  # water put on
    "runoff",  # what did not go in
    "drainage",  # below the lowest layer, or out of the pot
    "evaporation",  # from soil, mulch and saucer
    "transpiration",  # through the plants
    "wanted",  # transpiration the plants would have had without stress
    "stress",  # Ks of dryness, 0 to 1 (a mean over the step, not a depth)
    "soggy",  # Kw of wetness, 0 to 1
    "into_wet",  # the last three over the first footprint only: what went into its soil,
    "evaporation_wet",  # what evaporated from it,
    "transpiration_wet",  # and what roots drew from it
)
(
    RAIN, IRRIGATION, RUNOFF, DRAINAGE, EVAPORATION, TRANSPIRATION, WANTED, STRESS, SOGGY,
    INTO_WET, EVAPORATION_WET, TRANSPIRATION_WET,
) = range(len(FLUXES))  # fmt: skip

#: Columns of the crop table, one row per place and step.
CROP = (
    "kcb",  # basal crop coefficient over the place's area
    "kc_max",  # upper limit of Kcb + Ke
    "few_wet",  # exposed wetted fraction in the first footprint, of the place's area
    "few_dry",  # the same for the second footprint
    "p",  # depletion fraction before stress, adjusted for demand
    "ke_cut",  # what a mulch leaves of soil evaporation, 0 to 1
    "hours",  # hours over which the step's rain falls
    "area_wet",  # fraction of the place's area in the first footprint, 1 with a single footprint
)
KCB, KC_MAX, FEW_WET, FEW_DRY, DEPLETION_P, KE_CUT, HOURS, AREA_WET = range(len(CROP))

#: Per-place numbers that all members share.
FIXED = (
    "hold_mm",  # rain and spray held by mulch before any reaches the soil
    "saucer_mm",  # water a saucer holds
    "dry_from",  # wetness (fraction of available water) below which a mix takes water badly, 0 for soil
    "dry_bypass",  # fraction of water that then runs straight through
    "tew_depth_m",  # depth drying by evaporation
    "wall",  # evaporation through the pot's wall per mm of its height, as a multiple of ETo
    "air_needed",  # air-filled pores below which roots lack air, m3/m3
    "overhead",  # 1 where what is put on falls on the mulch first, 0 where it comes out beneath
    "enough",  # how far wetter roots make up for dry ones: the share of roots that supplies all (Jarvis' critical index), 1 for none
)
HOLD, SAUCER, DRY_FROM, DRY_BYPASS, ZE, WALL, AIR_NEEDED, OVERHEAD, ENOUGH = range(len(FIXED))


@dataclass(frozen=True)
class Columns:
    """Places laid out for the kernel; see the module's head for the axes.

    ``wp_mm``, ``fc_mm``, ``sat_mm``, ``ks_mm_h``: (P, L, M). ``thickness_mm``, ``evaporating``: (P, L), the latter the
    part of each layer within the drying depth. ``rew_mm``, ``tew_mm``, ``suction_mm``, ``intake_mm_h``, ``demand``,
    ``catch``, ``delivery``: (P, M): surface store and intake, and the members' multipliers on demand, rain caught and
    water delivered. ``fixed``: (P, len(FIXED)). ``weather_of``: (P,) index into the weather arrays.
    """

    wp_mm: FloatArray
    fc_mm: FloatArray
    sat_mm: FloatArray
    ks_mm_h: FloatArray
    thickness_mm: FloatArray
    evaporating: FloatArray
    rew_mm: FloatArray
    tew_mm: FloatArray
    suction_mm: FloatArray
    intake_mm_h: FloatArray
    demand: FloatArray
    catch: FloatArray
    delivery: FloatArray
    fixed: FloatArray
    weather_of: NDArray[np.int64]
    footprints: int = 1

    @property
    def shape(self) -> tuple[int, int, int]:
        """(places, layers, members)."""
        p, n, m = self.wp_mm.shape
        return p, n, m


@dataclass(frozen=True)
class Forcing:
    """What acts on the columns.

    ``eto_mm`` and ``rain_mm``: (W, T, M), a row per exposure; ``irrigation_mm``: (P, T, F), over each footprint;
    ``crop``: (P, T, len(CROP)); ``roots``: (P, T, F, L), shares of uptake adding to 1 over F and L, all 0 without roots.
    ``step_hours``: 1 or 24.
    """

    eto_mm: FloatArray
    rain_mm: FloatArray
    irrigation_mm: FloatArray
    crop: FloatArray
    roots: FloatArray
    step_hours: float


@dataclass(frozen=True)
class State:
    """What the columns hold: layer water (P, F, L, M), surface depletion and mulch (P, F, M), saucer and lack of air
    (P, M), and the fraction of the area that the first footprint has (P,)."""

    water_mm: FloatArray
    surface_mm: FloatArray
    held_mm: FloatArray
    saucer_mm: FloatArray
    airless: FloatArray
    area_wet: FloatArray

    def copy(self) -> State:
        """A state that can be run on without touching this one."""
        parts = (self.water_mm, self.surface_mm, self.held_mm, self.saucer_mm, self.airless, self.area_wet)
        return State(*(a.copy() for a in parts))


@dataclass(frozen=True)
class Result:
    """A run: ``fluxes`` (P, T, len(FLUXES), M) and ``water_mm`` (P, T, F, L, M) at the end of each step when they were
    kept, else empty; ``totals`` (P, len(FLUXES), M); ``balance_error`` the worst imbalance relative to the water that
    passed through; ``steps`` the steps that were kept, rising (all of them, unless some were asked for)."""

    end: State
    totals: FloatArray
    balance_error: float
    fluxes: FloatArray = field(default_factory=lambda: np.empty((0, 0, 0, 0)))
    water_mm: FloatArray = field(default_factory=lambda: np.empty((0, 0, 0, 0, 0)))
    surface_mm: FloatArray = field(default_factory=lambda: np.empty((0, 0, 0, 0)))
    steps: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))

    def __post_init__(self) -> None:
        if not len(self.steps) and self.water_mm.size:
            object.__setattr__(self, "steps", np.arange(self.water_mm.shape[1]))

    def slot(self, step: int) -> int:
        """Where what stood after a step is kept; KeyError where it was not."""
        at = int(np.searchsorted(self.steps, step))
        if at >= len(self.steps) or self.steps[at] != step:
            raise KeyError(step)
        return at


def state_at(columns: Columns, area_wet: FloatArray, available: float | FloatArray = 1.0) -> State:
    """A state with the same fraction of available water in each layer (1 = field capacity), nothing on the mulch.

    ``available`` broadcasts to (P, F, L, M); ``area_wet`` (P,) is the first footprint's fraction of the area.
    """
    p, layers, m = columns.shape
    share = np.broadcast_to(np.asarray(available, dtype=float), (p, columns.footprints, layers, m))
    wp, fc = columns.wp_mm[:, None], columns.fc_mm[:, None]
    water = np.ascontiguousarray(wp + share * (fc - wp))
    dry = np.sum((fc - water) * columns.evaporating[:, None, :, None], axis=2)
    surface = np.clip(dry, 0.0, columns.tew_mm[:, None])
    zeros = np.zeros((p, columns.footprints, m))
    return State(
        water, np.ascontiguousarray(surface), zeros, np.zeros((p, m)), np.zeros((p, m)), np.array(area_wet, dtype=float)
    )
