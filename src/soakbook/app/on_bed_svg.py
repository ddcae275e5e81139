"""A line on its bed from above, to scale: plants where they stand, emitters, and the wetted ground look by look. SVG made on the server, without script or style.

The ground that is wetted in the one soil that may be meant is shaded within a full outline; in the other soil it has a dashed outline, so that they are told apart
without colours. Each look is a group of its own, as in :mod:`soakbook.app.drip_svg`: one slider moves both pictures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soakbook.app.reader import Reader
    from soakbook.delivery.on_bed import OnBed

#: The picture's width, the room beside and around the bed, and the most height of the bed. [px]
WIDTH, LEFT, RIGHT, TOP, BELOW, TALLEST = 360.0, 34.0, 10.0, 10.0, 34.0, 420.0
#: Outlines, one to each soil that may be meant.
_STRIPS = ("bed-strip", "bed-strip-other")
#: Plants are drawn no smaller than this. [px]
_SMALLEST = 2.5


@dataclass(frozen=True)
class _Frame:
    """Metres to pixels."""

    scale: float
    long: float
    wide: float

    def x(self, x_m: float) -> float:
        return LEFT + x_m * self.scale

    def y(self, y_m: float) -> float:
        return TOP + y_m * self.scale


def on_bed_svg(bed: OnBed, halves_m: Sequence[Sequence[float]], shown: int, r: Reader) -> str:
    """Draw a bed with the line on it.

    Parameters
    ----------
    bed
        From :func:`soakbook.delivery.on_bed.on_bed`.
    halves_m
        For each soil that may be meant, how far from pipe or emitter it is wet at each look (:func:`soakbook.delivery.on_bed_wet.on_bed_wet`).
    shown
        The look to be seen at first.
    r
        Who reads it.
    """
    scale = min((WIDTH - LEFT - RIGHT) / bed.length_m, TALLEST / bed.width_m)
    at = _Frame(scale, bed.length_m, bed.width_m)
    height = TOP + bed.width_m * scale + BELOW
    box = f'x="{at.x(0):.1f}" y="{at.y(0):.1f}" width="{bed.length_m * scale:.1f}" height="{bed.width_m * scale:.1f}"'
    looks = "".join(
        f'<g class="drip-frame{" shown" if k == shown else ""}" data-look="{k}" clip-path="url(#bed-clip)">{"".join(_strip(bed, one[k], css, at) for one, css in zip(halves_m, _STRIPS, strict=False))}</g>'
        for k in range(len(halves_m[0]))
    )
    return (
        f'<svg class="lay bed" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" aria-labelledby="bed-t bed-d">'
        f'<title id="bed-t">{escape(r.t("The line on the bed, to scale"))}</title><desc id="bed-d">{escape(_description(bed, r))}</desc>'
        f'<defs><clipPath id="bed-clip"><rect {box}/></clipPath></defs><rect class="lay-bed" {box}/>{looks}{_rows(bed, at)}{_plants(bed, at)}{_pipes(bed, at)}'
        f"{_sizes(bed, at, r)}</svg>"
    )


def _strip(bed: OnBed, half: float, css: str, at: _Frame) -> str:
    """Ground that is wetted at any depth: a joined line's as strips, single emitters' as circles."""
    if half <= 0.0:
        return ""
    if bed.shape == "emitter":
        return "".join(
            f'<circle class="{css}" cx="{at.x(x):.1f}" cy="{at.y(y):.1f}" r="{half * at.scale:.1f}"/>'
            for x, y in bed.emitters
        )
    return "".join(
        f'<rect class="{css}" x="{at.x(-1.0):.1f}" y="{at.y(a):.1f}" width="{(at.long + 2.0) * at.scale:.1f}" height="{(b - a) * at.scale:.1f}"/>'
        for a, b in _joined([(y - half, y + half) for y in bed.pipes_m])
    )


def _joined(spans: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Spans that touch made one; those across the bed's edges drawn beyond them. [m]"""
    out: list[tuple[float, float]] = []
    for low, high in spans:
        if out and low <= out[-1][1] + 1e-6:
            out[-1] = (out[-1][0], max(high, out[-1][1]))
        else:
            out.append((low, high))
    return out


def _rows(bed: OnBed, at: _Frame) -> str:
    d = "".join(f"M{at.x(0.0):.1f} {at.y(y):.1f}H{at.x(bed.length_m):.1f}" for y in bed.rows_m)
    return f'<path class="lay-row" d="{d}"/>' if d else ""


def _plants(bed: OnBed, at: _Frame) -> str:
    return "".join(
        f'<circle class="bed-plant" cx="{at.x(p.x_m):.1f}" cy="{at.y(p.y_m):.1f}" r="{max(0.5 * p.width_m * at.scale, _SMALLEST):.1f}"/>'
        f'<path class="bed-stem" d="M{at.x(p.x_m):.1f} {at.y(p.y_m):.1f}m-2.5 -2.5l5 5m0 -5l-5 5"/>'
        for p in bed.plants
    )


def _pipes(bed: OnBed, at: _Frame) -> str:
    d = "".join(f"M{at.x(0.0):.1f} {at.y(y):.1f}H{at.x(bed.length_m):.1f}" for y in bed.pipes_m)
    dots = "".join(f"M{at.x(x):.1f} {at.y(y):.1f}h0" for x, y in bed.emitters)
    drops = f'<path class="lay-halo" d="{dots}"/><path class="lay-emitter" d="{dots}"/>' if dots else ""
    return f'<path class="lay-line" d="{d}"/>{drops}'


def _sizes(bed: OnBed, at: _Frame, r: Reader) -> str:
    """Length below and width beside it."""
    left, right, top, bottom = at.x(0.0), at.x(bed.length_m), at.y(0.0), at.y(bed.width_m)
    below, beside = bottom + 9.0, LEFT - 9.0
    d = f"M{left:.1f} {below - 4:.1f}v8M{right:.1f} {below - 4:.1f}v8M{left:.1f} {below:.1f}H{right:.1f}"
    d += f"M{beside - 4:.1f} {top:.1f}h8M{beside - 4:.1f} {bottom:.1f}h8M{beside:.1f} {top:.1f}V{bottom:.1f}"
    turned = f"{beside - 7:.1f} {max((top + bottom) / 2.0, TOP + 22.0):.1f}"
    return (
        f'<path class="lay-size" d="{d}"/><text x="{(left + right) / 2:.1f}" y="{below + 18:.1f}" text-anchor="middle">{escape(r.quantity(bed.length_m, "length"))}</text>'
        f'<text transform="translate({turned}) rotate(-90)" text-anchor="middle">{escape(r.quantity(bed.width_m, "length"))}</text>'
    )


def _description(bed: OnBed, r: Reader) -> str:
    words = [
        r.t("A bed of {length} by {width}.", length=r.quantity(bed.length_m, "length"), width=r.quantity(bed.width_m, "length")),
        r.tn("{n} pipe along it.", "{n} pipes along it.", len(bed.pipes_m)),
    ]  # fmt: skip
    if bed.emitters:
        words.append(r.tn("{n} emitter.", "{n} emitters.", len(bed.emitters)))
    if bed.plants:
        words.append(r.tn("{n} plant.", "{n} plants.", len(bed.plants)))
    words.append(r.t("The table has how far it is wetted."))
    return " ".join(words)
