"""Drip on soil by a method of lines with scipy's BDF: a peer of our own solver.

It integrates the same fluxes (the solver's own curves, arithmetic in numpy) with a sparse Jacobian pattern, as one would write it with a general library.
"""

from __future__ import annotations

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import diags

from soakbook.physics.wetting.curves import VanGenuchten, tables
from soakbook.physics.wetting.ground import Grid


def run_bdf(soil: VanGenuchten, grid: Grid, hours: float, disc_cm: float) -> np.ndarray:
    """Water contents (rows, rings) after ``hours`` of 2 L/h spread evenly over a disc, by ``solve_ivp`` in water content, from -500 cm."""
    table = tables([soil])
    rows, rings = grid.rows, grid.rings
    area, volume, side = grid.area_cm2, grid.volume_cm3, grid.side_cm2
    gap_r, gap_z = np.diff(grid.out), np.diff(grid.down)[:, None]
    inner, outer = (np.minimum(e, disc_cm) for e in (grid.out_cm[:-1], grid.out_cm[1:]))
    flux = 2000.0 * (outer**2 - inner**2) / disc_cm**2
    nodes = np.arange(table.cubic.shape[1] + 1) * table.step[0]
    theta, head, phi = (table._value(0, nodes, k)[0] for k in (0, 4, 8))

    def changes(_: float, flat: np.ndarray) -> np.ndarray:
        water = np.clip(flat.reshape(rows, rings), theta[0], theta[-1] - 1e-9)
        h, p = np.interp(water, theta, head), np.interp(water, theta, phi)
        net = np.zeros((rows, rings))
        out = side[:, :-1] / gap_r * (p[:, :-1] - p[:, 1:])
        net[:, :-1] -= out
        net[:, 1:] += out
        dh = h[:-1] - h[1:]
        mean = np.where(
            np.abs(dh) > 1e-6, (p[:-1] - p[1:]) / np.where(dh == 0.0, 1.0, dh), soil.conductivity_cm_h(h[:-1])
        )
        down = area * ((p[:-1] - p[1:]) / gap_z + mean)
        net[:-1] -= down
        net[1:] += down
        net[0] += flux
        net[-1] -= area * soil.conductivity_cm_h(h[-1])
        return np.asarray((net / volume).ravel())

    n = rows * rings
    pattern = diags([np.ones(n)] * 5, [0, -1, 1, -rings, rings], shape=(n, n))
    first = np.full(n, float(table.theta_at(0, table.u_at(0, -500.0))))
    done = solve_ivp(changes, (0.0, hours), first, method="BDF", jac_sparsity=pattern, rtol=1e-3, atol=1e-4)
    assert done.success
    return np.asarray(done.y[:, -1].reshape(rows, rings))
