"""Putting the water there, held against what was found another way: all cases, kept and read for ``docs/validation.md``.

The tests in ``tests/published`` and ``tests/unit/test_pipes_epanet.py`` run every one of them and hold it against what is kept; FiPy's, which takes seconds,
is run with the benches. The timers' rows are those of :mod:`tests.measured.timers` and :mod:`tests.measured.timer_seasons`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.measured.delivery_check import NAME, Case, Check
from tests.measured.kept import keep, kept
from tests.measured.orders import Study
from tests.measured.timer_seasons import SeasonRow
from tests.measured.timers import TimerRow, share_better
from tests.measured.wetting_drawn import Drawn, kept_drawn

DRIP, EXAMPLES, EPANET = "drip on soil", "worked examples", "trees of pipes"


def cases() -> dict[str, tuple[Case, ...]]:
    """All, as they stand on the page. What they need is loaded only here."""
    from tests.measured import delivery_pipes as pipes
    from tests.measured.delivery_drip import POINTS
    from tests.measured.delivery_front import WHY
    from tests.measured.delivery_orders import EDGES
    from tests.measured.delivery_soil import PEERS, SOILS

    trees = tuple(one for pair in zip(pipes.EPANET_HEADS, pipes.EPANET_FLOWS, strict=True) for one in pair)
    return {
        DRIP: (*POINTS, *WHY, *SOILS, *EDGES, *PEERS.values()),
        EXAMPLES: pipes.EXAMPLES,
        EPANET: (*trees, *pipes.OTHER),
    }


def keep_delivery() -> None:
    """Run all (a quarter of a minute), and keep what was found."""
    keep(NAME, {group: [case.check() for case in some] for group, some in cases().items()})


@dataclass(frozen=True)
class DeliveryFindings:
    """Checks by group, orders of convergence by group, drip drawn at random, and the random gardens on timers, for two weeks and for a season."""

    checks: dict[str, tuple[Check, ...]]
    orders: dict[str, tuple[Study, ...]]
    drawn: tuple[Drawn, ...]
    timers: tuple[TimerRow, ...]
    seasons: tuple[SeasonRow, ...]

    def within_pct(self, group: str) -> float:
        """Part of the checks that keep to what they are allowed. [%]"""
        return float(100.0 * np.mean([one.is_met for one in self.checks[group]]))

    @property
    def ordered_pct(self) -> float:
        """Part of the studies in which the error falls as fast as asked. [%]"""
        return 100.0 * float(np.mean([one.is_met for some in self.orders.values() for one in some]))

    @property
    def solved_pct(self) -> float:
        """Part of the drawn cases that are solved, water adding up. [%]"""
        return 100.0 * float(np.mean([one.is_solved for one in self.drawn]))

    @property
    def epanet_mm(self) -> float:
        """Largest error of head against EPANET under one friction law, over all trees. [mm]"""
        return max(one.found for one in self.checks[EPANET] if one.unit == "mm" and one.source == "EPANET")

    @property
    def better_pct(self) -> float:
        """Gardens in which the plan is no worse than the best uniform programme in hindsight. [%]"""
        return 100.0 * share_better(self.timers)

    def middle(self, what: str) -> float:
        """Median over the gardens of a cost."""
        return float(np.median([getattr(row, what) for row in self.timers]))


def delivery_findings() -> DeliveryFindings:
    """What was kept."""
    from tests.measured.delivery_orders import kept_orders

    return DeliveryFindings(
        kept(NAME, Check),
        kept_orders(),
        kept_drawn(),
        kept("timers", TimerRow)["timers"],
        kept("timer_seasons", SeasonRow)["seasons"],
    )
