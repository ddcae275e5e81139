"""In how many goes to run a drip line so that nothing runs off: the soil under it solved with the pauses that are asked about."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from soakbook.delivery.drip import HOLDS_CM
from soakbook.delivery.ground_of import Grounds
from soakbook.delivery.laid import laid
from soakbook.garden.log import line_of
from soakbook.garden.model import Garden, Place
from soakbook.physics.wetting.curves import Soil
from soakbook.physics.wetting.ground import FloatArray, Layer, Shape, Source, Wetting, even_grid
from soakbook.physics.wetting.solve import wet

#: Goes of one soak. Common practice: two or three runs, half an hour to an hour apart.
MOST_GOES = 4
#: Water running off that is not worth another go, as a part of what is given. Judged.
LET_BE = 0.02
#: What another go must save of the water to be worth it. Judged.
WORTH_A_GO = 0.01
#: Minutes at which is looked what one go has lost, and up to which it is run. Runs in several goes are solved for lengths that differ by this factor, not for
#: each anew: what is asked for every day of a week has to come at once.
LOOKS_MIN = (5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0, 270.0, 400.0)
UNTIL_MIN = (90.0, 270.0, 600.0)
ABOUT = 1.15
#: A go that may run so long may run as long as anyone will have it: timers hold no more, and four such goes fill a day. [min]
LONGEST_GO_MIN = 270.0
#: Ground farther from a line or emitter than this takes nothing of a run of hours. Judged. [m]
FAR_M = 1.0
#: Cells, and how deep they reach: a run of hours wets no deeper. [cm]
CELL_CM, DOWN_CM = 2.0, 120.0
#: Minutes from the beginning of one go to the next at least, and the shortest pause. Common practice.
BEAT_MIN, PAUSE_MIN = 60.0, 30.0


@dataclass(frozen=True)
class Goes:
    """A soak split up: how many goes, minutes each runs (None by hand) and minutes between them."""

    count: int
    run_minutes: float | None
    pause_minutes: float


@dataclass(frozen=True)
class Stand:
    """How the water comes to a bed: from emitters of ``flow_lph`` or from line with that much per metre, ``reach_m`` from the middle of what each wets to
    where the next one's ground, or the path, begins. ``count``: emitters, or metres of line."""

    shape: Shape
    flow_lph: float
    reach_m: float
    count: float


def stand_of(place: Place, garden: Garden, grounds: Grounds) -> Stand | None:
    """How the water comes to a bed by drip, as :func:`soakbook.delivery.laid.laid` has it; None where it does not, or where its flow is not known."""
    made = laid(place, line_of(place, garden), grounds)
    return None if made is None else Stand(made.shape, made.flow_lph, min(made.reach_m, FAR_M), made.count)


def drip_goes(stand: Stand, ground: Grounds, used: float, minutes: float) -> tuple[Goes | None, float]:
    """The fewest goes of a run by which no more than :data:`LET_BE` of it runs off, None for one; and the part that does so even then.

    Parameters
    ----------
    stand
        How the water comes.
    ground
        Soils that may be meant, each with its layers: what runs off is the mean over them.
    used
        Part of the available water that is used.
    minutes
        How long it runs in all.

    Returns
    -------
    tuple[Goes or None, float]
        Where no number up to :data:`MOST_GOES` comes so far, the one beyond which another go saves less than :data:`WORTH_A_GO`.
    """
    state = round(min(max(used, 0.0), 1.0), 1)
    count, lost = 1, _mean_lost(stand, ground, state, minutes)
    about = float(ABOUT ** round(math.log(max(minutes, 1.0), ABOUT)))
    while lost > LET_BE and count < MOST_GOES:
        more = float(np.mean([_runs_off(stand, layers, state, about, count + 1) for layers in ground]))
        if lost - more < WORTH_A_GO:
            break
        count, lost = count + 1, more
    return (Goes(count, minutes / count, pause_min(minutes / count)) if count > 1 else None), lost


@cache
def takes_min(stand: Stand, ground: Grounds, used: float) -> float:
    """How long one go may run until more than :data:`LET_BE` of it has run off, as :func:`drip_goes` has it; infinite where one of :data:`LONGEST_GO_MIN` loses less. [min]

    Parameters
    ----------
    stand
        How the water comes.
    ground
        Soils that may be meant: what runs off is the mean over them.
    used
        Part of the available water that is used.
    """
    for until in (m for m in UNTIL_MIN if m <= LONGEST_GO_MIN):
        if _mean_lost(stand, ground, used, until) > LET_BE:
            low, high = 0.0, until
            while high - low > 0.01 * high:
                middle = 0.5 * (low + high)
                low, high = (low, middle) if _mean_lost(stand, ground, used, middle) > LET_BE else (middle, high)
            return low
    return math.inf


