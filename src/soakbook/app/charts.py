"""The charts of the pages as data: what to draw, in words and numbers already written for the reader, and the same as a table.

A chart's ``block`` goes into the page as JSON and is drawn by ``static/charts.js``, which formats nothing. It holds two
axes (``x``, ``y``: ``from``, ``to``, ``ticks`` as [position, text], ``title``), the ``marks`` in drawing order, the ``points``
that touch and arrow keys walk over (``from``, ``to`` along the axis ``along``, and what is said there), where reading begins (``start``, else the first), and the ``key``.
A mark is ``{"type", "look", "items"}``: ``bar`` [x1, x2, y1, y2], ``line`` [x, y], ``band`` [x, low, high], ``dot`` [x, y], ``text``
[x, y, text], ``rule`` [x] or ``level`` [y]. ``look`` names colour, pattern and dash at once (``static/charts.css``).
"""

from __future__ import annotations

from soakbook.app.chart_parts import Block, Chart, Reader
from soakbook.app.charts_days import DayWeather, Held, balance_through_time, weather_by_day, week_strip
from soakbook.app.charts_sums import Account, months_of_season, reasons_chart, season_accounts

__all__ = [
    "Account", "Block", "Chart", "DayWeather", "Held", "Reader", "balance_through_time", "months_of_season", "reasons_chart",
    "season_accounts", "weather_by_day", "week_strip",
]  # fmt: skip
