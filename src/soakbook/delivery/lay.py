"""Laying drip lines on a bed: how many, how far apart, which emitters, what they take, what to buy, and the picture to scale.

The wet circle under one emitter is solved (:mod:`soakbook.delivery.circle`) or was seen. It differs between soils of one name: lines are laid by the narrowest.

References
----------
.. [1] Emitters no further apart than 0.8 of the wetted diameter give a continuous strip (from memory, common practice).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from soakbook.delivery.circle import wet_under
from soakbook.delivery.ground_of import Grounds
from soakbook.delivery.lay_words import reasons
from soakbook.delivery.solved import solved
from soakbook.delivery.tap import CAUTIONS, GRAVITY_M, NOMINAL_M, fittings, needs_reducer, such_lines_at_once
from soakbook.errors import InputError
from soakbook.physics.pipes import KPA_PER_M, Emitter, Feed, compensating, dripper, held
from soakbook.physics.pipes_tree import Flows, Lateral, Manifold, Network, network
from soakbook.physics.uniformity import GOOD_VARIATION, emission_uniformity_pct, flow_variation
from soakbook.said import Measure, say
from soakbook.unit_tables import FOOT_M
from soakbook.units import UnitSystem

OVERLAP = 0.8
#: What emitters come spaced at (common trade sizes; 6, 8, 12, 16, 20 and 24 in are the same to a hair). [m]
SPACINGS_M = (0.15, 0.20, 0.30, 0.40, 0.50, 0.60)
DRIP_BORE_M, HEADER_BORE_M = 0.0136, 0.0160
COMPENSATES_M = 7.0
MAKER_CV = 0.05
#: Bought beyond what is laid (common practice); pins a metre apart.
SPARE, PIN_EVERY_M = 0.10, 1.0
BED_LEAST_M, BED_MOST_M = 0.1, 200.0


@dataclass(frozen=True)
class Part:
    """One line of the shopping list: what, how many (None for stuff by length), how long in all."""

    what: str
    count: int | None = None
    length_m: float | None = None


@dataclass(frozen=True)
class Layout:
    """Drip lines on a bed. ``lines_m``: how far each stands from the bed's left edge; flows in L/h, heads in m. ``wetted_m``: the wet circle that is planned with.
    Where it is by the soil and was not seen: ``wetted_most_m``, how wide it may be in another soil of that name; ``puddle_m``, how wide water may stand."""

    length_m: float
    width_m: float
    rows_m: tuple[float, ...]
    lines_m: tuple[float, ...]
    wetted_m: float
    wetted_most_m: float | None
    puddle_m: float | None
    emitter_lph: float
    emitter_spacing_m: float
    emitters_per_line: int
    is_compensating: bool
    flow_lph: float
    line_lph: float
    variation: float
    eu_pct: float
    lowest_head_m: float
    rate_mm_h: float
    at_once: int | None
    parts: tuple[Part, ...]
    reasons: tuple[str, ...]
    fittings: tuple[str, ...]
    cautions: tuple[str, ...]


def row_places_m(width_m: float, rows: int) -> tuple[float, ...]:
    """Crop rows evenly over the width, half a gap from the edges."""
    return tuple(width_m * (i + 0.5) / rows for i in range(rows))


def line_places_m(width_m: float, rows_m: tuple[float, ...], wetted_m: float) -> tuple[float, ...]:
    """The fewest lines such that every row stands within 0.4 wetted diameters of one; without rows, lines 0.8 diameters apart or closer."""
    reach = 0.5 * OVERLAP * wetted_m
    if not rows_m:
        return row_places_m(width_m, max(1, math.ceil(width_m / (2.0 * reach) - 1e-9)))
    for lines in range(1, len(rows_m) + 1):
        groups = np.array_split(np.asarray(rows_m), lines)
        if all(g[-1] - g[0] <= 2.0 * reach + 1e-9 for g in groups):
            return tuple(float(0.5 * (g[0] + g[-1])) for g in groups)
    return rows_m


def place_digits(place_m: float, system: UnitSystem) -> int | None:
    """Decimals by which a line's place is told so that it can be laid by them: to the centimetre, or an inch."""
    if system == "US":
        return None if place_m < 3.0 * FOOT_M else 1
    if place_m < 0.995:
        return 0
    return next((n for n in (0, 1) if abs(place_m - round(place_m, n)) < 0.005), 2)


