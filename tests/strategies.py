"""Random columns and weather, as wide as validation lets a garden be."""

from __future__ import annotations

import numpy as np

from soakbook.balance.columns import (
    AIR_NEEDED,
    AREA_WET,
    CROP,
    DEPLETION_P,
    DRY_BYPASS,
    DRY_FROM,
    ENOUGH,
    FEW_DRY,
    FEW_WET,
    FIXED,
    HOLD,
    HOURS,
    KC_MAX,
    KCB,
    KE_CUT,
    OVERHEAD,
    SAUCER,
    WALL,
    ZE,
    Columns,
    Forcing,
    State,
)


def random_case(
    seed: int, *, feet: int = 1, layers: int = 6, members: int = 5, steps: int = 40, places: int = 2, hours: float = 24.0,
    rough: bool = True,
) -> tuple[Columns, Forcing, State]:  # fmt: skip
    """Columns, forcing and state drawn at random; ``rough`` adds floods, droughts, dry mixes and saucers."""
    rng = np.random.default_rng(seed)
    shape = (places, layers, members)
    lane = (places, members)
    thick = np.sort(rng.uniform(10, 400, (places, layers)), axis=1)
    wp = rng.uniform(0.01, 0.30, (places, layers, 1)) * rng.uniform(0.8, 1.2, shape)
    fc = wp + rng.uniform(0.03, 0.30, (places, layers, 1)) * rng.uniform(0.7, 1.3, shape)
    sat = fc + rng.uniform(0.02, 0.30, shape)
    size = thick[:, :, None]
    fixed = np.zeros((places, len(FIXED)))
    area = np.ones((places, steps)) if feet == 1 else np.repeat(rng.uniform(0.05, 0.95, (places, 1)), steps, axis=1)
    if feet == 2 and rough:  # a watered patch that grows, stays and shrinks
        area[:, steps // 3 :] = rng.uniform(0.05, 0.95, (places, 1))
        area[:, steps // 2 :] = rng.uniform(0.05, 0.95, (places, 1))
    fixed[:, ZE] = 0.1
    fixed[:, ENOUGH] = rng.uniform(0.3, 1.0, places)
    fixed[:, AIR_NEEDED] = rng.uniform(0.01, 0.1, places)
    if rough:
        fixed[:, HOLD] = rng.choice([0.0, 4.0], places)
        fixed[:, OVERHEAD] = rng.choice([0.0, 1.0], places)
        if feet == 1:
            fixed[:, SAUCER] = rng.choice([0.0, 10.0], places)
            fixed[:, DRY_FROM] = rng.choice([0.0, 0.3], places)
            fixed[:, DRY_BYPASS] = 0.5 * (fixed[:, DRY_FROM] > 0)
            fixed[:, WALL] = rng.choice([0.0, 0.004], places)
    edges = np.concatenate([np.zeros((places, 1)), np.cumsum(thick, axis=1)], axis=1)
    into = np.clip(100.0 - edges[:, :-1], 0, thick) / thick
    tew = 1000 * np.mean(fc[:, :2] - 0.5 * wp[:, :2], axis=1) * 0.1
    columns = Columns(
        wp * size, fc * size, sat * size, rng.uniform(0.3, 300, shape), thick, np.ascontiguousarray(into),
        tew * rng.uniform(0.2, 0.8, lane), tew, rng.uniform(20, 350, lane), rng.uniform(0.3, 300, lane),
        rng.uniform(0.7, 1.4, lane), rng.uniform(0.5, 1.3, lane), rng.uniform(0.5, 1.0, lane), fixed,
        rng.integers(0, 2, places), feet,
    )  # fmt: skip
    part = hours / 24.0
    eto = rng.uniform(0, 14, (2, steps, members)) * part
    wet = rng.random((2, steps, 1)) < 0.25
    rain = np.where(wet, rng.exponential(15, (2, steps, members)), 0.0)
    if rough:
        rain = np.where(rng.random((2, steps, 1)) < 0.03, 300.0, rain)
    put = np.zeros((places, steps, feet))
    put[:, ::5, 0] = rng.choice([0.0, 5.0, 40.0, 400.0 if rough else 40.0], put[:, ::5, 0].shape)
    crop = np.zeros((places, steps, len(CROP)))
    crop[:, :, KC_MAX] = rng.uniform(1.0, 1.4, (places, steps))
    crop[:, :, KCB] = rng.uniform(0, 1, (places, steps)) * (crop[:, :, KC_MAX] - 0.05)
    bare = rng.uniform(0.0, 1.0, (places, steps))
    crop[:, :, FEW_WET] = bare * area
    crop[:, :, FEW_DRY] = bare * (1 - area)
    crop[:, :, DEPLETION_P] = rng.uniform(0.1, 0.8, (places, steps))
    crop[:, :, KE_CUT] = rng.choice([1.0, 0.5], (places, 1))
    crop[:, :, HOURS] = min(6.0, hours)
    crop[:, :, AREA_WET] = area
    roots = rng.uniform(0, 1, (places, steps, feet, layers))
    if feet == 2:
        roots[:, :, 1] *= (1 - area)[:, :, None]
    roots /= roots.sum(axis=(2, 3), keepdims=True)
    available = rng.uniform(0.0, 1.0, (places, feet, layers, members))
    water = columns.wp_mm[:, None] + available * (columns.sat_mm - columns.wp_mm)[:, None]
    skin = rng.uniform(0, 1, (places, feet, members)) * tew[:, None]
    zero = np.zeros((places, feet, members))
    return columns, Forcing(eto, rain, put, crop, roots, hours), State(
        water, skin, zero, np.zeros(lane), np.zeros(lane), area[:, 0].copy()
    )  # fmt: skip
