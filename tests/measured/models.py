"""Everything that is held against measurements, in one place: run once, read by the tests and by ``scripts/validate``.

What takes minutes (a probe read every 14 days, faults, bands, timers), or is run by tests elsewhere (putting the water there), is read from what was kept of its last run: see :mod:`tests.measured.kept`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from tests.measured.bands import Seen, bands_seen, keep_bands
from tests.measured.containers import ContainerFindings, container_findings
from tests.measured.delivery import DRIP, EXAMPLES, DeliveryFindings, delivery_findings, keep_delivery
from tests.measured.delivery_orders import keep_orders
from tests.measured.demand import Meadow, Published, meadow, published_eto
from tests.measured.drying import Drying, drying
from tests.measured.faults import FaultFindings, fault_findings, keep_faults
from tests.measured.faults_limits import Limit, keep_limits, kept_limits
from tests.measured.readings14 import ProbeFindings, keep_probe, probe_findings
from tests.measured.scores import Gate, median
from tests.measured.sward import SwardFindings, sward_findings
from tests.measured.timer_seasons import keep_seasons
from tests.measured.timers import keep_timers
from tests.measured.wetting_drawn import keep_drawn

SOIL_R, SOIL_RMSE = "grass soil water: median correlation", "grass soil water: median RMSE, m³/m³"
PROBE_RMSE = "probe every 14 days: median RMSE between, m³/m³"
PROBE_COVER = "probe every 14 days: days within the 80 % band, %"
DRAIN_R, DRAIN_TOTAL = "containers: correlation by sampling", "containers: error of the total either way, %"
MEADOW_R = "meadow: correlation of daily ETo"
PRINTED_R, PRINTED_RMSE = "published ETo: correlation", "published ETo: RMSE, mm/d"
DRIP_WITHIN = "drip on soil: checks within what they are allowed, %"
DRIP_ORDERS = "drip on soil: errors that fall as fast as asked with cells and steps, %"
DRIP_SOLVED = "drip on soil: drawn cases solved with the water adding up, %"
PIPES_WITHIN = "pipes: worked examples within what they are allowed, %"
PIPES_HEAD = "pipes: greatest error of head against EPANET, mm"
TIMER_BETTER = "timers: gardens with no uniform programme better than the plan, %"

#: Bounds set before these runs, after trials on the same data: bound, whether it is the least (or the most) allowed, digits shown.
BOUNDS: dict[str, tuple[float, bool, int]] = {
    SOIL_R: (0.82, True, 2),
    SOIL_RMSE: (0.033, False, 3),
    PROBE_RMSE: (0.022, False, 3),
    PROBE_COVER: (75.0, True, 0),
    DRAIN_R: (0.88, True, 2),
    DRAIN_TOTAL: (15.0, False, 0),
    MEADOW_R: (0.95, True, 2),
    PRINTED_R: (0.99, True, 3),
    PRINTED_RMSE: (0.25, False, 2),
    DRIP_WITHIN: (100.0, True, 0),
    DRIP_ORDERS: (100.0, True, 0),
    DRIP_SOLVED: (100.0, True, 0),
    PIPES_WITHIN: (100.0, True, 0),
    PIPES_HEAD: (1.0, False, 2),
    TIMER_BETTER: (95.0, True, 1),
}
#: Those that are not met, and why.
MISSED: dict[str, str] = {}


@dataclass(frozen=True)
class Findings:
    """All comparisons."""

    sward: SwardFindings
    probe: ProbeFindings
    containers: ContainerFindings
    meadow: Meadow
    published: Published
    drying: Drying
    faults: FaultFindings
    limits: dict[str, tuple[Limit, ...]]
    bands: tuple[Seen, ...]
    delivery: DeliveryFindings

    @property
    def gates(self) -> tuple[Gate, ...]:
        """What came out, against the bounds."""
        grass, pots = self.sward.ours, self.containers.plain
        values = {
            SOIL_R: median(grass, "r"),
            SOIL_RMSE: median(grass, "rmse"),
            PROBE_RMSE: self.probe.middle("rmse"),
            PROBE_COVER: 100.0 * self.probe.covered(),
            DRAIN_R: pots.all.r,
            DRAIN_TOTAL: abs(100.0 * pots.total_error),
            MEADOW_R: self.meadow.by_day.r,
            PRINTED_R: self.published.fao56.r,
            PRINTED_RMSE: self.published.fao56.rmse,
            DRIP_WITHIN: self.delivery.within_pct(DRIP),
            DRIP_ORDERS: self.delivery.ordered_pct,
            DRIP_SOLVED: self.delivery.solved_pct,
            PIPES_WITHIN: self.delivery.within_pct(EXAMPLES),
            PIPES_HEAD: self.delivery.epanet_mm,
            TIMER_BETTER: self.delivery.better_pct,
        }
        return tuple(Gate(name, values[name], *bound) for name, bound in BOUNDS.items())


def keep_all(say: Callable[[str], None]) -> None:
    """Run what takes minutes, and keep what was found."""
    for what, run in (
        ("probe", keep_probe),
        ("faults", keep_faults),
        ("faults_limits", keep_limits),
        ("bands", keep_bands),
        ("delivery", keep_delivery),
        ("orders of convergence", keep_orders),
        ("drip drawn at random", keep_drawn),
        ("timers", keep_timers),
        ("timers through a season", keep_seasons),
    ):
        say(f"running: {what}")
        run()


@cache
def findings() -> Findings:
    """Run what is quick and read what was kept, once a process."""
    return Findings(
        sward_findings(), probe_findings(), container_findings(), meadow(), published_eto(), drying(), fault_findings(),
        kept_limits(), bands_seen(), delivery_findings(),
    )  # fmt: skip