def spacing_for_m(wetted_m: float, plants_apart_m: float | None = None) -> float:
    """The widest spacing sold within 0.8 wetted diameters; plants in rows that stand wider than that have an emitter each (None: no rows, all of the bed is to be wet)."""
    most = OVERLAP * wetted_m
    if plants_apart_m is not None and plants_apart_m > most:
        return plants_apart_m
    return max((s for s in SPACINGS_M if s <= most + 1e-9), default=SPACINGS_M[0])


def lay(length_m: float, width_m: float, *, rows: int = 0, wetted_m: float | None = None, grounds: Grounds | None = None,
        plants_apart_m: float | None = None, feed: Feed | None = None, rise: float = 0.0, lead_m: float = 0.0,
        emitter_lph: float | None = None) -> Layout:  # fmt: skip
    """Lay drip lines along a bed.

    Parameters
    ----------
    length_m, width_m
        The bed; lines run along its length, the header across one end. [m]
    rows
        Crop rows along the length; 0 for a bed sown all over.
    wetted_m
        The wet circle under one emitter, where it was seen. [m]
    grounds
        Else the soils that may be meant (:mod:`soakbook.delivery.ground_of`): it is solved in each.
    plants_apart_m
        In the row.
    feed
        The supply; 1 bar held when left out.
    rise
        Of the ground along the lines, m per m.
    lead_m
        From the supply to the bed.
    emitter_lph
        What one emitter gives at 1 bar; by the soil when left out.
    """
    _check(length_m, width_m, rows, wetted_m, plants_apart_m)
    wet = wet_under(width_m, wetted_m, grounds, emitter_lph)
    given = feed = held(NOMINAL_M) if feed is None else feed
    if needs_reducer(feed):
        feed = replace(feed, set_m=NOMINAL_M)
    rows_m = row_places_m(width_m, rows) if rows else ()
    lines = line_places_m(width_m, rows_m, wet.width_m)
    spacing = spacing_for_m(wet.width_m, plants_apart_m if rows else None)
    count = max(1, math.floor((length_m - spacing / 2.0) / spacing + 1e-9) + 1)
    flow = wet.emitter_lph
    lateral = Lateral(dripper(flow, NOMINAL_M), count, spacing, DRIP_BORE_M, rise, min(spacing / 2.0, length_m))

    def with_emitter(emitter: Emitter, feed: Feed) -> tuple[Network, Flows]:
        laterals = [replace(lateral, emitter=emitter)] * len(lines)
        gap = float(np.diff(lines).mean()) if len(lines) > 1 else 0.1
        tree = network(laterals, Manifold(HEADER_BORE_M, gap, lead_m + lines[0]))
        return tree, solved(tree, feed)

    tree, flows = with_emitter(lateral.emitter, feed)
    uneven, holds = _variation(tree, flows) > GOOD_VARIATION, False
    if uneven and feed.head_m > GRAVITY_M:  # compensating ones may have the upper end of what drip stands
        higher = replace(feed, set_m=2.0 * NOMINAL_M) if needs_reducer(given) else feed
        evened = with_emitter(compensating(flow, COMPENSATES_M), higher)
        holds = _variation(*evened) <= GOOD_VARIATION
        if holds:
            lateral, feed, (tree, flows) = replace(lateral, emitter=compensating(flow, COMPENSATES_M)), higher, evened
    each = flows.flow_lph[tree.has_emitter]
    if not each.max() > 0.0:
        raise InputError(
            say("No water reaches the bed: the supply is lower than the lines."), code="lay.no_water", field="supply"
        )
    one = float(flows.flow_lph[tree.line == 0].sum())
    return Layout(
        length_m, width_m, rows_m, lines, wet.width_m, wet.most_m, wet.puddle_m, flow, spacing, count, uneven and holds, flows.total_lph, one, float(flow_variation(each)),
        emission_uniformity_pct(each, MAKER_CV), float(flows.head_m[tree.has_emitter].min()), flows.total_lph / (length_m * width_m),
        such_lines_at_once(feed, lateral), tuple(_parts(length_m, lines, count, spacing, flow, lead_m, feed, uneven and holds)),
        tuple(reasons(lines, rows_m, wet, spacing, plants_apart_m, emitter_lph is None, uneven, holds)), tuple(fittings(given)), CAUTIONS,
    )  # fmt: skip


