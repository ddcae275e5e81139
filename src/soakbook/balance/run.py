"""Runs columns through the kernel and checks that the water adds up."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from soakbook.balance.columns import (
    AIR_NEEDED,
    AREA_WET,
    CROP,
    DRAINAGE,
    ENOUGH,
    EVAPORATION,
    FIXED,
    FLUXES,
    IRRIGATION,
    RAIN,
    RUNOFF,
    TRANSPIRATION,
    Columns,
    FloatArray,
    Forcing,
    IntArray,
    Result,
    State,
)
from soakbook.balance.compiled import run_places
from soakbook.errors import SoakbookError
from soakbook.said import say

#: Largest imbalance let through, relative to the water that passed (or stood) in the column.
CLOSES_TO = 1e-9


def run_columns(
    columns: Columns, forcing: Forcing, state: State, *, keep: bool | IntArray = True, fluxes: bool = True, threads: int = 1
) -> Result:  # fmt: skip
    """Run the balance of all places and members through all steps.

    Parameters
    ----------
    columns, forcing, state
        See :mod:`soakbook.balance.columns` for shapes and units. ``state`` is not changed.
    keep
        Keep fluxes and water of every step; without it only totals and the end state are returned. Or the steps after which water
        is kept, rising; fluxes are then those since the step kept before.
    fluxes
        Keep fluxes where water is kept.
    threads
        Threads to share the places among; one for a single garden.

    Returns
    -------
    Result

    Raises
    ------
    SoakbookError
        When the balance of any column does not close to 1e-9: our bug, never to be shown as an answer.
    """
    places, layers, members = columns.shape
    feet = columns.footprints
    steps = forcing.crop.shape[1]
    which = np.arange(steps if keep is True else 0) if isinstance(keep, bool) else keep
    slots = np.full(steps, -1)
    slots[which] = np.arange(len(which))
    kept = len(which)
    end = state.copy()
    totals = np.zeros((places, len(FLUXES), members))
    flows = np.empty((places, kept if fluxes else 0, len(FLUXES), members))
    water = np.empty((places, kept, feet, layers, members))
    skin = np.empty((places, kept, feet, members))
    kernel = run_places()
    given = [
        _plain(a) for a in (
            columns.wp_mm, columns.fc_mm, columns.sat_mm, columns.ks_mm_h, columns.thickness_mm, columns.evaporating,
            columns.rew_mm, columns.tew_mm, columns.suction_mm, columns.intake_mm_h,
            columns.demand, columns.catch, columns.delivery, columns.fixed, columns.weather_of,
            forcing.eto_mm, forcing.rain_mm, forcing.irrigation_mm, forcing.crop, forcing.roots,
        )
    ]  # fmt: skip

    def some(first: int, last: int) -> None:
        kernel(
            first, last, feet, slots, float(forcing.step_hours), *given,
            end.water_mm, end.surface_mm, end.held_mm, end.saucer_mm, end.airless,
            state.area_wet, totals, flows, water, skin,
        )  # fmt: skip

    if threads > 1 and places > 1:
        cuts = np.linspace(0, places, min(threads, places) + 1).astype(int)
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(some, cuts[:-1].tolist(), cuts[1:].tolist()))
    else:
        some(0, places)
    end.area_wet[:] = forcing.crop[:, -1, AREA_WET]
    worst = balance_error(columns, state, end, totals)
    if not worst <= CLOSES_TO:
        raise SoakbookError(
            say(
                "the water balance does not close: off by {worst:.2g} of the water that passed (allowed {closes_to:g}).",
                worst=worst,
                closes_to=CLOSES_TO,
            ),
            code="balance.open",
            hint=say("This is a fault of the program; please report it with the garden file."),
        )
    return Result(end, totals, worst, flows, water, skin, which)


def _plain(values: NDArray[Any]) -> NDArray[Any]:
    """Writable and in one piece: the compiler makes another version for arrays that are not, and that takes half a minute."""
    return values if values.flags.carray else np.require(values, requirements=["C", "W"])


def stored_mm(columns: Columns, state: State) -> FloatArray:
    """Water held by each place and member, over the place's area: soil, mulch and saucer. (P, M) [mm]"""
    over = np.sum(state.water_mm, axis=2) + state.held_mm
    area = state.area_wet[:, None]
    held: FloatArray = area * over[:, 0] + state.saucer_mm
    return held if columns.footprints == 1 else held + (1.0 - area) * over[:, 1]


def balance_error(columns: Columns, start: State, end: State, totals: FloatArray) -> float:
    """Worst imbalance over places and members, relative to the water that came in plus what was there."""
    came = totals[:, RAIN] + totals[:, IRRIGATION]
    went = totals[:, RUNOFF] + totals[:, DRAINAGE] + totals[:, EVAPORATION] + totals[:, TRANSPIRATION]
    before, after = stored_mm(columns, start), stored_mm(columns, end)
    off = np.abs(came - went - (after - before))
    return float(np.max(off / (came + before + 1.0)))


def warm_up() -> None:
    """Run one tiny column, so that the kernel is compiled and its cache written."""
    one = np.ones((1, 1, 1))
    lane = np.ones((1, 1))
    fixed = np.zeros((1, len(FIXED)))
    fixed[0, ENOUGH] = 1.0
    fixed[0, AIR_NEEDED] = 0.1
    columns = Columns(
        10 * one, 20 * one, 40 * one, 10 * one, 100 * lane, lane, 5 * lane, 15 * lane, 100 * lane, 10 * lane,
        lane, lane, lane, fixed, np.zeros(1, dtype=np.int64),
    )  # fmt: skip
    crop = np.full((1, 1, len(CROP)), 0.5)
    crop[0, 0, AREA_WET] = 1.0
    forcing = Forcing(one, one, one, crop, np.ones((1, 1, 1, 1)), 24.0)
    zero = np.zeros((1, 1, 1))
    lanes = np.zeros((1, 1))
    run_columns(columns, forcing, State(15 * np.ones((1, 1, 1, 1)), zero, zero, lanes, lanes, np.ones(1)))
