"""Speed of the tree of pipes beside EPANET (by wntr, its files included) in one process, on 1,831 nodes: 30 laterals of 60 emitters."""

from __future__ import annotations

import time
from pathlib import Path
from statistics import median

import numpy as np
import pytest

from soakbook.physics.pipes import dripper, tank
from soakbook.physics.pipes_tree import Lateral, Manifold, Network, network, solve
from tests.epanet import run_epanet

#: Allowed twice for busy machines, as absolute times are. [s]
GATE_S, ALLOWED = 0.5e-3, 2.0
AGREEMENT_M = 1e-3
ROUNDS = 7

pytestmark = pytest.mark.bench


def tree() -> Network:
    return network([Lateral(dripper(2.0), 60, 0.3, 0.0136)] * 30, Manifold(0.025, 0.4, 5.0))


def test_speed_and_agreement(tmp_path: Path) -> None:
    ours, head_m = tree(), 10.0
    peer = run_epanet(ours, head_m, tmp_path)
    pressure, _ = peer()
    difference = float(np.max(np.abs(solve(ours, tank(head_m), "hazen_williams").head_m - pressure)))
    taken: dict[str, list[float]] = {"darcy": [], "hazen_williams": [], "epanet": []}
    solve(ours, tank(head_m))
    for _ in range(ROUNDS):
        for friction in ("darcy", "hazen_williams"):
            for _ in range(15):
                start = time.perf_counter()
                solve(ours, tank(head_m), friction)
                taken[friction].append(time.perf_counter() - start)
        start = time.perf_counter()
        peer()
        taken["epanet"].append(time.perf_counter() - start)
    seconds = {name: median(each) for name, each in taken.items()}
    print(f"{ours.parent.size} nodes: " + ", ".join(f"{name} {1e3 * s:.2f} ms" for name, s in seconds.items()))
    print(f"largest difference in head {difference:.1e} m (limit {AGREEMENT_M:g}), gate {1e3 * GATE_S:g} ms")
    assert ours.parent.size == 1831
    assert difference <= AGREEMENT_M
    assert seconds["darcy"] <= ALLOWED * GATE_S
    assert seconds["epanet"] >= 5.0 * seconds["darcy"]
