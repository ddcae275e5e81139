"""The days ahead of a lumped place: what comes from the sky and from timers by member, and what all members have in common."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from soakbook.balance import columns as full
from soakbook.balance import rollout_names as names
from soakbook.balance.columns import Forcing, State
from soakbook.balance.crops import ESTABLISHING, NONE, SEEDBED
from soakbook.balance.place import PlaceDays
from soakbook.balance.rollout_place import Groups, lumped, reach_of_lumps
from soakbook.balance.run import run_columns

FloatArray = NDArray[np.float64]

#: Hour (standard time) that parts a pot's day in two: most of the day's use lies before it and about a third after. Judged.
PARTING_HOUR = 14
#: Part of a day's rain that whoever waters counts on in the morning. Judged: forecasts for the day are mostly right, and half-heeded.
FORESEEN = 0.5
#: Part of the soil's own share of the demand that the watered surface loses on a day between soaks, for the rule's look at the
#: evening. Judged.
USUAL_KR = 0.3


@dataclass(frozen=True)
class Ahead:
    """Weather of a place as columns see it: ``eto_mm`` and ``rain_mm`` (steps, M), steps as the place's own."""

    eto_mm: FloatArray
    rain_mm: FloatArray


def _by_part(values: FloatArray) -> FloatArray:
    """Hourly (24 T, M) summed over the two parts of each day, (2 T, M)."""
    hours = values.reshape(-1, 24, values.shape[1])
    parts = np.stack([hours[:, :PARTING_HOUR].sum(axis=1), hours[:, PARTING_HOUR:].sum(axis=1)], axis=1)
    return np.asarray(parts.reshape(-1, values.shape[1]))


def sky_of(days: PlaceDays, today: int, last: int, now: State, ahead: Ahead, groups: Groups, sub: int) -> FloatArray:
    """What comes from the sky, by step and member; see :data:`soakbook.balance.rollout_names.SKY`."""
    c = days.laid.columns
    n = days.steps_a_day
    eto, rain = ahead.eto_mm[: (last - today) * n], ahead.rain_mm[: (last - today) * n]
    taw = lumped((c.fc_mm - c.wp_mm)[0], groups)
    reach = np.repeat(reach_of_lumps(days, today, last, groups), sub, axis=0)
    store = np.maximum(reach @ taw, 1e-6)
    steps = len(reach)
    sky = np.zeros((len(names.SKY), steps, eto.shape[1]))
    sky[names.STORE], sky[names.INV_STORE] = store, 1.0 / store
    if sub == 2:
        caught = _by_part(rain) * c.catch[0]
        sky[names.ETO] = _by_part(eto) * c.demand[0]
        sky[names.RAIN] = np.maximum(caught - c.fixed[0, full.HOLD], 0.0) if c.fixed[0, full.HOLD] > 0 else caught
        sky[names.COMING] = _by_part(days.part(today, last, logged=False).irrigation_mm[0, :, :1] * c.delivery[0])
        sky[names.RAIN] += sky[names.COMING]
        return with_rain_by_night(sky, sub)
    sky[names.ETO] = eto * c.demand[0]
    part = days.part(today, last, logged=False)
    forcing = Forcing(
        np.ascontiguousarray(eto[None]), np.ascontiguousarray(rain[None]), np.zeros_like(part.irrigation_mm), part.crop,
        part.roots, part.step_hours,
    )  # fmt: skip
    dry = run_columns(c, forcing, now)
    flux = dry.fluxes[0]
    if part.irrigation_mm.any():
        wet = run_columns(c, replace(forcing, irrigation_mm=part.irrigation_mm), now)
        sky[names.COMING] = np.maximum(wet.fluxes[0][:, full.INTO_WET] - flux[:, full.INTO_WET], 0.0)
    area = forcing.crop[0, :, full.AREA_WET][:, None]
    goes_in = np.maximum(flux[:, full.INTO_WET], 0.0)  # water that backs up from below is not taken off the rain
    sky[names.RAIN] = goes_in + sky[names.COMING]
    sky[names.RAIN_REST] = goes_in
    left = np.maximum(1.0 - area, 1e-9)
    on_mulch = np.maximum(flux[:, full.RAIN] - flux[:, full.RUNOFF] - goes_in, 0.0)
    lost = (flux[:, full.EVAPORATION] - area * flux[:, full.EVAPORATION_WET]) / left - on_mulch
    few_rest = forcing.crop[0, :, full.FEW_DRY][:, None]
    sky[names.OFF_REST] = np.where(few_rest > 0.0, np.maximum(lost, 0.0), 0.0)
    sky[names.BARE_REST] = few_rest * np.maximum(c.tew_mm - dry.surface_mm[0, :, -1], 1e-9)
    return with_rain_by_night(sky, sub)


