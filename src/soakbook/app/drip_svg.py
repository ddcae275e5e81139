"""A cut through the soil under an emitter or line while it runs: one picture of the wetted soil for each look. SVG made on the server, without script or style.

Three shades: what counts as wetted, and water content up by 8 and by 16 hundredths of the soil's volume. Each look is a group of its own; the page shows one, and its slider the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from soakbook.delivery.drip import Frame

if TYPE_CHECKING:
    from soakbook.app.reader import Reader

#: Width of the drawing and room for the scale at the left. [px]
WIDTH, LEFT, ABOVE = 360.0, 52.0, 26.0
#: Classes of the shades, the lightest first: what counts as wetted, then :data:`soakbook.delivery.drip.SHADES`.
_SHADES = ("drip-damp", "drip-wet", "drip-full")


def drip_svg(
    frames: Sequence[Frame], reach_cm: tuple[float, float], wanted_cm: float, shown: int, name: str, title: str, r: Reader, borders_cm: Sequence[float] = ()
) -> str:  # fmt: skip
    """Draw the looks, ``shown`` to be seen at first.

    Parameters
    ----------
    frames
        What :func:`soakbook.delivery.drip.frames` found.
    reach_cm
        How far out and down the picture goes (:func:`reach_of`).
    wanted_cm
        How deep the soil should be wet: a dashed line.
    shown
        Place among the frames.
    name
        Prefix of the ids in the picture.
    title
        What it shows.
    r
        Who reads it.
    borders_cm
        Depths at which one soil ends and another begins: thin lines.
    """
    wide, deep = reach_cm
    scale = (WIDTH - LEFT - 6.0) / (2.0 * wide)
    middle = LEFT + scale * wide
    height = ABOVE + scale * deep
    groups = "".join(_frame(f, k, k == shown, middle, scale) for k, f in enumerate(frames))
    line = ABOVE + scale * wanted_cm
    borders = "".join(
        f'<path class="drip-layer" d="M{LEFT:.1f} {ABOVE + scale * d:.1f}H{WIDTH - 4:.1f}"/>'
        for d in borders_cm
        if d < deep
    )
    return (
        f'<svg class="drip" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" aria-labelledby="{name}-t {name}-d">'
        f'<title id="{name}-t">{escape(title)}</title><desc id="{name}-d">{escape(r.t("A cut through the soil under the source, to scale: the darker, the more water has come. The table has the figures."))}</desc>'
        f'<rect class="drip-soil" x="{LEFT:.1f}" y="{ABOVE:.1f}" width="{WIDTH - LEFT - 4:.1f}" height="{height - ABOVE - 2:.1f}"/>{groups}{borders}'
        f'<path class="drip-wanted" d="M{LEFT:.1f} {line:.1f}H{WIDTH - 4:.1f}"/><path class="drip-source" d="M{middle:.1f} 4V{ABOVE - 4:.1f}m-5 -7l5 7l5 -7"/>'
        f'<text x="{LEFT - 6:.0f}" y="{line + 4:.1f}" text-anchor="end">{escape(r.quantity(wanted_cm / 100.0, "length"))}</text></svg>'
    )


def reach_of(frames: Sequence[Frame], wanted_cm: float) -> tuple[float, float]:
    """How far out and down a picture must go to show all looks and the wanted depth. [cm]"""
    points = [point for f in frames for shade in f.edges for point in shade]
    return 1.1 * max(20.0, *(x for x, _ in points)), 1.1 * max(wanted_cm, *(y for _, y in points))


def _frame(frame: Frame, k: int, is_shown: bool, middle: float, scale: float) -> str:
    shades = "".join(
        f'<path class="{css}" d="{_outline(edge, middle, scale)}"/>' for css, edge in zip(_SHADES, frame.edges, strict=True) if edge
    )  # fmt: skip
    stands = f'<path class="drip-stands" d="M{middle - scale * frame.stands_cm:.1f} {ABOVE:.1f}H{middle + scale * frame.stands_cm:.1f}"/>' if frame.stands_cm else ""  # fmt: skip
    return f'<g class="drip-frame{" shown" if is_shown else ""}" data-look="{k}">{shades}{stands}</g>'


def _outline(edge: Sequence[tuple[float, float]], middle: float, scale: float) -> str:
    """Down the right side and up the left."""
    right = [(middle + scale * x, ABOVE + scale * y) for x, y in edge]
    left = [(middle - scale * x, ABOVE + scale * y) for x, y in reversed(edge)]
    points = " ".join(f"{x:.1f} {y:.1f}" for x, y in right + left)
    return f"M{middle:.1f} {right[0][1]:.1f}L{points}Z"
