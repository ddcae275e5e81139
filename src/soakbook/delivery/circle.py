"""The wet circle under one emitter, solved for the soils that may be meant; and the emitter whose water goes in before it runs off."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from soakbook.delivery.drip import DUE_CM
from soakbook.delivery.ground_of import Grounds
from soakbook.errors import InputError
from soakbook.physics.wetting.extent import extents
from soakbook.physics.wetting.ground import Source, even_grid
from soakbook.physics.wetting.solve import wet
from soakbook.said import say

#: Water from each emitter before one looks: two hours at 2 L/h, after which a grower would look too. [L]
LOOK_L = 4.0
#: Cells, and how far they reach. Cells of half the size make a circle of 35 to 80 cm 0 to 3 % narrower. [cm]
CELL_CM, OUT_CM, DOWN_CM = 1.0, 90.0, 80.0
#: Emitters that are sold for beds, the usual one first (common practice). [L/h]
EMITTERS_LPH = (2.0, 1.0)
#: A puddle wider than this finds its way out of a bed. Judged. [m]
MOST_PUDDLE_M = 0.6


@dataclass(frozen=True)
class Circle:
    """Wet ground under one emitter of ``flow_lph`` when it has given :data:`LOOK_L`, in each soil that may be meant: how wide at its widest, how wide water stands on
    it, and how deep. [m] ``beyond`` where it reached the end of the cells: it is wider than said."""

    flow_lph: float
    widths_m: tuple[float, ...]
    puddles_m: tuple[float, ...]
    depths_m: tuple[float, ...]
    beyond: bool

    @property
    def sure_m(self) -> float:
        """The narrowest: what is wetted in any of the soils."""
        return min(self.widths_m)


@lru_cache(maxsize=128)
def circle(grounds: Grounds, flow_lph: float) -> Circle:
    """Solve the wet circle of one emitter, on soil that is due for water.

    Parameters
    ----------
    grounds
        Soils that may be meant, from :mod:`soakbook.delivery.ground_of`.
    flow_lph
        What the emitter gives. [L/h]
    """
    if not 0.1 <= flow_lph <= 100.0:
        raise InputError(
            say("An emitter gives 0.1 to 100 L/h (got {got:g}).", got=flow_lph), code="lay.emitter", field="emitter",
            hint=say("Most give 1 to 4 L/h."),
        )  # fmt: skip
    hours = LOOK_L / flow_lph
    grid = even_grid("emitter", CELL_CM, OUT_CM, DOWN_CM)
    looks = [
        extents(wet(layers, grid, Source(flow_lph, ((0.0, hours),)), [hours], first_head_cm=DUE_CM), 100.0)[0]
        for layers in grounds
    ]
    # Where water stands it is wet, though so little has gone in that no cell shows it.
    widths = tuple(2.0 * max(look.widest_cm, look.stands_cm) / 100.0 for look in looks)
    return Circle(
        flow_lph, widths, tuple(2.0 * look.stands_cm / 100.0 for look in looks), tuple(look.depth_cm / 100.0 for look in looks),
        max(widths) >= 0.02 * (OUT_CM - CELL_CM),
    )  # fmt: skip


def emitter_for(grounds: Grounds, width_m: float) -> Circle:
    """The first of :data:`EMITTERS_LPH` whose puddle stays on the bed in all soils that may be meant; else the slowest, which does best."""
    for flow in EMITTERS_LPH:
        found = circle(grounds, flow)
        if max(found.puddles_m) <= min(MOST_PUDDLE_M, width_m):
            break
    return found


@dataclass(frozen=True)
class Wet:
    """The wet circle to plan with, the most that it may be and the puddle in it (None where the circle was seen), and the emitter. [m], [L/h]"""

    width_m: float
    emitter_lph: float
    most_m: float | None = None
    puddle_m: float | None = None
    beyond: bool = False


def wet_under(width_m: float, wetted_m: float | None, grounds: Grounds | None, emitter_lph: float | None) -> Wet:
    """The wet circle under one emitter: as it was seen, else as solved; and what the emitter gives, where nobody says, so that no puddle leaves a bed so wide."""
    if wetted_m is not None:
        # A puddle is no wider than the ground it wets.
        usual, slow = EMITTERS_LPH[0], EMITTERS_LPH[-1]
        return Wet(wetted_m, (usual if wetted_m < MOST_PUDDLE_M else slow) if emitter_lph is None else emitter_lph)
    if grounds is None:
        raise InputError(
            say("Give the soil, or the width of the wet circle."), code="lay.soil", field="soil", hint=say("See 'soakbook soils'."),
        )  # fmt: skip
    found = emitter_for(grounds, width_m) if emitter_lph is None else circle(grounds, emitter_lph)
    return Wet(found.sure_m, found.flow_lph, max(found.widths_m), max(found.puddles_m), found.beyond)
