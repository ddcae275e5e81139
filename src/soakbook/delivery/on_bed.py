"""A line of a garden on its bed: where its pipes, emitters and plants are, as far as the garden knows, and what of that is assumed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Literal

from soakbook.delivery.circle import circle
from soakbook.delivery.ground_of import Grounds
from soakbook.delivery.lay import OVERLAP, line_places_m, row_places_m
from soakbook.errors import InputError
from soakbook.physics.wetting.ground import Shape
from soakbook.said import Measure, Said, say

if TYPE_CHECKING:
    from soakbook.garden.model import Line, Place, Planting

Dripping = Literal["drip_line", "emitters", "soaker"]
#: Means whose water comes out along a line on the bed.
MEANS: tuple[Dripping, ...] = ("drip_line", "emitters", "soaker")
#: Where the garden does not say: from emitter to emitter, and what one gives (common practice). [m], [L/h]
SPACING_M, EMITTER_LPH = 0.30, 2.0
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
    ``shape`` and ``flow_lph`` as the solver wants them: of one emitter, or of a joined line by the metre; ``total_lph`` of the bed. ``rows_m`` where plants stand too close
    to be drawn one by one. ``wanted_m`` is how deep the soil should be wet. ``assumed``: what the garden does not say."""

    length_m: float
    width_m: float
    pipes_m: tuple[float, ...]
    emitters: tuple[tuple[float, float], ...]
    plants: tuple[Plant, ...]
    rows_m: tuple[float, ...]
    shape: Shape
    flow_lph: float
    total_lph: float
    wanted_m: float
    assumed: tuple[Said, ...]


def is_on_line(place: Place) -> bool:
    """Whether a place is a bed along which water drips."""
    return place.kind == "bed" and place.means in MEANS


def on_bed(place: Place, line: Line | None, today: date, grounds: Grounds) -> OnBed:
    """Lay out what is known of a line on a bed.

    Parameters
    ----------
    place
        A bed for which :func:`is_on_line` holds.
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
    assumed: list[Said] = []
    length, width = _sides(place, assumed)
    growing = [p for p in place.plantings if p.cleared is None or p.cleared > today]
    plants, rows = _plants(growing, length, width)
    total, each, spacing, count = _flows(place, line, length, assumed)
    if place.means == "emitters":
        emitters = _single(round(count), plants, length, width)
        return OnBed(
            length, width, tuple(sorted({y for _, y in emitters})), emitters, plants, rows, "emitter", each, total, _wanted(place, growing), tuple(assumed),
        )  # fmt: skip
    wide = circle(grounds, EMITTER_LPH).sure_m
    pipes = _pipes(place, line, (length, width), (count * spacing if count else None), rows or _rows_of(plants), wide)
    by_metre = total / (len(pipes) * length)
    if place.means == "soaker":
        return OnBed(
            length, width, pipes, (), plants, rows, "line", by_metre, total, _wanted(place, growing), tuple(assumed)
        )
    along = max(1, round(length / spacing))
    emitters = tuple(((k + 0.5) * length / along, y) for y in pipes for k in range(along))
    joins = spacing <= OVERLAP * wide
    return OnBed(
        length, width, pipes, emitters, plants, rows, "line" if joins else "emitter", by_metre if joins else total / len(emitters), total,
        _wanted(place, growing), tuple(assumed),
    )  # fmt: skip


def _sides(place: Place, assumed: list[Said]) -> tuple[float, float]:
    if place.length_m and place.width_m:
        return max(place.length_m, place.width_m), min(place.length_m, place.width_m)
    side = math.sqrt(place.area_m2)
    assumed.append(say("The sides of the bed are not known: it is drawn as a square of its area."))
    return side, side


def _flows(place: Place, line: Line | None, length_m: float, assumed: list[Said]) -> tuple[float, float, float, float]:
    """Flow on the bed and of one emitter [L/h], from emitter to emitter [m], and how many (0 where nothing says so)."""
    each = place.emitter_flow_lph or (line.emitter_flow_lph if line else None)
    spacing = line.emitter_spacing_m if line else None
    total = line.flow_lph * place.line_share if line and line.flow_lph else None
    count = float(place.emitters or 0)
    if not count and place.means == "drip_line" and line and line.length_m and spacing:
        count = line.length_m * place.line_share / spacing
    if total is None and each and count:
        total = each * count
    if total is None:
        raise InputError(
            say("How much the line gives on this bed is not known, so where its water goes cannot be followed."), code="onbed.flow", field="line",
            hint=say("Let it run into a bucket for a minute, and write the flow down in the line's set-up."),
        )  # fmt: skip
    if place.means == "emitters" and not count:
        count = max(1.0, round(total / (each or EMITTER_LPH)))
        assumed.append(say("How many emitters there are is not known: {count} are drawn.", count=round(count)))
    if place.means == "drip_line" and spacing is None:
        spacing = min(SPACING_M, length_m)
        assumed.append(say("How far apart the emitters are is not known: {apart} is taken (common practice).", apart=Measure(spacing, "length")))  # fmt: skip
    if place.means == "drip_line" and not count and each:
        count = total / each
    return total, total / count if count else each or EMITTER_LPH, spacing or SPACING_M, count


def _pipes(
    place: Place, line: Line | None, sides: tuple[float, float], along_m: float | None, rows_m: tuple[float, ...], wide_m: float
) -> tuple[float, ...]:  # fmt: skip
    """How far across the bed each pipe lies: as many as the length of pipe makes, else as few as serve the rows."""
    length, width = sides
    known = line.length_m * place.line_share if line and line.length_m else along_m
    if known:
        return row_places_m(width, max(1, min(round(known / length), math.floor(width / 0.1))))
    return line_places_m(width, rows_m, wide_m)


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


def _rows_of(plants: Sequence[Plant]) -> tuple[float, ...]:
    return tuple(sorted({p.y_m for p in plants}))


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
