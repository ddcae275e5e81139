"""Drip on soil by FiPy, a general-purpose finite-volume library (NIST, in the public domain): a peer of our own solver, for benches only.

Written as its users write Richards' equation: head as the unknown, the mixed form by modified Picard iteration (M. A. Celia et al., Water Resour. Res.
26:1483-1496, 1990), rings by its cylindrical mesh, means of conductivity at faces, its default direct solver, steps that grow while iterations are few.
"""

from __future__ import annotations

import os
import warnings
from typing import Any

import numpy as np

from soakbook.physics.wetting.curves import VanGenuchten
from soakbook.physics.wetting.ground import Grid

#: Iterations end where heads change by no more than this part of the largest; most of them; longest step. [h]
ENDS, MOST, LONGEST_H = 1e-3, 20, 0.1


def run_fipy(
    soil: VanGenuchten, grid: Grid, flow_lph: float, disc_cm: float, runs_h: float, hours: float, head_cm: float
) -> np.ndarray:
    """Water contents (rows, rings) after ``hours``; the flow falls evenly on a disc for ``runs_h``; no water crosses the bottom. Cells of one size."""
    os.environ.setdefault("FIPY_SOLVERS", "scipy")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it takes numpy by an old name
        return _run(soil, grid, flow_lph, disc_cm, runs_h, hours, head_cm)


def _run(
    soil: VanGenuchten, grid: Grid, flow_lph: float, disc_cm: float, runs_h: float, hours: float, head_cm: float
) -> np.ndarray:
    import fipy

    rows, rings, cell = grid.rows, grid.rings, float(grid.out_cm[1])
    mesh = fipy.CylindricalGrid2D(nr=rings, nz=rows, dr=cell, dz=cell)  # z upwards
    head = fipy.CellVariable(mesh=mesh, value=head_cm)
    k, capacity, theta, theta_before, head_was, rate = (fipy.CellVariable(mesh=mesh) for _ in range(6))
    m = 1.0 - 1.0 / soil.n

    def curves() -> None:
        dry = np.maximum(-head.value, 1e-6)  # full soil stands under a head above 0
        x = (soil.alpha_per_cm * dry) ** soil.n
        holds = soil.theta_s - soil.theta_r
        theta.setValue(soil.theta_r + holds * (1.0 + x) ** -m)
        capacity.setValue(np.where(head.value < 0.0, holds * m * soil.n * x / dry * (1.0 + x) ** (-m - 1.0), 0.0))
        k.setValue(soil.conductivity_cm_h(head.value))

    inner = np.asarray(~mesh.exteriorFaces.value, dtype=float)
    down = fipy.FaceVariable(mesh=mesh, rank=1, value=np.stack([0.0 * inner, inner]))
    dt = fipy.Variable(1e-3)
    equation: Any = (
        fipy.ImplicitSourceTerm(capacity / dt) - capacity * head_was / dt + (theta - theta_before) / dt
        == fipy.DiffusionTerm(k.faceValue) + (k.faceValue * down).divergence + rate
    )  # fmt: skip
    covered = np.minimum(grid.out_cm, disc_cm) ** 2
    given = np.zeros((rows, rings))
    given[-1] = 1000.0 * flow_lph * np.diff(covered) / covered[-1] / grid.volume_cm3[0]
    solver, t = fipy.LinearLUSolver(), 0.0
    curves()
    for until, now in ((runs_h, given), (hours, 0.0 * given)):
        rate.setValue(now.ravel())
        step = 1e-3
        while t < until - 1e-12:
            step = min(step, until - t)
            dt.setValue(step)
            start = head.value.copy()
            theta_before.setValue(theta.value)
            took = _picard(equation, head, head_was, solver, curves)
            if took == MOST:
                head.setValue(start)
                curves()
                step *= 0.3
                continue
            t += step
            step = min(LONGEST_H, step * (1.5 if took < 6 else 0.7 if took > 11 else 1.0))
    return np.asarray(theta.value.reshape(rows, rings)[::-1])


def _picard(equation: Any, head: Any, head_was: Any, solver: Any, curves: Any) -> int:
    for k in range(1, MOST):
        head_was.setValue(head.value)
        equation.solve(var=head, solver=solver)
        curves()
        if np.abs(head.value - head_was.value).max() < ENDS * np.abs(head.value).max():
            return k
    return MOST
