"""Observed orders of convergence: how fast an error falls as cells or steps get smaller.

The order comes from three sizes (P. J. Roache, J. Fluids Eng. 116:405-413, 1994), where ratios are uneven as in I. B. Celik and others, J. Fluids Eng. 130:078001, 2008
(both from memory): with what differs from one size to the next, d = C (s1^p - s2^p), two such differences give p. Against an exact solution two sizes are enough.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import log, nan
from typing import Literal

from scipy.optimize import brentq

#: Roache's factor of safety for three sizes and more.
SAFETY = 1.25
#: Orders outside are none. [-]
LEAST, MOST = -3.0, 8.0


@dataclass(frozen=True)
class Study:
    """``sizes`` of cells [cm], or of steps as parts of the run, falling; ``off`` is the error at each (``exact``), or what differs from each to the next. ``theory`` is the order
    the method has where all is smooth, or the flaw that is named allows; ``asked`` the least that is asked of the finest three. ``at`` is the size that pages have, 0 if none."""

    name: str
    by: str
    is_exact: bool
    unit: str
    theory: float
    asked: float
    at: float
    sizes: tuple[float, ...]
    off: tuple[float, ...]

    @property
    def orders(self) -> tuple[float, ...]:
        """Observed, from coarse to fine."""
        if self.is_exact:
            return tuple(
                log(a / b) / log(s / t) for (a, b), (s, t) in zip(pairwise(self.off), pairwise(self.sizes), strict=True)
            )
        thirds = zip(self.sizes, self.sizes[1:], self.sizes[2:], strict=False)
        return tuple(order(a / b, *three) for (a, b), three in zip(pairwise(self.off), thirds, strict=True))  # fmt: skip

    @property
    def is_met(self) -> bool:
        """Whether the finest sizes show the order that is asked for; no number is not."""
        return self.orders[-1] >= self.asked

    @property
    def left(self) -> float:
        """Error at the finest size: found, or Roache's index, which is meant to be on the safe side."""
        return self.off[-1] if self.is_exact else SAFETY * self._beyond()

    @property
    def on_pages(self) -> float:
        """Error at the size of pages at most: all that differs from there on, and what lies beyond the finest by the order found."""
        if not self.at:
            return nan
        which = min(range(len(self.sizes)), key=lambda k: abs(self.sizes[k] - self.at))
        return self.off[which] if self.is_exact else sum(self.off[which:]) + self._beyond()

    def _beyond(self) -> float:
        return self.off[-1] / ((self.sizes[-2] / self.sizes[-1]) ** self.orders[-1] - 1.0)


def order(ratio: float, first: float, second: float, third: float) -> float:
    """The order p with which two differences from size to size have this ratio; no number where there is none."""

    def miss(p: float) -> float:
        return (first**p - second**p) / (second**p - third**p) - ratio

    p_off = 1e-6  # at 0 both differences vanish
    low, high = (LEAST, -p_off) if miss(p_off) > 0.0 else (p_off, MOST)
    return float(brentq(miss, low, high)) if miss(low) * miss(high) < 0.0 else nan


@dataclass(frozen=True)
class Recipe:
    """How a study is made: ``find`` takes cells [cm] or tolerances and returns sizes and errors."""

    name: str
    by: Literal["cells", "steps"]
    is_exact: bool
    unit: str
    theory: float
    asked: float
    over: tuple[float, ...]
    find: Callable[[tuple[float, ...]], tuple[tuple[float, ...], tuple[float, ...]]]
    #: Of them, which pages have; 0 if none.
    page: float = 0.0
    #: So many of the finest take too long for the tests.
    long: int = 0

    def study(self, *, is_quick: bool = False) -> Study:
        """Run it, or but for what takes long."""
        over = self.over[: len(self.over) - self.long * is_quick]
        sizes, off = self.find(over)
        at = sizes[over.index(self.page)] if self.page else 0.0
        return Study(self.name, self.by, self.is_exact, self.unit, self.theory, self.asked, at, sizes, off)
