"""What feeds a line, as far as the garden knows: what the hose gives, and what the rules of a timer let through. More than that no emitters can let out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from soakbook.garden.log import flow_lph
from soakbook.physics.pipes import PLANNED_PART
from soakbook.said import Measure, Said, say

if TYPE_CHECKING:
    from soakbook.garden.model import Garden


@dataclass(frozen=True)
class Fed:
    """A line takes ``line_lph`` while it is open, and may take ``most_lph``; ``why`` in words. [L/h]"""

    line_lph: float
    most_lph: float
    why: Said

    def times_at(self, place_lph: float) -> float:
        """How many times as much a place may get that gets so much now; what is there stays as it is."""
        return max(1.0, 1.0 + (self.most_lph - self.line_lph) / place_lph)


def fed_of(garden: Garden, name: str) -> Fed | None:
    """What feeds a line; None where the garden says nothing of it, or not what the line takes.

    Of what the hose gives running freely a fifth is kept back (:data:`soakbook.delivery.tap.PLANNED_PART`): under the pressure that drip needs it gives less.

    Parameters
    ----------
    garden
        Knows what the hose gives (``[supply] hose``) and what may flow at once (``[[timers]] flow_cap``).
    name
        Of the line.
    """
    line = next(one for one in garden.lines if one.name == name)
    takes = line.flow_lph if line.flow_is_measured else sum(flow_lph(p, garden) or 0.0 for p in garden.places if p.line == name)  # fmt: skip
    bounds = [
        (cap, say("no more than {most} may flow at once by the rules of {timer}", most=Measure(cap, "flow"), timer=kept.name))
        for kept in garden.timers
        if kept.has_line(name) and (cap := kept.rules.flow_cap_lph) is not None
    ]  # fmt: skip
    hose = garden.supply.hose_lph
    if hose is not None:
        most = PLANNED_PART * hose
        bounds.append((most, say("of the {gives} that the hose gives only {most} are planned with", gives=Measure(hose, "flow"), most=Measure(most, "flow"))))  # fmt: skip
    if not takes or not bounds:
        return None
    return Fed(takes, *min(bounds, key=lambda bound: bound[0]))
