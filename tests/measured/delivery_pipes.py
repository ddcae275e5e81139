"""Lines and networks against worked examples, a march along the line, and EPANET: what ours is off by.

The lines A to D were marched outlet by outlet with 64/Re below Re 2000 and Blasius above, and run through EPANET (wntr 1.5.0); the F factors
are exact sums; E and F are sums by hand. J. E. Christiansen, Calif. Agric. Exp. Stn. Bull. 670, 1942; J. Keller and D. Karmeli, Trans. ASAE
17(4):678-684, 1974; J. L. Merriam and J. Keller, "Farm Irrigation System Evaluation", 1978. Our cubic between Re 2000 and 4000 and the jump
at 2000 in those marches differ: hence the tolerances by Darcy's law.
"""

from __future__ import annotations

from functools import cache, partial
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from soakbook.physics import uniformity
from soakbook.physics.pipes import (
    Emitter,
    Feed,
    darcy_loss_m,
    dripper,
    emitter_flow_lph,
    friction_factor,
    hazen_williams_loss_m,
    reynolds_number,
    tank,
)
from soakbook.physics.pipes_tree import Flows, Friction, Lateral, Manifold, Network, network, porous_hose, solve
from tests.epanet import run_epanet
from tests.measured.delivery_check import Case, worst, worst_pct

BORE_M = 0.0136
CUPS = [2.05, 1.98, 2.10, 1.92, 2.00, 1.88, 2.04, 1.95, 2.08, 1.76, 2.02, 1.90, 1.99, 2.06, 1.70, 2.01]


def line(count: int, head_m: float = 10.0, friction: Friction = "darcy", *, spacing_m: float = 0.3, bore_m: float = BORE_M,
         rise: float = 0.0) -> Flows:  # fmt: skip
    """One line of emitters of 2 L/h at 10 m."""
    flows = solve(network([Lateral(dripper(2.0, 10.0), count, spacing_m, bore_m, rise)]), Feed(head_m), friction)
    assert flows.converged
    return flows


#: Emitters; speed [m/s], Reynolds number, loss by Darcy and Weisbach with Blasius, by Hazen and Williams [m].
FULL = ((50, 0.191, 2590.0, 0.0911, 0.0669), (200, 0.765, 10361.0, 4.122, 3.488))


def blasius_m(count: int, reynolds: float) -> float:
    """Our loss with their factor in place of ours, as A lies in the transition."""
    ours = float(darcy_loss_m(2.0 * count, 0.3 * count, BORE_M))
    return ours * 0.316 * reynolds**-0.25 / float(friction_factor(reynolds))


#: Emitters, friction, who; head at the end [m], last and all flow [L/h], and how far the head may be off [m].
MARCHED: tuple[tuple[int, Friction, str, float, float, float, float], ...] = (
    (50, "darcy", "march", 9.967, 1.9967, 99.88, 0.03),
    (50, "darcy", "EPANET", 9.9733, 1.9973, 99.909, 0.005),
    (50, "hazen_williams", "march", 9.9759, 1.9976, 99.910, 0.005),
    (50, "hazen_williams", "EPANET", 9.9758, 1.9976, 99.910, 0.001),
    (200, "darcy", "march", 8.648, 1.8599, 379.46, 0.03),
    (200, "darcy", "EPANET", 8.6687, 1.8621, 379.67, 0.03),
    (200, "hazen_williams", "march", 8.8800, 1.8847, 382.92, 0.005),
    (200, "hazen_williams", "EPANET", 8.8760, 1.8842, 382.86, 0.001),
)


def off_marched(count: int, friction: Friction, end_m: float) -> float:
    """Head at the end. [mm]"""
    return 1000.0 * worst([(float(line(count, friction=friction).head_m[-1]), end_m)])


