"""How the trial's figures are written on the page."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from soakbook.season.trial.report import Spread


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of the page."""
    return "\n".join(f"| {' | '.join(cells)} |" for cells in [head, ["---"] * len(head), *rows])


def spread(s: Spread, digits: int = 0) -> str:
    """The median, and the middle 80 % in brackets."""
    return f"{s.mid:.{digits}f} [{s.low:.{digits}f}, {s.high:.{digits}f}]"


def percent(value: float) -> str:
    """A part as hundredths; nothing where it is not known."""
    return "" if math.isnan(value) else f"{value:.0%}"


def signed(value: float) -> str:
    """With its sign and one digit; nothing is never minus nothing."""
    return f"{round(value, 1) + 0.0:+.1f}"


def listed(parts: Sequence[str]) -> str:
    """``a, b and c``."""
    return " and ".join(part for part in (", ".join(parts[:-1]), *parts[-1:]) if part)
