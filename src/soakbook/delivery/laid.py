"""What the line on a bed is taken to be, as far as the garden says: how much it gives, how much pipe there is, and whether its emitters join.

The one place where the usual figures stand for what the garden does not say: the round, the timer and the page of a bed all lay a line out by it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from soakbook.delivery.circle import EMITTERS_LPH, circle
from soakbook.delivery.drip import OVERLAP
from soakbook.delivery.ground_of import Grounds
from soakbook.garden.log import flow_of
from soakbook.physics.wetting.ground import Shape
from soakbook.said import Measure, Said, say

if TYPE_CHECKING:
    from soakbook.garden.model import Line, Place

Dripping = Literal["drip_line", "emitters", "soaker"]
#: Means whose water comes out along a line on the bed.
MEANS: tuple[Dripping, ...] = ("drip_line", "emitters", "soaker")
#: Where the garden does not say: from emitter to emitter on a drip line [m], and what a single one gives [L/h] (common practice).
SPACING_M, EMITTER_LPH = 0.30, EMITTERS_LPH[0]
#: What a metre gives: of drip tape with emitters each 0.3 m, 5.6 mm/h over rows 0.61 m apart (the catalogue's figure); of soaker hose judged. [L/h]
USUAL_PER_M = {"drip_line": 3.4, "soaker": 7.5}
#: Pipes lie no closer than this. Judged. [m]
CLOSEST_M = 0.1


@dataclass(frozen=True)
class Laid:
    """A line on a bed. ``length_m`` is the longer side, along which the pipes lie, evenly over ``width_m``: ``pipes`` of them with ``along`` emitters each (0: it
    leaks all along); single emitters have no pipes, and ``along`` is how many they are. ``shape`` and ``flow_lph`` as the solver wants them: of one emitter, or of
    a metre of a joined line; ``count`` emitters or metres, ``total_lph`` of the bed. ``assumed``: what the garden does not say."""

    length_m: float
    width_m: float
    pipes: int
    along: int
    shape: Shape
    flow_lph: float
    total_lph: float
    assumed: tuple[Said, ...]

    @property
    def count(self) -> float:
        """Emitters, or metres of a joined line."""
        return self.pipes * self.length_m if self.shape == "line" else max(self.pipes, 1) * self.along

    @property
    def reach_m(self) -> float:
        """From what each emitter or line wets to where the next one's ground, or the path, begins: all the ground is shared out."""
        if self.shape == "line":
            return 0.5 * self.width_m / self.pipes
        return math.sqrt(self.length_m * self.width_m / self.count / math.pi)


def is_on_line(place: Place) -> bool:
    """Whether a place is a bed along which water drips."""
    return place.kind == "bed" and place.means in MEANS


def laid(place: Place, line: Line | None, grounds: Grounds) -> Laid | None:
    """Lay out what is known of a line on a bed; None where no water drips on it, or where its flow is not known.

    Parameters
    ----------
    place
        The bed.
    line
        The line that it is on, if any.
    grounds
        Its soil (:func:`soakbook.delivery.ground_of.soils_of`): emitters join to a strip where they stand within 0.8 of what one wets in the soil that draws least.
    """
    total = flow_of(place, line)
    if not is_on_line(place) or not total:
        return None
    assumed: list[Said] = []
    length, width = _sides(place, assumed)
    each = place.emitter_flow_lph or (line.emitter_flow_lph if line else None)
    if place.means == "emitters":
        count = place.emitters or max(1, round(total / (each or EMITTER_LPH)))
        if not place.emitters:
            assumed.append(say("How many emitters there are is not known: {count} are drawn.", count=count))
        return Laid(length, width, 0, count, "emitter", total / count, total, tuple(assumed))
    spacing = _spacing(line, length, assumed) if place.means == "drip_line" else 0.0
    long = _pipe_m(place, line, total, each, spacing, assumed)
    pipes = max(1, min(round(long / length), math.floor(width / CLOSEST_M)))
    along = max(1, round(length / spacing)) if spacing else 0
    if not along or spacing <= OVERLAP * circle(grounds, EMITTER_LPH).sure_m:
        return Laid(length, width, pipes, along, "line", total / (pipes * length), total, tuple(assumed))
    return Laid(length, width, pipes, along, "emitter", total / (pipes * along), total, tuple(assumed))


def _sides(place: Place, assumed: list[Said]) -> tuple[float, float]:
    if place.length_m and place.width_m:
        return max(place.length_m, place.width_m), min(place.length_m, place.width_m)
    side = math.sqrt(place.area_m2)
    assumed.append(say("The sides of the bed are not known: it is drawn as a square of its area."))
    return side, side


def _spacing(line: Line | None, length_m: float, assumed: list[Said]) -> float:
    if line and line.emitter_spacing_m:
        return line.emitter_spacing_m
    spacing = min(SPACING_M, length_m)
    assumed.append(say("How far apart the emitters are is not known: {apart} is taken (common practice).", apart=Measure(spacing, "length")))  # fmt: skip
    return spacing


def _pipe_m(
    place: Place, line: Line | None, total_lph: float, each: float | None, spacing_m: float, assumed: list[Said]
) -> float:
    """How much pipe lies on the bed: as it was measured, as its emitters make it, else as its flow does. [m]"""
    if line and line.length_m:
        return line.length_m * place.line_share
    if place.emitters and spacing_m:
        return place.emitters * spacing_m
    if each and spacing_m:
        return total_lph / each * spacing_m
    per_m = USUAL_PER_M[place.means]
    assumed.append(say("How much pipe lies here is not known: as many pipes as give about {flow} a metre are taken.", flow=Measure(per_m, "flow", 1)))  # fmt: skip
    return total_lph / per_m
