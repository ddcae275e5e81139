"""Drip lines on a bed as one drawing to scale: SVG made on the server, with words in it and no script or style.

One scale holds along and across. Colours come from ``static/lay.css`` by class; rows are dashed and lines are not, so that they are told
apart without colours.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soakbook.app.reader import Reader
    from soakbook.delivery.lay import Layout

#: The picture's width, the room beside and around the bed, and the most height of the bed. [px]
WIDTH, LEFT, RIGHT, TOP, BELOW, TALLEST = 360.0, 34.0, 10.0, 10.0, 34.0, 420.0
#: Emitters closer than this run together: the strip is drawn whole, and one end is drawn larger as well. [px]
TOO_CLOSE = 6.0


@dataclass(frozen=True)
class _Frame:
    """Metres to pixels; ``x0_m``, ``y0_m`` stand at the upper left, ``reach_m`` is how far along the bed the picture goes."""

    x0_m: float
    y0_m: float
    scale: float
    reach_m: float
    bottom: float
    uid: str

    def x(self, x_m: float) -> float:
        return LEFT + (x_m - self.x0_m) * self.scale

    def y(self, y_m: float) -> float:
        return TOP + (y_m - self.y0_m) * self.scale


def near_reach_m(made: Layout) -> float | None:
    """How much of the bed's end to draw larger; None where the whole bed is drawn large enough."""
    at = _frame(made, None)
    if made.emitter_spacing_m * at.scale >= TOO_CLOSE and min(_gaps(made)) * at.scale >= TOO_CLOSE:
        return None
    reach = max(4.0 * made.emitter_spacing_m, min(2.0 * made.width_m, 24.0 * made.emitter_spacing_m))
    return reach if reach < 0.7 * made.length_m else None


def _gaps(made: Layout) -> list[float]:
    return [b - a for a, b in zip(made.lines_m, made.lines_m[1:], strict=False)] or [made.width_m]


def lay_svg(made: Layout, r: Reader, reach_m: float | None = None) -> str:
    """Draw a bed with its rows, lines, emitters and what they wet.

    Parameters
    ----------
    made
        From :func:`soakbook.delivery.lay.lay`.
    r
        Who reads it: language and measures.
    reach_m
        How far along the bed to draw; all of it when left out. [m]

    Returns
    -------
    str
        One ``svg`` element, safe to put into a page: every text in it is escaped.
    """
    from soakbook.delivery.lay import drawing

    at, plain = _frame(made, reach_m), drawing(made)
    points = [(x, y) for x, y in plain["emitters"] if x <= at.reach_m + 1e-9]
    parts = [
        _bed(made, at),
        _wet(made, at, points),
        _rows(made, at),
        _pipes(made, at),
        _dots(made, at, points),
        _sizes(made, at, r),
    ]
    title = r.t("The lines on the bed, to scale")
    if reach_m is not None:
        title = r.t("The first {length} of it, larger", length=r.quantity(reach_m, "length"))
    return (
        f'<svg class="lay" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {at.bottom + BELOW:.0f}" role="img" '
        f'aria-labelledby="{at.uid}-t {at.uid}-d"><title id="{at.uid}-t">{escape(title)}</title>'
        f'<desc id="{at.uid}-d">{escape(_description(made, r))}</desc>{"".join(parts)}</svg>'
    )


def _frame(made: Layout, reach_m: float | None) -> _Frame:
    """The scale at which the bed, and what is wetted beside it, has room."""
    radius, first = made.wetted_m / 2.0, min(made.emitter_spacing_m / 2.0, made.length_m)
    reach = made.length_m if reach_m is None else reach_m
    x0, x1 = min(0.0, first - radius), reach + (radius if reach_m is None else 0.0)
    y0, y1 = min(0.0, made.lines_m[0] - radius), max(made.width_m, made.lines_m[-1] + radius)
    scale = min((WIDTH - LEFT - RIGHT) / (x1 - x0), TALLEST / (y1 - y0))
    return _Frame(x0, y0, scale, reach, TOP + (y1 - y0) * scale, "lay" if reach_m is None else "lay-near")


