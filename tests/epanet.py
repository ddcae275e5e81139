"""The same tree of pipes in EPANET, by wntr: a peer of our own solver, for tests only."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from soakbook.physics.pipes import HAZEN_C
from soakbook.physics.pipes_tree import Friction, Network

#: Roughness that passes for smooth. [m]
SMOOTH_M = 1e-9


def run_epanet(
    tree: Network, head_m: float, folder: Path, friction: Friction = "hazen_williams"
) -> Callable[[], tuple[Any, Any]]:
    """A call that solves the tree on a reservoir and gives pressure [m] and emitter flow [L/h] at every node; emitters of one exponent, without checks."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wntr

    net = wntr.network.WaterNetworkModel()
    options = net.options.hydraulic
    options.inpfile_units = "LPS"  # in US units emitters are converted as if their exponent were a half
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        options.headloss = "D-W" if friction == "darcy" else "H-W"
    options.emitter_exponent = float(tree.x[tree.has_emitter][0])
    options.accuracy = 1e-6
    options.trials = 200
    net.options.time.duration = 0
    net.add_reservoir("source", base_head=head_m)
    for i in range(tree.parent.size):
        net.add_junction(f"n{i}", base_demand=0.0, elevation=float(tree.elevation_m[i]))
        if tree.k_lph[i] > 0.0:
            net.get_node(f"n{i}").emitter_coefficient = float(tree.k_lph[i]) / 3.6e6
        start = "source" if i == 0 else f"n{tree.parent[i]}"
        rough = HAZEN_C if friction == "hazen_williams" else SMOOTH_M
        length, bore = (0.01, 1.0) if i == 0 else (float(tree.length_m[i]), float(tree.bore_m[i]))
        net.add_pipe(f"p{i}", start, f"n{i}", length=max(length, 1e-3), diameter=bore, roughness=rough)
    names = [f"n{i}" for i in range(tree.parent.size)]
    simulator = wntr.sim.EpanetSimulator(net)

    def run() -> tuple[Any, Any]:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            result = simulator.run_sim(file_prefix=str(folder / "peer"))
        pressure = np.asarray(result.node["pressure"][names].iloc[0], dtype=float)
        demand = np.asarray(result.node["demand"][names].iloc[0], dtype=float) * 3.6e6
        return pressure, demand

    return run