def off_marched_flows() -> float:
    """Last flow and sum, as parts of what the head allowed leaves to them: dq/dh = q / (2 h), and the last digit printed."""
    found = []
    for count, friction, _, _, last, total, within in MARCHED:
        flows = line(count, friction=friction)
        found.append((float(flows.flow_lph[-1]) - last) / (0.11 * within + 5e-5))
        found.append((float(flows.total_lph) - total) / (count * 0.11 * within + 5e-3))
    return worst((one, 0.0) for one in found)


#: A barrel 1 m high, 33 emitters: rise, first, last and all flow. [L/h]
BARREL = ((0.0, 0.632, 0.631, 20.85), (0.02, 0.6305, 0.565, 19.74), (-0.02, 0.634, 0.691, 21.88))


def off_barrel() -> float:
    """First and last flow. [L/h]"""
    runs = [(line(33, head_m=1.0, rise=rise).flow_lph, first, last) for rise, first, last, _ in BARREL]
    return worst(pair for flow, first, last in runs for pair in ((flow[1], first), (flow[-1], last)))


def rising_barrel() -> Flows:
    """By the law that EPANET was given."""
    return line(33, head_m=1.0, rise=0.02, friction="hazen_williams")


#: A quarter-inch tube: emitters, head at the end [m], variation [%].
TUBE = ((20, 9.68, 1.4), (40, 8.12, 9.3), (60, 5.65, 24.0))


@cache
def tube(count: int) -> Flows:
    """Half of it flows in the transition, where the marches have Blasius already: they lose more, by up to 0.1 m."""
    return line(count, spacing_m=0.15, bore_m=0.0043)


def variation(flows: Flows) -> float:
    """1 - least / most. [%]"""
    return 100.0 * uniformity.flow_variation(flows.flow_lph[1:])


OUTLETS = {
    1: (1.0000, 1.0000, 1.0000), 2: (0.6487, 0.6385, 0.6250), 5: (0.4694, 0.4568, 0.4400), 10: (0.4151, 0.4022, 0.3850),
    20: (0.3890, 0.3760, 0.3588), 50: (0.3737, 0.3607, 0.3434), 100: (0.3687, 0.3556, 0.3383), 1000: (0.3641, 0.3511, 0.3338),
}  # fmt: skip
EXPONENTS = (1.75, 1.852, 2.0)
#: By how much Christiansen's factor is above the sum [%]; few outlets and many.
FEW = {1: (0.8, 0.5, 0.0), 2: (0.2, 0.1, 0.0)}
MANY = {5: (0.0, 0.0, 0.0), 10: (0.0, 0.0, 0.0)}


def off_christiansen(of: dict[int, tuple[float, ...]]) -> float:
    """In percent of the factor."""
    return worst(
        (100.0 * (uniformity.christiansen_factor(n, x) / uniformity.outlets_factor(n, x) - 1.0), over)
        for n, percents in of.items()
        for x, over in zip(EXPONENTS, percents, strict=True)
    )


#: Cv, emitters at a plant, EU [%] of flows of 1.860 at least and 1.897 in the mean.
DESIGN = ((0.03, 1, 94.31), (0.05, 1, 91.82), (0.07, 1, 89.33), (0.05, 4, 94.94))
MARCH, HAND, BY_EPANET = "march along the line", "sum by hand", "EPANET"
LAWS = {"darcy": "Darcy and Weisbach", "hazen_williams": "Hazen and Williams"}

