"""Lines off a pipe as seen from above: what each stretch of them gives. SVG made on the server, with words in it and no script or style.

Stretches within a tenth of the most are thick, others thin and dashed, dry ones dotted, so that they are told apart without colours; the emitters that give least and
most are marked by words. Along the lines the picture is to scale; across it is drawn wider where lines would run together.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from itertools import groupby
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from soakbook.app.reader import Reader
    from soakbook.delivery.line import Outlet
    from soakbook.physics.pipes_tree import Manifold

#: The picture's width, room at its sides, and the least and most room from line to line and for all of them. [px]
WIDTH, LEFT, RIGHT, ABOVE, BELOW = 360.0, 30.0, 14.0, 30.0, 68.0
_CLOSEST, _WIDEST, _TALLEST = 14.0, 60.0, 420.0
#: Emitters closer than this are not drawn one by one. [px]
_TOO_CLOSE = 6.0
#: Flow of the most from which an emitter counts as even, as for the verdict.
EVEN_FROM = 0.9


def pipes_svg(
    outlets: Sequence[Outlet], least: Outlet, most: Outlet, manifold: Manifold, spacing_m: float, r: Reader
) -> str:
    """Draw lines and what they give.

    Parameters
    ----------
    outlets
        Every emitter, from :func:`soakbook.delivery.line.judge_lines`.
    least, most
        Those to mark.
    manifold
        The pipe that the lines lie off.
    spacing_m
        From emitter to emitter. [m]
    r
        Who reads it.
    """
    lines = max(o.line for o in outlets)
    end_m = max(o.at_m for o in outlets)
    scale = (WIDTH - LEFT - RIGHT) / end_m
    gap, is_to_scale = _gap(lines, scale * manifold.apart_m)
    bottom = ABOVE + gap * (lines - 1)

    def x(at_m: float) -> float:
        return LEFT + at_m * scale

    def y(line: int) -> float:
        return ABOVE + gap * (line - 1)

    parts = [f'<path class="lay-header" d="M{LEFT:.1f} {ABOVE:.1f}V{max(bottom, ABOVE):.1f}"/>']
    for n in range(1, lines + 1):
        parts.append(_line([o for o in outlets if o.line == n], most.flow_lph, x, y(n)))
    if spacing_m * scale >= _TOO_CLOSE and gap >= _TOO_CLOSE:
        d = "".join(f"M{x(o.at_m):.1f} {y(o.line):.1f}h0" for o in outlets)
        parts.append(f'<path class="lay-halo" d="{d}"/><path class="lay-emitter" d="{d}"/>')
    parts.append(f'<circle class="lay-supply" cx="{LEFT:.1f}" cy="{ABOVE:.1f}" r="4.5"/>')
    if most.flow_lph > least.flow_lph:
        parts += [_named(most, r.t("most"), x, y, -1), _named(least, r.t("least"), x, y, 1)]
    parts.append(_size(end_m, x, bottom + 42.0, r))
    said = r.t("Along the lines to scale; across it is drawn wider.") if not is_to_scale else r.t("To scale.")
    return (
        f'<svg class="lay pipes" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {bottom + BELOW:.0f}" role="img" aria-labelledby="pipes-t pipes-d">'
        f'<title id="pipes-t">{escape(r.t("The lines from above, and what they give"))}</title>'
        f'<desc id="pipes-d">{escape(_description(lines, least, most, r))} {escape(said)}</desc>{"".join(parts)}</svg>'
    )


def _gap(lines: int, wanted: float) -> tuple[float, bool]:
    """From line to line, and whether that is to scale. [px]"""
    if lines == 1:
        return 0.0, True
    gap = min(max(wanted, _CLOSEST), _WIDEST, _TALLEST / (lines - 1))
    return gap, abs(gap - wanted) < 0.01 * wanted


def _line(own: Sequence[Outlet], most_lph: float, x: object, y: float) -> str:
    """Stretches of one line by what their emitters give."""
    assert callable(x)
    parts, begun = [], x(0.0)
    for look, group in groupby(own, key=lambda o: _look(o.flow_lph, most_lph)):
        end = x(list(group)[-1].at_m)
        parts.append(f'<path class="{look}" d="M{begun:.1f} {y:.1f}H{end:.1f}"/>')
        begun = end
    return "".join(parts)


def _look(flow_lph: float, most_lph: float) -> str:
    if flow_lph <= 0.0:
        return "pipes-dry"
    return "pipes-even" if flow_lph >= EVEN_FROM * most_lph else "pipes-less"


def _named(o: Outlet, word: str, x: object, y: object, side: int) -> str:
    """A word beside an emitter with a stroke to it: above the most, below the least."""
    assert callable(x)
    assert callable(y)
    at, level = x(o.at_m), y(o.line)
    anchor = "start" if at < 0.3 * WIDTH else "end" if at > 0.7 * WIDTH else "middle"
    return (
        f'<path class="pipes-mark" d="M{at:.1f} {level + 4 * side:.1f}v{8 * side}"/>'
        f'<text class="pipes-word" x="{at:.1f}" y="{level + (24 if side > 0 else -14):.1f}" text-anchor="{anchor}">{escape(word)}</text>'
    )


def _size(end_m: float, x: object, y: float, r: Reader) -> str:
    assert callable(x)
    left, right = x(0.0), x(end_m)
    return (
        f'<path class="lay-size" d="M{left:.1f} {y - 4:.1f}v8M{right:.1f} {y - 4:.1f}v8M{left:.1f} {y:.1f}H{right:.1f}"/>'
        f'<text x="{(left + right) / 2:.1f}" y="{y + 18:.1f}" text-anchor="middle">{escape(r.quantity(end_m, "length"))}</text>'
    )


def _description(lines: int, least: Outlet, most: Outlet, r: Reader) -> str:
    return " ".join((
        r.tn("{n} line off the pipe from the supply.", "{n} lines off the pipe from the supply.", lines),
        r.t("Least comes out on line {n} at {place}, most on line {m} at {far}.", n=least.line, place=r.quantity(least.at_m, "length"), m=most.line, far=r.quantity(most.at_m, "length")),
    ))  # fmt: skip