def _bed(made: Layout, at: _Frame) -> str:
    """The outline, open at the side where the bed goes on."""
    left, right, top, bottom = at.x(0.0), at.x(at.reach_m), at.y(0.0), at.y(made.width_m)
    close = "Z" if at.reach_m >= made.length_m else ""
    return f'<path class="lay-bed" d="M{right:.1f} {top:.1f}H{left:.1f}V{bottom:.1f}H{right:.1f}{close}"/>'


def _wet(made: Layout, at: _Frame, points: list[tuple[float, float]]) -> str:
    """Wet circles, as dots of a wide pen: where they overlap they make one strip."""
    d = _points(at, points)
    if made.emitter_spacing_m * at.scale < TOO_CLOSE and made.emitter_spacing_m < made.wetted_m:
        xs = [x for x, _ in points]
        d = "".join(f"M{at.x(min(xs)):.1f} {at.y(y):.1f}H{at.x(max(xs)):.1f}" for y in made.lines_m)
    return f'<path class="lay-wet" stroke-width="{made.wetted_m * at.scale:.1f}" d="{d}"/>'


def _points(at: _Frame, points: list[tuple[float, float]]) -> str:
    return "".join(f"M{at.x(x):.1f} {at.y(y):.1f}h0" for x, y in points)


def _rows(made: Layout, at: _Frame) -> str:
    d = "".join(f"M{at.x(0.0):.1f} {at.y(y):.1f}H{at.x(at.reach_m):.1f}" for y in made.rows_m)
    return f'<path class="lay-row" d="{d}"/>' if d else ""


def _pipes(made: Layout, at: _Frame) -> str:
    d = "".join(f"M{at.x(0.0):.1f} {at.y(y):.1f}H{at.x(at.reach_m):.1f}" for y in made.lines_m)
    header = f"M{at.x(0.0):.1f} {at.y(0.0):.1f}V{at.y(made.lines_m[-1]):.1f}"
    supply = f'<circle class="lay-supply" cx="{at.x(0.0):.1f}" cy="{at.y(0.0):.1f}" r="4.5"/>'
    return f'<path class="lay-line" d="{d}"/><path class="lay-header" d="{header}"/>{supply}'


def _dots(made: Layout, at: _Frame, points: list[tuple[float, float]]) -> str:
    if made.emitter_spacing_m * at.scale < TOO_CLOSE:
        return ""
    d = _points(at, points)
    return f'<path class="lay-halo" d="{d}"/><path class="lay-emitter" d="{d}"/>'


def _sizes(made: Layout, at: _Frame, r: Reader) -> str:
    """Length below and width beside it."""
    left, right, below = at.x(0.0), at.x(at.reach_m), at.bottom + 9.0
    top, bottom, beside = at.y(0.0), at.y(made.width_m), at.x(at.x0_m) - 9.0
    middle = (top + bottom) / 2.0
    d = f"M{left:.1f} {below - 4:.1f}v8M{right:.1f} {below - 4:.1f}v8M{left:.1f} {below:.1f}H{right:.1f}"
    d += f"M{beside - 4:.1f} {top:.1f}h8M{beside - 4:.1f} {bottom:.1f}h8M{beside:.1f} {top:.1f}V{bottom:.1f}"
    long, wide = r.quantity(at.reach_m, "length"), r.quantity(made.width_m, "length")
    turned = f"{beside - 7:.1f} {max(middle, TOP + 22.0):.1f}"
    return (
        f'<path class="lay-size" d="{d}"/><text x="{(left + right) / 2:.1f}" y="{below + 18:.1f}" text-anchor="middle">{escape(long)}</text>'
        f'<text transform="translate({turned}) rotate(-90)" text-anchor="middle">{escape(wide)}</text>'
    )


def _description(made: Layout, r: Reader) -> str:
    words = [
        r.t("A bed of {length} by {width}.", length=r.quantity(made.length_m, "length"), width=r.quantity(made.width_m, "length")),
        r.tn("{n} crop row.", "{n} crop rows.", len(made.rows_m)) if made.rows_m else r.t("Sown all over."),
        r.tn("{n} line along it from a pipe across one end.", "{n} lines along it from a pipe across one end.", len(made.lines_m)),
        r.t("An emitter every {every}, each with a wet circle of {wet}.", every=r.quantity(made.emitter_spacing_m, "length"), wet=r.quantity(made.wetted_m, "length")),
    ]  # fmt: skip
    return " ".join(words)