EXAMPLES = (
    Case("coefficient of an emitter", HAND, 0.0003, "%", lambda: worst_pct([(dripper(2.0, 10.0).k_lph / 3.6e6, 1.75682e-7)])),
    Case("A, B: 50 and 200 emitters, speed in the pipe", HAND, 0.0005, "m/s",
         lambda: worst((2.0 * n / 3.6e6 / (3.14159265 * BORE_M**2 / 4.0), v) for n, v, *_ in FULL)),
    Case("A, B: Reynolds number", HAND, 0.5, "", lambda: worst((float(reynolds_number(2.0 * n, BORE_M)), re) for n, _, re, *_ in FULL)),
    Case("A, B: loss of full flow to the end, Darcy and Weisbach", HAND, 0.05, "%", lambda: worst_pct((blasius_m(n, re), loss) for n, _, re, loss, _ in FULL)),
    Case("A, B: the same, Hazen and Williams (D^4.87 there, D^4.871 here)", HAND, 0.5, "%",
         lambda: worst_pct((float(hazen_williams_loss_m(2.0 * n, 0.3 * n, BORE_M)), loss) for n, *_, loss in FULL)),
    *(Case(f"{'A' if n == 50 else 'B'}: head at the last of {n}, {LAWS[law]}, by {who}", MARCH if who == "march" else who, 1000.0 * within, "mm", partial(off_marched, n, law, end))
      for n, law, who, end, _, _, within in MARCHED),
    Case("A, B: last flow and sum, in parts of what those heads leave them", "march, EPANET", 1.0, "", off_marched_flows),
    Case("A, B: variation of flow", MARCH, 0.1, "%", lambda: worst((variation(line(n)), v) for n, v in ((50, 0.2), (200, 6.9)))),
    Case("A, B: emission uniformity", "Keller & Karmeli 1974", 0.06, "%",
         lambda: worst((uniformity.emission_uniformity_pct(line(n).flow_lph[1:], 0.04), eu) for n, eu in ((50, 94.9), (200, 93.1)))),
    Case("C: a barrel, level, rising and falling, first and last flow", MARCH, 0.0005, "L/h", off_barrel),
    Case("C: the same, sum", MARCH, 0.005, "L/h", lambda: worst((line(33, head_m=1.0, rise=rise).total_lph, total) for rise, _, _, total in BARREL)),
    Case("C: rising, first and last flow by EPANET", BY_EPANET, 0.00001, "L/h",
         lambda: worst(zip(rising_barrel().flow_lph[[1, -1]], (0.63053, 0.56611), strict=True))),
    Case("C: rising, sum by EPANET", BY_EPANET, 0.001, "L/h", lambda: worst([(rising_barrel().total_lph, 19.761)])),
    Case("D: quarter-inch tube, head at the end (the march jumps at Re 2000)", MARCH, 100.0, "mm",
         lambda: 1000.0 * worst((float(tube(n).head_m[-1]), end) for n, end, _ in TUBE)),
    Case("D: variation of flow", MARCH, 0.6, "%", lambda: worst((variation(tube(n)), v) for n, _, v in TUBE)),
    Case("E: 16 catch cups, mean and mean of the lowest quarter", HAND, 0.00005, "L",
         lambda: worst(((sum(CUPS) / 16, 1.9650), (uniformity.low_quarter_mean(CUPS), 1.8100)))),
    Case("E: uniformity of the lowest quarter, and Christiansen's", "Merriam & Keller 1978, Christiansen 1942", 0.005, "%",
         lambda: worst(((uniformity.low_quarter_uniformity_pct(CUPS), 92.11), (uniformity.christiansen_uniformity_pct(CUPS), 95.67)))),
    Case("F: emission uniformity by design", "Keller & Karmeli 1974", 0.005, "%",
         lambda: worst((uniformity.emission_uniformity_pct([1.860, 1.934], cv, plant), eu) for cv, plant, eu in DESIGN)),
    Case("factor for 1 to 1000 outlets", "exact sums", 0.000051, "",
         lambda: worst((uniformity.outlets_factor(n, x), f) for n, fs in OUTLETS.items() for x, f in zip(EXPONENTS, fs, strict=True))),
    Case("Christiansen's factor over it, 1 and 2 outlets", "Christiansen 1942", 0.06, "%", partial(off_christiansen, FEW)),
    Case("Christiansen's factor over it, 5 and 10 outlets", "Christiansen 1942", 0.015, "%", partial(off_christiansen, MANY)),
)  # fmt: skip

