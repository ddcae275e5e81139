"""What cups caught, as bars: one row of them to a line, in order along it. SVG made on the server, without script or style.

The driest places are hatched, so that they are told apart without colours; a dashed line is the mean of all cups.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING

from soakbook.said import as_written

if TYPE_CHECKING:
    from soakbook.app.reader import Reader

#: The picture's width, the room for the numbers at the left, and of a row: its name, its bars, the numbers of the cups. [px]
WIDTH, LEFT, NAME, BARS, NUMBERS = 360.0, 46.0, 26.0, 84.0, 24.0
_WIDEST, _ROOM_FOR_NUMBER = 26.0, 20.0


def cups_svg(lines: Sequence[Sequence[float]], mean: float, low: set[tuple[int, int]], r: Reader) -> str:
    """Draw what each cup caught.

    Parameters
    ----------
    lines
        Amounts by line, in any one unit.
    mean
        Of all of them.
    low
        The driest places: line and place along it, both from 1.
    r
        Who reads it.

    Returns
    -------
    str
        One ``svg`` element; every text in it is escaped.
    """
    top = max(max(line) for line in lines)
    rows = [_row(k, line, mean, top, low, r) for k, line in enumerate(lines, start=1)]
    height = len(lines) * (NAME + BARS + NUMBERS)
    desc = r.tn("{n} line of cups, one bar to a cup.", "{n} lines of cups, one bar to a cup.", len(lines))
    return (
        f'<svg class="cups" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" '
        f'aria-labelledby="cups-t cups-d"><title id="cups-t">{escape(r.t("What the cups caught, along each line"))}</title>'
        f'<desc id="cups-d">{escape(desc)} {escape(r.t("The driest are hatched; the dashed line is the mean. The table has every cup."))}</desc>'
        f"{_hatching()}{''.join(rows)}</svg>"
    )


def _hatching() -> str:
    return (
        '<defs><pattern id="cups-h" width="6" height="6" patternUnits="userSpaceOnUse"><path class="cups-hatch" d="M-1 7L7 -1M-1 1L1 -1M5 7L7 5"/>'
        "</pattern></defs>"
    )


def _row(k: int, line: Sequence[float], mean: float, top: float, low: set[tuple[int, int]], r: Reader) -> str:
    above = (k - 1) * (NAME + BARS + NUMBERS)
    floor, step = above + NAME + BARS, min(_WIDEST, (WIDTH - LEFT - 4.0) / len(line))
    bars, right = "", LEFT + step * len(line)
    for i, value in enumerate(line, start=1):
        high = BARS * value / top
        place = f'x="{LEFT + step * (i - 0.9):.2f}" y="{floor - high:.2f}" width="{0.8 * step:.2f}" height="{high:.2f}"'
        if (k, i) in low:
            bars += f'<rect class="cups-low" data-cup="{k}.{i}" {place}/><rect fill="url(#cups-h)" {place}/>'
        else:
            bars += f'<rect class="cups-bar" data-cup="{k}.{i}" {place}/>'
    every = max(1, next(n for n in (1, 2, 5, 10, 20, 50, 100) if n * step >= _ROOM_FOR_NUMBER))
    marks = "".join(
        f'<text x="{LEFT + step * (i - 0.5):.1f}" y="{floor + 15:.1f}" text-anchor="middle">{i}</text>'
        for i in range(1, len(line) + 1)
        if i % every == 0 or i == 1 < every
    )
    at_mean = f"M{LEFT:.0f} {floor - BARS * mean / top:.2f}H{right:.1f}"
    most = as_written(float(f"{top:.3g}"), "g").replace(".", r.decimal)
    return (
        f'<text x="0" y="{above + 13:.1f}">{escape(r.t("Line {n}", n=k))}</text>'
        f'<text x="{LEFT - 6:.0f}" y="{floor - BARS + 5:.1f}" text-anchor="end">{escape(most)}</text>'
        f'<text x="{LEFT - 6:.0f}" y="{floor + 3:.1f}" text-anchor="end">0</text>{bars}'
        f'<path class="cups-axis" d="M{LEFT:.0f} {floor - BARS:.1f}V{floor:.1f}H{right:.1f}"/>'
        f'<path class="cups-halo" d="{at_mean}"/><path class="cups-mean" d="{at_mean}"/>{marks}'
    )