def with_rain_by_night(sky: FloatArray, sub: int) -> FloatArray:
    """The rain still to come on the day of each step: whoever waters looks at the sky, and knows what the timer will run."""
    counted_on = FORESEEN * sky[names.RAIN] + (1.0 - FORESEEN) * sky[names.COMING]
    by_day = counted_on.reshape(-1, sub, sky.shape[2])
    sky[names.RAIN_BY_NIGHT] = np.cumsum(by_day[:, ::-1], axis=1)[:, ::-1].reshape(sky.shape[1:])
    return sky


def day_table(days: PlaceDays, today: int, last: int, groups: Groups, sub: int, eto_mm: FloatArray) -> FloatArray:
    """The table of :data:`soakbook.balance.rollout_names.DAY`; what is lost per unit is filled in by the costs."""
    n = days.steps_a_day
    crop = days.forcing.crop[0, today * n : last * n : n]
    roots = days.forcing.roots[0, today * n : last * n : n]
    phase = days.crops.phase[today:last]
    t = len(crop)
    table = np.zeros((t, len(names.DAY)))
    table[:, names.KCB], table[:, names.KC_MAX] = crop[:, full.KCB], crop[:, full.KC_MAX]
    table[:, names.FEW], table[:, names.KE_CUT] = crop[:, full.FEW_WET], crop[:, full.KE_CUT]
    table[:, names.INV_1P] = days.laid.columns.fixed[0, full.ENOUGH] / (1.0 - crop[:, full.DEPLETION_P])
    area = crop[:, full.AREA_WET]
    table[:, names.AREA] = area
    before = np.concatenate([area[:1], area[:-1]])
    table[:, names.MIX] = np.maximum(area - before, 0.0) / area
    for k, group in enumerate(groups):
        table[:, names.ROOT_0 + k] = roots[:, 0, list(group)].sum(axis=1)
    kept = roots[:, 0, [k for g in groups for k in g]].sum(axis=1)
    below = roots[:, 0].sum(axis=1) - kept  # roots that reach beyond the lumps count with the lowest
    table[:, names.ROOT_2] += below
    if roots.shape[1] == 2:
        table[:, names.ROOT_DRY] = roots[:, 1].sum(axis=1)
    table[:, names.REACH_0 : names.REACH_2 + 1] = reach_of_lumps(days, today, last, groups)
    table[:, names.LIMIT] = crop[:, full.DEPLETION_P]
    late = np.full(t, True) if days.place.kind != "bed" else (phase == SEEDBED) | (phase == ESTABLISHING)
    table[:, names.JUDGE_NOW] = np.where(late, 0.0, 0.5)
    table[:, names.JUDGE_LATER] = np.where(late, 1.0, 0.5)
    table[:, names.EXPECTED_USE] = _expected_use(table)
    table[:, names.MAY_WATER] = phase != NONE  # past its usual season a crop may stand on, and the plain rule waters it
    if sub == 1:
        return table
    both = np.repeat(table, 2, axis=0)
    both[1::2, names.MIX] = 0.0
    # In the morning a pot is judged by its evening: the morning's share of the demand is scaled up to the day's; later in the
    # day it is watered again only where it is past its limit then.
    by_part = eto_mm.mean(axis=1).reshape(-1, 2)
    share = by_part[:, 0] / np.maximum(by_part.sum(axis=1), 1e-9)
    both[0::2, names.EXPECTED_USE] /= np.maximum(share, 0.2)
    both[1::2, names.EXPECTED_USE] = 0.0
    return both


def _expected_use(table: FloatArray) -> FloatArray:
    """What the watered part loses per mm of ETo, roughly: its roots' share of the plants' use, and a bare surface between soaks."""
    own = table[:, names.ROOT_0] + table[:, names.ROOT_1] + table[:, names.ROOT_2]
    soil = USUAL_KR * np.minimum(
        table[:, names.KC_MAX] - table[:, names.KCB], table[:, names.FEW] * table[:, names.KC_MAX]
    )
    return np.asarray((table[:, names.KCB] * own + soil * table[:, names.KE_CUT]) / table[:, names.AREA])