SMALL = Manifold(0.016, 0.4, 3.0)
TREES = {
    "one line": network([Lateral(dripper(2.0), 100, 0.3, 0.0136)]),
    "rising": network([Lateral(dripper(2.0), 60, 0.3, 0.0136, 0.03)]),
    "falling": network([Lateral(dripper(4.0, 10.0, 0.6), 60, 0.3, 0.0136, -0.05)]),
    "thin": network([Lateral(dripper(2.0), 50, 0.15, 0.0043)]),
    "uneven lines": network([Lateral(dripper(2.0), n, 0.3, 0.0136, s) for n, s in ((40, 0.0), (70, 0.01), (10, -0.02))], SMALL),
    "soaker": network([porous_hose(10.0, 10.0, 15.0, 0.0125), porous_hose(10.0, 10.0, 7.0, 0.0125)], SMALL),
}  # fmt: skip
HEADS_M = (2.5, 10.0, 25.0)


@cache
def by_epanet(name: str) -> tuple[float, float]:
    """Largest error of head [mm], and of flow in percent of the largest, over three heads; the same friction law."""
    tree, found = TREES[name], []
    for head_m in HEADS_M:
        flows = solve(tree, tank(head_m), "hazen_williams")
        assert flows.converged
        with TemporaryDirectory() as folder:
            pressure, demand = run_epanet(tree, head_m, Path(folder))()
        flow = np.max(np.abs(flows.flow_lph - demand)) / np.max(demand)
        found.append((1000.0 * np.max(np.abs(flows.head_m - pressure)), 100.0 * flow))
    heads, parts = zip(*found, strict=True)
    return float(np.max(heads)), float(np.max(parts))


def off_darcy(name: str) -> float:
    """Its turbulent law is Swamee and Jain's, ours Blasius': error of head in percent of what is lost."""
    flows = solve(TREES[name], tank(10.0), "darcy")
    with TemporaryDirectory() as folder:
        pressure, _ = run_epanet(TREES[name], 10.0, Path(folder), "darcy")()
    return float(100.0 * np.max(np.abs(flows.head_m - pressure)) / (10.0 - np.min(pressure)))


def march(tree: Network, law: Emitter, head_m: float) -> list[float]:
    """Pressures along one line by trial of its last head: the loss from outlet to outlet, from the end to the start."""
    from scipy.optimize import brentq

    def up(last_m: float) -> list[float]:
        heads, flow = [last_m], 0.0
        for i in range(tree.parent.size - 1, 0, -1):
            flow += float(emitter_flow_lph(law, heads[-1] - tree.elevation_m[i]))
            heads.append(heads[-1] + float(darcy_loss_m(flow, tree.length_m[i], tree.bore_m[i])))
        return heads

    last = brentq(lambda h: up(h)[-1] - head_m, float(tree.elevation_m[-1]), head_m, xtol=1e-12)
    return [float(h) for h in up(last)[::-1]]


def off_march(name: str) -> float:
    """A second derivation: one unknown, the head at the end. [mm]"""
    tree = TREES[name]
    heads = solve(tree, tank(10.0)).head_m + tree.elevation_m
    return 1000.0 * worst(zip(heads, march(tree, dripper(2.0), 10.0), strict=True))


EPANET_HEADS = tuple(
    Case(f"{name}: heads", BY_EPANET, 1.0, "mm", partial(lambda n: by_epanet(n)[0], name)) for name in TREES
)
EPANET_FLOWS = tuple(
    Case(f"{name}: flows", BY_EPANET, 0.1, "% of the largest", partial(lambda n: by_epanet(n)[1], name))
    for name in TREES
)
OTHER = (
    *(Case(f"{name}: heads by Darcy and Weisbach, its turbulent law another", BY_EPANET, 5.0, "% of the loss", partial(off_darcy, name)) for name in ("one line", "rising", "uneven lines")),
    *(Case(f"{name}: heads by Darcy and Weisbach", MARCH, 0.0001, "mm", partial(off_march, name)) for name in ("one line", "rising", "thin")),
)  # fmt: skip
