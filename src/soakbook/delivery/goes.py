"""In how many goes to run a drip line so that nothing runs off: the soil under it solved with the pauses that are asked about."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from soakbook.garden.log import flow_lph, line_of
from soakbook.garden.model import Garden, Place
from soakbook.physics.wetting.curves import Soil
from soakbook.physics.wetting.ground import FloatArray, Layer, Shape, Source, even_grid
from soakbook.physics.wetting.solve import wet

#: Goes of one soak. Common practice: two or three runs, half an hour to an hour apart.
MOST_GOES = 4
#: Water running off that is not worth another go, as a part of what is given. Judged.
LET_BE = 0.02
#: Emitters no farther apart than this wet a joined strip in most soils (common practice); the strip is then solved, else each emitter. [m]
JOINS_M = 0.4
#: Flow of a metre where neither emitters nor length are known: of a drip line, 5.6 mm/h over rows 0.61 m apart (the catalogue's figure); of a soaker, 7.5 L/h
#: (judged). Of a single emitter, 2 L/h (common practice). [L/h]
USUAL_PER_M = {"drip_line": 3.4, "soaker": 7.5}
USUAL_EACH = 2.0
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


def stand_of(place: Place, garden: Garden) -> Stand | None:
    """How the water comes to a bed by drip; None where it does not, or where its flow is not known.

    What the garden does not say is taken as usual: a drip line of 3.4 L/h a metre, a soaker of 7.5, emitters of 2 L/h.
    """
    flow = flow_lph(place, garden)
    if place.kind != "bed" or not flow or place.means not in ("drip_line", "soaker", "emitters"):
        return None
    line = line_of(place, garden)
    each = place.emitter_flow_lph or (line.emitter_flow_lph if line else None)
    every = line.emitter_spacing_m if line else None
    if place.means == "emitters" or (every is not None and every > JOINS_M):
        count = place.emitters or max(1, round(flow / (each or USUAL_EACH)))
        return Stand("emitter", flow / count, math.sqrt(place.area_m2 / count / math.pi), count)
    per_m = each / every if each and every else USUAL_PER_M.get(place.means, USUAL_PER_M["drip_line"])
    long = max(flow / per_m, 0.1)
    return Stand("line", flow / long, min(0.5 * place.area_m2 / long, 1.0), long)


def drip_goes(stand: Stand, ground: tuple[tuple[Layer, ...], ...], used: float, minutes: float) -> Goes | None:
    """The fewest goes of a run by which no more than :data:`LET_BE` of it runs off; None when one will do.

    Parameters
    ----------
    stand
        How the water comes.
    ground
        Soils that may be meant, each with its layers: the one that takes water worst decides.
    used
        Part of the available water that is used.
    minutes
        How long it runs in all.

    Returns
    -------
    Goes or None
        Where even :data:`MOST_GOES` lose more, the number of those by which least runs off.
    """
    near = (round(used, 1), float(f"{minutes:.2g}"))
    lost = {n: max(_runs_off(stand, layers, near[0], near[1], n) for layers in ground) for n in (1,)}
    for n in range(2, MOST_GOES + 1):
        if min(lost.values()) <= LET_BE:
            break
        lost[n] = max(_runs_off(stand, layers, near[0], near[1], n) for layers in ground)
    count = next((n for n, part in lost.items() if part <= LET_BE), None)
    if count is None:
        count = min(lost, key=lambda n: (round(lost[n], 2), n))
    return Goes(count, minutes / count, pause_min(minutes / count)) if count > 1 else None


def pause_min(run_minutes: float) -> float:
    """How long to wait between goes. [min]"""
    return max(PAUSE_MIN, BEAT_MIN - run_minutes)


@cache
def _runs_off(stand: Stand, layers: tuple[Layer, ...], used: float, minutes: float, count: int) -> float:
    """Part of the water that runs off. What is asked again on a day, or on the next, is not solved again."""
    from soakbook.balance.compiled import use_cache

    use_cache()
    run, pause = minutes / count / 60.0, pause_min(minutes / count) / 60.0
    runs = tuple((k * (run + pause), k * (run + pause) + run) for k in range(count))
    reach_cm = 100.0 * stand.reach_m
    grid = even_grid(stand.shape, min(CELL_CM, reach_cm / 4.0), reach_cm, DOWN_CM)
    bottoms = np.cumsum([layer.thickness_cm for layer in layers[:-1]])
    heads = np.array([_head_cm(layer.soil, used) for layer in layers])[np.searchsorted(bottoms, grid.down)]
    done = wet(layers, grid, Source(stand.flow_lph, runs), (runs[-1][1],), first_head_cm=heads)
    return float(done.ran_off_l[-1]) / (stand.flow_lph * minutes / 60.0)


def _head_cm(soil: Soil, used: float) -> float:
    """Head of a soil of whose available water, from 330 to 15,000 cm of suction, a part is used: by water content, looked up along its curve. [cm]"""
    suction: FloatArray = np.geomspace(330.0, 15000.0, 400)
    held = soil.saturation(-suction)
    return -float(np.interp(-(held[0] - used * (held[0] - held[-1])), -held, suction))