def _check(length_m: float, width_m: float, rows: int, wetted_m: float | None, plants_apart_m: float | None) -> None:
    ends = {"low": Measure(BED_LEAST_M, "length"), "most": Measure(BED_MOST_M, "length")}
    if not BED_LEAST_M <= length_m <= BED_MOST_M:
        raise InputError(
            say("The bed's length must be from {low} to {most} (got {got}).", got=Measure(length_m, "length"), **ends),
            code="lay.bed", field="length",
        )  # fmt: skip
    if not BED_LEAST_M <= width_m <= BED_MOST_M:
        raise InputError(
            say("The bed's width must be from {low} to {most} (got {got}).", got=Measure(width_m, "length"), **ends),
            code="lay.bed", field="width",
        )  # fmt: skip
    if (
        not (wetted_m is None or 0.05 <= wetted_m <= 3.0)
        or not 0 <= rows <= 100
        or (plants_apart_m is not None and not 0.02 <= plants_apart_m <= 5.0)
    ):
        raise InputError(
            say("The wet circle is 5 cm to 3 m wide, rows are 0 to 100, plants stand 2 cm to 5 m apart."),
            code="lay.sizes",
            field="bed",
        )


def _variation(tree: Network, flows: Flows) -> float:
    each = flows.flow_lph[tree.has_emitter]
    return float(flow_variation(each)) if each.max() > 0.0 else 1.0


def _parts(length_m: float, lines: tuple[float, ...], count: int, spacing: float, flow: float, lead_m: float, feed: Feed,
           is_compensating: bool) -> list[Part]:  # fmt: skip
    n = len(lines)
    kind = say("compensating") if is_compensating else say("plain")
    what = say(
        "drip line of 13.6 mm bore, {kind} emitters of {flow} every {every}",
        kind=kind, flow=Measure(flow, "flow", 1), every=Measure(spacing, "length"),
    )  # fmt: skip
    header = lines[-1]
    out = [
        Part(what, None, n * length_m * (1.0 + SPARE)),
        Part(say("header pipe of 16 mm bore"), None, (header + lead_m) * (1.0 + SPARE)),
        Part(say("joints from the header to a line"), n),
        Part(say("end stops, to open for flushing"), n),
        Part(say("pins"), n * (math.ceil(length_m / PIN_EVERY_M) + 1)),
        Part(say("filter, 120 mesh or finer"), 1),
        Part(
            say("shut-off for the bed, at the outlet of the tank")
            if feed.is_tank
            else say("shut-off for the bed, on the supply side of the backflow preventer"),
            1,
        ),
    ]
    if math.isfinite(feed.set_m):
        out.append(Part(say("pressure reducer, {set}", set=Measure(feed.set_m * KPA_PER_M, "pressure", 0)), 1))
    if not feed.is_tank:
        out.append(Part(say("backflow preventer, as your local code asks"), 1))
    return out


def drawing(made: Layout) -> dict[str, Any]:
    """The layout to scale as plain shapes in metres, x along the bed and y across it, for a page to draw.

    ``emitters`` are points with the wetted circle's radius beside them; ``lines`` and ``header`` go from point to point.
    """
    xs = [made.emitter_spacing_m * (0.5 + i) for i in range(made.emitters_per_line)]
    return {
        "unit": "m",
        "bed": {"x": 0.0, "y": 0.0, "width": made.length_m, "height": made.width_m},
        "header": [[0.0, 0.0], [0.0, made.lines_m[-1]]],
        "lines": [[[0.0, y], [made.length_m, y]] for y in made.lines_m],
        "rows": [[[0.0, y], [made.length_m, y]] for y in made.rows_m],
        "emitters": [[min(x, made.length_m), y] for y in made.lines_m for x in xs],
        "wetted_radius": made.wetted_m / 2.0,
    }
