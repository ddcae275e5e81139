"""A trial as one SVG picture: for each way of watering the middle 80 % of places as a line and the median as a dot, three panels."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from html import escape

from soakbook.season.trial.report import OURS, Line, Spread, lines
from soakbook.season.trial.run import CaseResult

_NAMES_PX, _PANEL_PX, _GAP_PX, _ROW_PX, _TOP_PX, _FOOT_PX = 250, 200, 44, 26, 64, 34
_PANELS: tuple[tuple[str, Callable[[Line], Spread]], ...] = (
    ("Water put on, mm", lambda line: line.water_mm),
    ("Harvest lost, %", lambda line: line.loss_pct),
    ("Cost beyond the oracle's, %", lambda line: line.regret),
)
_STYLE = (
    "text{font:13px sans-serif;fill:#222}.head{font-weight:bold}.rule{stroke:#ccc}.theirs{stroke:#777;fill:#777}"
    ".ours{stroke:#0a5c8a;fill:#0a5c8a}.ours.name{font-weight:bold;stroke:none}"
)


def picture(results: Sequence[CaseResult], title: str) -> str:
    """The picture as text of an SVG file."""
    shown = lines(results)
    width = _NAMES_PX + len(_PANELS) * (_PANEL_PX + _GAP_PX)
    height = _TOP_PX + _ROW_PX * len(shown) + _FOOT_PX
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img">',
        f"<title>{escape(title)}</title>",
        "<desc>Median of places as a dot, the middle 80 % as a line, for each way of watering.</desc>",
        f"<style>{_STYLE}</style>",
        f'<rect width="{width}" height="{height}" fill="#fff"/>',
        f'<text class="head" x="8" y="22">{escape(title)}</text>',
    ]
    for k, line in enumerate(shown):
        kind = "ours name" if line.policy in OURS else ""
        parts.append(f'<text class="{kind}" x="8" y="{_row(k) + 4}">{escape(line.policy)}</text>')
    for n, (name, of) in enumerate(_PANELS):
        parts += _panel(shown, name, of, _NAMES_PX + n * (_PANEL_PX + _GAP_PX))
    return "\n".join([*parts, "</svg>"]) + "\n"


def _row(k: int) -> float:
    return _TOP_PX + _ROW_PX * (k + 0.5)


def _panel(shown: Sequence[Line], name: str, of: Callable[[Line], Spread], left: float) -> list[str]:
    most, step = _axis(max(of(line).high for line in shown))
    bottom = _TOP_PX + _ROW_PX * len(shown)

    def x(value: float) -> float:
        return left + _PANEL_PX * min(value / most, 1.0)

    parts = [f'<text class="head" x="{left}" y="{_TOP_PX - 12}">{escape(name)}</text>']
    for k in range(round(most / step) + 1):
        at = x(k * step)
        parts.append(f'<line class="rule" x1="{at:.1f}" x2="{at:.1f}" y1="{_TOP_PX}" y2="{bottom}"/>')
        parts.append(f'<text text-anchor="middle" x="{at:.1f}" y="{bottom + 18}">{k * step:g}</text>')
    for k, line in enumerate(shown):
        spread, kind, y = of(line), "ours" if line.policy in OURS else "theirs", _row(k)
        parts.append(
            f'<line class="{kind}" stroke-width="3" x1="{x(spread.low):.1f}" x2="{x(spread.high):.1f}" y1="{y}" y2="{y}"/>'
        )
        parts.append(f'<circle class="{kind}" cx="{x(spread.mid):.1f}" cy="{y}" r="5"/>')
    return parts


def _axis(highest: float) -> tuple[float, float]:
    """End and step of an axis from 0 with three to six steps."""
    rough = max(highest, 1e-9) / 4.0
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(m * size for m in (1.0, 2.0, 5.0, 10.0) if m * size >= rough)
    return step * math.ceil(highest / step - 1e-9), step
