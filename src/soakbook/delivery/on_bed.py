"""A line of a garden on its bed: where its pipes, emitters and plants are, as far as the garden knows, and what of that is assumed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from soakbook.delivery.ground_of import Grounds
from soakbook.delivery.laid import laid
from soakbook.delivery.lay import row_places_m
from soakbook.errors import InputError
from soakbook.physics.wetting.ground import Shape
from soakbook.said import Said, say

if TYPE_CHECKING:
    from soakbook.garden.model import Line, Place, Planting

#: More plants than this in a bed are drawn as rows. Judged.
MOST_PLANTS = 150
#: Part of the full rooting depth that is wetted, and its bounds: most is taken up in the upper half (common practice). Judged. [-], [m]
ROOTS_PART, SHALLOWEST_M, DEEPEST_M = 0.5, 0.15, 0.45


@dataclass(frozen=True)
class Plant:
    """One plant: how far along and across the bed it stands, and how wide it is. [m]"""

    x_m: float
    y_m: float
    width_m: float


@dataclass(frozen=True)
class OnBed:
    """A bed seen from above, x along its longer side. ``pipes_m``: how far across each pipe lies; ``emitters`` (x, y), none along hose that leaks all along.
    ``shape`` and ``flow_lph`` as the solver wants them: of one emitter, or of a joined line by the metre; ``reach_m`` from there to where the next one's ground, or the path,
    begins; ``total_lph`` of the bed. ``rows_m`` where plants stand too close to be drawn one by one. ``wanted_m`` is how deep the soil should be wet. ``assumed``: what the garden does not say."""

    length_m: float
    width_m: float
    pipes_m: tuple[float, ...]
    emitters: tuple[tuple[float, float], ...]
    plants: tuple[Plant, ...]
    rows_m: tuple[float, ...]
    shape: Shape
    flow_lph: float
    reach_m: float
    total_lph: float
    wanted_m: float
    assumed: tuple[Said, ...]


def on_bed(place: Place, line: Line | None, today: date, grounds: Grounds) -> OnBed:
    """Lay out what is known of a line on a bed.

    Parameters
    ----------
    place
        A bed for which :func:`soakbook.delivery.laid.is_on_line` holds.
    line
        The line that it is on, if any.
    today
        What grows then is drawn.
    grounds
        Its soil (:func:`soakbook.delivery.ground_of.soils_of`).

    Raises
    ------
    InputError
        No flow is known of the line or its emitters.
    """
    made = laid(place, line, grounds)
    if made is None:
        raise InputError(
            say("How much the line gives on this bed is not known, so where its water goes cannot be followed."), code="onbed.flow", field="line",
            hint=say("Let it run into a bucket for a minute, and write the flow down in the line's set-up."),
        )  # fmt: skip
    length, width = made.length_m, made.width_m
    growing = [p for p in place.plantings if p.cleared is None or p.cleared > today]
    plants, rows = _plants(growing, length, width)
    if made.pipes:
        pipes = row_places_m(width, made.pipes)
        emitters = tuple(((k + 0.5) * length / made.along, y) for y in pipes for k in range(made.along))
    else:
        emitters = _single(made.along, plants, length, width)
        pipes = tuple(sorted({y for _, y in emitters}))
    return OnBed(
        length, width, pipes, emitters, plants, rows, made.shape, made.flow_lph, made.reach_m, made.total_lph, _wanted(place, growing), made.assumed,
    )  # fmt: skip


def _plants(
    growing: Sequence[Planting], length_m: float, width_m: float
) -> tuple[tuple[Plant, ...], tuple[float, ...]]:
    """Plants one by one, each planting on its share of the bed's length; too many to draw: rows."""
    from soakbook.catalog import read

    plants: list[Plant] = []
    rows: set[float] = set()
    begun = 0.0
    shares = sum(p.share for p in growing) or 1.0
    for planting in growing:
        row = read.plants()[planting.plant]
        long = length_m * planting.share / max(shares, 1.0)
        apart = planting.in_row_m or row.in_row_m.value
        across = min(max(1, round(width_m / (planting.row_m or row.row_m.value))), planting.count or MOST_PLANTS, 100)
        count = planting.count or across * max(1, round(long / apart))
        size = min(planting.width_m or apart, width_m, long)
        rows |= set(row_places_m(width_m, across))
        for k, y in enumerate(row_places_m(width_m, across)):
            here = count // across + (1 if k < count % across else 0)
            plants += [Plant(begun + (i + 0.5) * long / here, y, size) for i in range(min(here, MOST_PLANTS + 1))]
        begun += long
    return (tuple(plants), ()) if len(plants) <= MOST_PLANTS else ((), tuple(sorted(rows)))


def _single(count: int, plants: Sequence[Plant], length_m: float, width_m: float) -> tuple[tuple[float, float], ...]:
    """Single emitters: shared out among the plants where there are as many or more, on both sides of each; else evenly along the middle."""
    if plants and count >= len(plants):
        out: list[tuple[float, float]] = []
        for k, plant in enumerate(plants):
            here = count // len(plants) + (1 if k < count % len(plants) else 0)
            step = min(0.6 * plant.width_m, 0.5) / here
            out += [(min(max(plant.x_m + (i - (here - 1) / 2) * step, 0.0), length_m), plant.y_m) for i in range(here)]
        return tuple(out)
    return tuple((length_m * (k + 0.5) / count, 0.5 * width_m) for k in range(count))


def _wanted(place: Place, growing: Sequence[Planting]) -> float:
    from soakbook.catalog import read

    roots = max((read.plants()[p.plant].root_max_m.value for p in growing), default=0.6)
    deep = min(max(ROOTS_PART * roots, SHALLOWEST_M), DEEPEST_M)
    return min(deep, place.root_barrier_m) if place.root_barrier_m else deep
