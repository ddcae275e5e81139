"""Why drip lines lie as they do on a bed, in sentences."""

from __future__ import annotations

from soakbook.delivery.circle import EMITTERS_LPH, LOOK_L, Wet
from soakbook.delivery.drip import OVERLAP
from soakbook.said import Measure, Said, say


def reasons(lines: tuple[float, ...], rows_m: tuple[float, ...], circle_of: Wet, spacing: float, apart: float | None, is_chosen: bool,
            uneven: bool, holds: bool) -> list[str]:  # fmt: skip
    """Why the lines lie as they do.

    Parameters
    ----------
    lines, rows_m
        How far each stands from the bed's long edge. [m]
    circle_of
        The wet circle and the emitter.
    spacing, apart
        From emitter to emitter; from plant to plant where it was said. [m]
    is_chosen
        Whether the emitter was chosen here.
    uneven, holds
        Whether plain emitters would differ by too much, and whether compensating ones would help.
    """
    wet = Measure(circle_of.width_m, "length")
    out: list[str] = []
    if not rows_m:
        out.append(
            say("No rows: lines at most 0.8 of the wet circle ({wet}) apart, so that the whole bed is wetted.", wet=wet)
        )
    elif len(lines) == len(rows_m):
        out.append(say("One line for each row: the wet circle ({wet}) does not reach from row to row.", wet=wet))
    else:
        out.append(
            say(
                "Rows stand close enough to share a line: none is further from one than 0.4 of the wet circle ({wet}).",
                wet=wet,
            )
        )
    if not rows_m and apart is not None and apart > spacing:
        out.append(say("How far apart plants stand does not count without rows: all of the bed is wetted."))
    if rows_m and apart is not None and apart > OVERLAP * circle_of.width_m:
        out.append(say("Plants stand further apart than the wet circles: an emitter at each."))
    else:
        out.append(
            say("Emitters at most 0.8 of the wet circle apart, so that the strip is wet throughout (common practice).")
        )
    out += _of_soil(circle_of, is_chosen)
    if uneven and holds:
        out.append(say("Compensating emitters: plain ones would differ by more than a tenth."))
    elif uneven:
        out.append(
            say(
                "Emitters differ by more than a tenth here, and compensating ones would not help at this pressure: shorter lines, fed from their middle, thicker pipe, or more height."
            )
        )
    return out


def _of_soil(wet: Wet, is_chosen: bool) -> list[Said]:
    """Where the wet circle and the emitter come from."""
    flow = Measure(wet.emitter_lph, "flow", 1)
    if wet.most_m is None or wet.puddle_m is None:
        return [say("{flow} emitters, for a wet circle as wide as you saw (common practice).", flow=flow)] if is_chosen else []  # fmt: skip
    litres, low, high = Measure(LOOK_L, "volume"), Measure(wet.width_m, "length"), Measure(wet.most_m, "length")
    if wet.beyond:
        out = [say("Water stands on some soils of this name and does not go in: the wet circle after {litres} is {low} in one table of soils and more than {high} in the other. Lines are laid by the narrower. Water in several goes, and look whether it runs off.", litres=litres, low=low, high=high)]  # fmt: skip
    elif wet.most_m < 1.05 * wet.width_m:
        out = [say("The wet circle is solved for this soil: {low} after {litres} from one emitter.", litres=litres, low=low)]  # fmt: skip
    else:
        out = [say("The wet circle is solved for this soil: {low} to {high} after {litres} from one emitter, as two tables of soils have it. Lines are laid by the narrower.", litres=litres, low=low, high=high)]  # fmt: skip
    if not is_chosen:
        return out
    puddle = Measure(wet.puddle_m, "length")
    if wet.emitter_lph == EMITTERS_LPH[0]:
        out.append(say("{flow} emitters: their water stands in a puddle of {puddle} at most before it goes in.", flow=flow, puddle=puddle))  # fmt: skip
        return out
    out.append(say("{flow} emitters: under faster ones water would stand too wide and find its way off the bed.", flow=flow))  # fmt: skip
    if not wet.beyond:
        out.append(say("Under these the puddle is {puddle} at most.", puddle=puddle))
    return out
