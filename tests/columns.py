"""Small columns for tests: one place, given in the book's terms."""

from __future__ import annotations

import numpy as np

from soakbook.balance.columns import (
    AIR_NEEDED,
    AREA_WET,
    CROP,
    DEPLETION_P,
    ENOUGH,
    FEW_WET,
    FIXED,
    HOURS,
    KC_MAX,
    KCB,
    KE_CUT,
    Columns,
    Forcing,
    State,
)


def one_layer(theta_fc: float, theta_wp: float, depth_m: float, tew_mm: float, rew_mm: float) -> Columns:
    """A single deep layer that drains at once, as FAO-56 assumes."""
    one, lane = np.ones((1, 1, 1)), np.ones((1, 1))
    fixed = np.zeros((1, len(FIXED)))
    fixed[0, ENOUGH] = 1.0
    fixed[0, AIR_NEEDED] = 1e-6
    fc = 1000.0 * theta_fc * depth_m * one
    return Columns(
        wp_mm=1000.0 * theta_wp * depth_m * one,
        fc_mm=fc,
        sat_mm=fc + 1000.0,
        ks_mm_h=1e12 * one,
        thickness_mm=1000.0 * depth_m * lane,
        evaporating=lane.copy(),
        rew_mm=rew_mm * lane,
        tew_mm=tew_mm * lane,
        suction_mm=100.0 * lane,
        intake_mm_h=1e6 * lane,
        demand=lane.copy(),
        catch=lane.copy(),
        delivery=lane.copy(),
        fixed=fixed,
        weather_of=np.zeros(1, dtype=np.int64),
    )


def days(
    eto: list[float],
    *,
    kcb: list[float],
    kc_max: float,
    few: list[float],
    p: float,
    rain: list[float] | None = None,
    irrigation: list[float] | None = None,
) -> Forcing:
    """Daily forcing of one place with one layer."""
    n = len(eto)
    crop = np.zeros((1, n, len(CROP)))
    crop[0, :, KCB] = kcb
    crop[0, :, KC_MAX] = kc_max
    crop[0, :, FEW_WET] = few
    crop[0, :, DEPLETION_P] = p
    crop[0, :, KE_CUT] = 1.0
    crop[0, :, HOURS] = 24.0
    crop[0, :, AREA_WET] = 1.0
    return Forcing(
        eto_mm=np.array(eto, dtype=float).reshape(1, n, 1),
        rain_mm=np.array(rain or [0.0] * n, dtype=float).reshape(1, n, 1),
        irrigation_mm=np.array(irrigation or [0.0] * n, dtype=float).reshape(1, n, 1),
        crop=crop,
        roots=np.ones((1, n, 1, 1)),
        step_hours=24.0,
    )


def state(columns: Columns, depletion_mm: float, surface_mm: float) -> State:
    """A state that is short of field capacity by ``depletion_mm``."""
    zero = np.zeros((1, 1, 1))
    water = (columns.fc_mm - depletion_mm)[:, None]
    lanes = np.zeros((1, 1))
    return State(water.copy(), zero + surface_mm, zero.copy(), lanes, lanes.copy(), np.ones(1))