def pause_min(run_minutes: float) -> float:
    """How long to wait between goes. [min]"""
    return max(PAUSE_MIN, BEAT_MIN - run_minutes)


def _mean_lost(stand: Stand, ground: Grounds, used: float, minutes: float) -> float:
    return float(np.mean([_lost_in_one(stand, layers, used, minutes) for layers in ground]))


def _lost_in_one(stand: Stand, layers: tuple[Layer, ...], used: float, minutes: float) -> float:
    """Part of the water that has run off after so many minutes in one go; what has run off is straight between looks."""
    if _takes_all(stand, layers):
        return 0.0
    until = next((m for m in UNTIL_MIN if m >= minutes), minutes)
    looks, part = _in_one(stand, layers, used, until)
    return float(np.interp(minutes, looks, looks * part)) / minutes


def _takes_all(stand: Stand, layers: tuple[Layer, ...]) -> bool:
    """Whether the soil passes on what comes even when it is full: standing water goes in at the saturated conductivity at least."""
    reach_cm = 100.0 * stand.reach_m
    takes = min(layer.soil.ks_cm_h for layer in layers)
    if stand.shape == "line":
        return 2.0 * reach_cm * takes >= 10.0 * stand.flow_lph
    return math.pi * reach_cm**2 * takes >= 1000.0 * stand.flow_lph


@cache
def _in_one(stand: Stand, layers: tuple[Layer, ...], used: float, until_min: float) -> tuple[FloatArray, FloatArray]:
    """Minutes of running, and the part of the water given by then that has run off in one go."""
    looks = np.array([*(m for m in LOOKS_MIN if m < until_min), until_min])
    done = _solved(stand, layers, used, ((0.0, until_min / 60.0),), tuple((looks / 60.0).tolist()))
    part = np.asarray(done.ran_off_l / (stand.flow_lph * done.times_h))
    full = _standing_min(stand)
    return (np.append(full, looks), np.append(0.0, part)) if full < looks[0] else (looks, part)


def _standing_min(stand: Stand) -> float:
    """How long it takes until the ground is under all the water that may stand on it, if none goes in: nothing runs off before. [min]"""
    reach_cm = 100.0 * stand.reach_m
    if stand.shape == "line":
        return 60.0 * HOLDS_CM * 2.0 * reach_cm / (10.0 * stand.flow_lph)
    return 60.0 * HOLDS_CM * math.pi * reach_cm**2 / (1000.0 * stand.flow_lph)


@cache
def _runs_off(stand: Stand, layers: tuple[Layer, ...], used: float, minutes: float, count: int) -> float:
    """Part of the water that runs off in so many goes."""
    run, pause = minutes / count / 60.0, pause_min(minutes / count) / 60.0
    runs = tuple((k * (run + pause), k * (run + pause) + run) for k in range(count))
    done = _solved(stand, layers, used, runs, (runs[-1][1],))
    return float(done.ran_off_l[-1]) / (stand.flow_lph * minutes / 60.0)


def _solved(
    stand: Stand,
    layers: tuple[Layer, ...],
    used: float,
    runs: tuple[tuple[float, float], ...],
    looks_h: tuple[float, ...],
) -> Wetting:
    reach_cm = 100.0 * stand.reach_m
    grid = even_grid(stand.shape, min(CELL_CM, reach_cm / 4.0), reach_cm, DOWN_CM)
    bottoms = np.cumsum([layer.thickness_cm for layer in layers[:-1]])
    heads = np.array([_head_cm(layer.soil, used) for layer in layers])[np.searchsorted(bottoms, grid.down)]
    return wet(
        layers, grid, Source(stand.flow_lph, runs, most_cm=reach_cm, holds_cm=HOLDS_CM), looks_h, first_head_cm=heads
    )


def _head_cm(soil: Soil, used: float) -> float:
    """Head of a soil of whose available water, from 330 to 15,000 cm of suction, a part is used: by water content, looked up along its curve. [cm]"""
    suction: FloatArray = np.geomspace(330.0, 15000.0, 400)
    held = soil.saturation(-suction)
    return -float(np.interp(-(held[0] - used * (held[0] - held[-1])), -held, suction))
