"""The balance written a second time, in numpy over whole arrays, from the description and not from the kernel.

It serves as an independent check of the compiled kernel and as its peer in the benchmark. Single footprint or two.
"""

from __future__ import annotations

import numpy as np

from soakbook.balance.columns import (
    AIR_NEEDED,
    CROP,
    DRY_BYPASS,
    DRY_FROM,
    ENOUGH,
    FIXED,
    FLUXES,
    HOLD,
    OVERHEAD,
    SAUCER,
    WALL,
    Columns,
    Forcing,
    State,
)

CROP_AT = {name: i for i, name in enumerate(CROP)}
FLUX_AT = {name: i for i, name in enumerate(FLUXES)}
assert len(FIXED) == 9


def ponded(k: np.ndarray, suction_deficit: np.ndarray, hours: float | np.ndarray) -> np.ndarray:
    """Green-Ampt intake under ponding, by the series of y - ln(1 + y) = tau in s = sqrt(2 tau)."""
    root = np.sqrt(2 * k * hours / suction_deficit)
    return suction_deficit * (root + root**2 / 3 + root**3 / (36 * (1 + root / 6)))


def run_numpy(c: Columns, f: Forcing, start: State) -> tuple[State, np.ndarray]:
    """End state and summed fluxes (P, len(FLUXES), M)."""
    places, layers, members = c.shape
    feet = c.footprints
    s = start.copy()
    total = np.zeros((places, len(FLUXES), members))
    taw, drainable = c.fc_mm - c.wp_mm, c.sat_mm - c.fc_mm
    for t in range(f.crop.shape[1]):
        crop = {name: f.crop[:, t, i, None] for name, i in CROP_AT.items()}
        area_wet = crop["area_wet"]
        if feet == 2:  # total water of both parts is kept while their border moves
            was = s.area_wet[:, None, None]
            now = area_wet[:, :, None]
            for held in (s.water_mm, s.surface_mm[:, :, None], s.held_mm[:, :, None]):
                wet, dry = held[:, 0].copy(), held[:, 1].copy()
                held[:, 0] = np.where(now > was, (was * wet + (now - was) * dry) / now, wet)
                held[:, 1] = np.where(now < was, ((1 - was) * dry + (was - now) * wet) / (1 - now), dry)
            s.area_wet[:] = area_wet[:, 0]
        area = np.stack([area_wet, 1 - area_wet])[:feet]  # (F, P, 1)
        over = np.divide(1.0, area, out=np.zeros_like(area), where=area > 0)
        few = np.stack([crop["few_wet"], crop["few_dry"]])[:feet]
        eto = f.eto_mm[c.weather_of, t] * c.demand
        rain = f.rain_mm[c.weather_of, t] * c.catch
        flux = {name: np.zeros((places, members)) for name in FLUXES}
        flux["rain"] = rain
        below = np.zeros((places, members))
        for k in range(feet):
            put = f.irrigation_mm[:, t, k, None] * c.delivery
            flux["irrigation"] += put * area[k]
            into = rain + put
            over_it = c.fixed[:, OVERHEAD, None]
            kept = np.minimum(rain + over_it * put, np.maximum(c.fixed[:, HOLD, None] - s.held_mm[:, k], 0))
            s.held_mm[:, k] += kept
            into = into - kept
            wetness = (s.water_mm[:, k, 0] - c.wp_mm[:, 0]) / taw[:, 0]
            limit = c.fixed[:, DRY_FROM, None]
            dryness = np.where(limit > 0, np.clip((limit - wetness) / np.where(limit > 0, limit, 1), 0, 1), 0)
            past = c.fixed[:, DRY_BYPASS, None] * dryness * into
            into = into - past
            room = np.maximum(1e-6, (c.sat_mm[:, 0] - s.water_mm[:, k, 0]) / c.thickness_mm[:, 0, None]) * c.suction_mm
            given = np.minimum(np.where(over_it > 0, np.maximum(put - kept, 0), put), into)
            wet = given + np.minimum(into - given, ponded(c.intake_mm_h, room, crop["hours"]))
            flux["runoff"] += (into - wet) * area[k]
            s.surface_mm[:, k] = np.maximum(s.surface_mm[:, k] - wet, 0)
            moving = wet
            for j in range(layers):
                w = s.water_mm[:, k, j] + moving
                e = np.maximum(w - c.fc_mm[:, j], 0) / drainable[:, j]
                rest = e / np.sqrt(1 + 2 * c.ks_mm_h[:, j] / drainable[:, j] * e**2 * f.step_hours)
                s.water_mm[:, k, j] = w
                low = min(j + 1, layers - 1)
                room = (c.sat_mm[:, low] - s.water_mm[:, k, low]) / c.thickness_mm[:, low, None]
                room = np.maximum(
                    room if j < layers - 1 else 0.0, 1e-6
                )  # below the last layer gravity alone carries on
                takes = ponded(c.ks_mm_h[:, low], room * c.suction_mm, f.step_hours)
                moving = np.minimum((e - rest) * drainable[:, j], takes)
                s.water_mm[:, k, j] = w - moving
            below += (moving + past) * area[k]
            moving = np.zeros((places, members))
            for j in reversed(range(layers)):
                w = s.water_mm[:, k, j] + moving
                moving = np.maximum(w - c.sat_mm[:, j], 0)
                s.water_mm[:, k, j] = w - moving
            flux["runoff"] += moving * area[k]
            if k == 0:
                flux["into_wet"] = wet - moving
        caught = np.minimum(below, c.fixed[:, SAUCER, None] - s.saucer_mm)
        back = np.minimum(s.saucer_mm + caught, np.maximum(c.fc_mm[:, -1] - s.water_mm[:, 0, -1], 0))
        s.water_mm[:, 0, -1] += back
        off = np.minimum(s.saucer_mm + caught - back, 0.1 * eto)
        s.saucer_mm[:] += caught - back - off
        flux["drainage"] = below - caught
        flux["evaporation"] += off
        kr = np.clip((c.tew_mm[:, None] - s.surface_mm) / (c.tew_mm - c.rew_mm)[:, None], 0, 1)
        bare = np.moveaxis(few, 0, 1) * np.maximum(c.tew_mm[:, None] - s.surface_mm, 1e-9)
        part = bare / np.maximum(bare.sum(1, keepdims=True), 1e-12)
        # An evenly dry soil supplies Eq. 84 of FAO-56: all until p is used, then less in proportion.
        at_ease_from = (c.fixed[:, ENOUGH, None] / (1 - crop["p"]))[:, None]
        used = np.zeros((places, members))
        airless = np.zeros((places, members))
        for k in range(feet):
            off = np.minimum(s.held_mm[:, k], np.maximum(crop["kc_max"] - crop["kcb"], 0) * eto)
            s.held_mm[:, k] -= off
            energy = np.minimum(kr[:, k] * part[:, k] * (crop["kc_max"] - crop["kcb"]), few[k] * crop["kc_max"])
            ke = np.maximum(energy, 0) * crop["ke_cut"]
            want = np.maximum(ke * eto - off * area[k], 0) * over[k]
            reach = c.evaporating[:, :, None] * np.maximum(s.water_mm[:, k] - 0.5 * c.wp_mm, 0)
            got = np.minimum(want, reach.sum(1))
            s.water_mm[:, k] -= (got / np.maximum(reach.sum(1), 1e-12))[:, None] * reach
            grow = np.divide(got * area[k], few[k], out=np.zeros_like(got), where=few[k] > 0)
            s.surface_mm[:, k] = np.minimum(s.surface_mm[:, k] + grow, c.tew_mm)
            flux["evaporation"] += (got + off) * area[k]
            if k == 0:
                flux["evaporation_wet"] += got
            weight = f.roots[:, t, k, :, None]
            ease = (s.water_mm[:, k] - c.wp_mm) / taw * at_ease_from
            used += np.sum(weight * np.clip(ease, 0, 1), axis=1)
            air = (c.sat_mm - s.water_mm[:, k]) / c.thickness_mm[:, :, None]
            airless += np.sum(weight * np.maximum(1 - air / c.fixed[:, AIR_NEEDED, None, None], 0), axis=1)
        s.airless[:] += (1 - np.exp(-f.step_hours / 24)) * (airless - s.airless)
        ks = np.minimum(used / c.fixed[:, ENOUGH, None], 1)
        flux["stress"], flux["soggy"] = ks, 1 - s.airless
        flux["wanted"] = crop["kcb"] * eto
        want = flux["wanted"] * ks * flux["soggy"] / np.maximum(used, 1e-12)
        for k in range(feet):
            above = np.maximum(s.water_mm[:, k] - c.wp_mm, 0)
            ease = np.minimum(above / taw * at_ease_from, 1)
            drawn = want[:, None] * f.roots[:, t, k, :, None] * ease * over[k][:, None]
            drawn = np.minimum(drawn, above)
            s.water_mm[:, k] -= drawn
            flux["transpiration"] += drawn.sum(1) * area[k]
            if k == 0:
                flux["transpiration_wet"] += drawn.sum(1)
            above = np.maximum(s.water_mm[:, k] - 0.5 * c.wp_mm, 0)
            wall = c.fixed[:, WALL, None, None] * c.thickness_mm[:, :, None] * eto[:, None]
            lost = np.minimum(wall * np.minimum(above / taw, 1), above)
            s.water_mm[:, k] -= lost
            flux["evaporation"] += lost.sum(1) * area[k]
            if k == 0:
                flux["evaporation_wet"] += lost.sum(1)
        for name, i in FLUX_AT.items():
            total[:, i] += flux[name]
    return s, total
