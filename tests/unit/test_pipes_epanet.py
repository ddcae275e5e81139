"""Heads within a millimetre of EPANET's under the same friction law."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from soakbook.physics.pipes import Emitter, dripper, tank
from soakbook.physics.pipes_tree import Lateral, Manifold, Network, network, porous_hose, solve
from tests.epanet import run_epanet

SMALL = Manifold(0.016, 0.4, 3.0)
TREES = {
    "one line": network([Lateral(dripper(2.0), 100, 0.3, 0.0136)]),
    "rising": network([Lateral(dripper(2.0), 60, 0.3, 0.0136, 0.03)]),
    "falling": network([Lateral(dripper(4.0, 10.0, 0.6), 60, 0.3, 0.0136, -0.05)]),
    "thin": network([Lateral(dripper(2.0), 50, 0.15, 0.0043)]),
    "uneven lines": network([Lateral(dripper(2.0), n, 0.3, 0.0136, s) for n, s in ((40, 0.0), (70, 0.01), (10, -0.02))], SMALL),
    "soaker": network([porous_hose(10.0, 10.0, 15.0, 0.0125), porous_hose(10.0, 10.0, 7.0, 0.0125)], SMALL),
}  # fmt: skip


@pytest.mark.parametrize("head_m", [2.5, 10.0, 25.0])
@pytest.mark.parametrize("name", TREES)
def test_heads_are_those_of_epanet(name: str, head_m: float, tmp_path: Path) -> None:
    tree = TREES[name]
    flows = solve(tree, tank(head_m), "hazen_williams")
    pressure, demand = run_epanet(tree, head_m, tmp_path)()
    assert flows.converged
    assert np.max(np.abs(flows.head_m - pressure)) <= 1e-3
    assert np.max(np.abs(flows.flow_lph - demand)) <= 1e-3 * float(np.max(demand))


@pytest.mark.parametrize("name", ["one line", "rising", "uneven lines"])
def test_darcys_heads_are_near_epanets_smooth_pipe(name: str, tmp_path: Path) -> None:
    """Its turbulent law is Swamee and Jain's, ours Blasius': some percent of the loss apart."""
    flows = solve(TREES[name], tank(10.0), "darcy")
    pressure, _ = run_epanet(TREES[name], 10.0, tmp_path, "darcy")()
    lost = 10.0 - float(np.min(pressure))
    assert np.max(np.abs(flows.head_m - pressure)) <= 0.05 * lost


def marched(tree: Network, law: Emitter, head_m: float) -> list[float]:
    """Pressures along one line by trial of its last head: the loss from outlet to outlet, from the end to the start."""
    from scipy.optimize import brentq

    from soakbook.physics.pipes import darcy_loss_m, emitter_flow_lph

    def up(last_m: float) -> list[float]:
        heads, flow = [last_m], 0.0
        for i in range(tree.parent.size - 1, 0, -1):
            flow += float(emitter_flow_lph(law, heads[-1] - tree.elevation_m[i]))
            heads.append(heads[-1] + float(darcy_loss_m(flow, tree.length_m[i], tree.bore_m[i])))
        return heads

    last = brentq(lambda h: up(h)[-1] - head_m, float(tree.elevation_m[-1]), head_m, xtol=1e-12)
    return [float(h) for h in up(last)[::-1]]


@pytest.mark.parametrize("name", ["one line", "rising", "thin"])
def test_darcys_heads_are_those_of_a_march(name: str) -> None:
    """A second derivation: one unknown, the head at the end."""
    flows = solve(TREES[name], tank(10.0))
    heads = marched(TREES[name], dripper(2.0), 10.0)
    assert flows.head_m + TREES[name].elevation_m == pytest.approx(heads, abs=1e-7)
