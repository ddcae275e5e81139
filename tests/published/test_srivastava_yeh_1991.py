"""R. Srivastava and T.-C. J. Yeh, "Analytical solutions for one-dimensional, transient infiltration toward the water table in
homogeneous and layered soils", Water Resour. Res. 27:753-762, 1991: the homogeneous soil, K = Ks e^(alpha h).

The series (their Eqs. 8-9) is written from memory, so that it is first held against the equation it solves.
"""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.season.truth.columns import advance, columns
from soakbook.season.truth.curves import Soil
from soakbook.season.truth.kinds import HEAD

SOIL = Soil(theta_r=0.06, theta_s=0.40, alpha_per_cm=0.1, n=2.0, ks_cm_h=1.0, exponential=True)
DEPTH_CM, BEFORE, AFTER = 100.0, 0.1, 0.9  # their wetting case; fluxes in cm/h


def _roots(length: float, count: int = 120) -> np.ndarray:
    """Roots of tan(lambda L) = -2 lambda."""
    found = []
    for n in range(count):
        low, high = (n + 0.5) * np.pi / length + 1e-12, (n + 1.0) * np.pi / length
        for _ in range(100):
            middle = 0.5 * (low + high)
            if np.tan(middle * length) + 2.0 * middle < 0.0:
                low = middle
            else:
                high = middle
        found.append(0.5 * (low + high))
    return np.array(found)


def relative_conductivity(z: np.ndarray, t: float) -> np.ndarray:
    """K/Ks at dimensionless height above the water table and time."""
    length = SOIL.alpha_per_cm * DEPTH_CM
    lam = _roots(length)[:, None]
    series = (
        np.sin(lam * z) * np.sin(lam * length) * np.exp(-(lam**2) * t) / (1.0 + length / 2.0 + 2.0 * lam**2 * length)
    )
    steady = AFTER - (AFTER - 1.0) * np.exp(-z)
    return steady - 4.0 * (AFTER - BEFORE) * np.exp((length - z) / 2.0) * np.exp(-t / 4.0) * series.sum(axis=0)


def test_the_series_solves_the_linear_equation() -> None:
    z, e = np.linspace(0.5, 9.5, 19), 1e-3
    by_time = (relative_conductivity(z, 2.0 + e) - relative_conductivity(z, 2.0 - e)) / (2 * e)
    up, here, down = (relative_conductivity(z + s, 2.0) for s in (e, 0.0, -e))
    np.testing.assert_allclose(by_time, (up - 2 * here + down) / e**2 + (up - down) / (2 * e), atol=1e-6)
    top = 10.0 - np.array([e, 0.0])
    below, at = relative_conductivity(top, 2.0)
    assert (at - below) / e + at == pytest.approx(AFTER, abs=1e-3)  # the flux from above
    start = BEFORE - (BEFORE - 1.0) * np.exp(-z)
    np.testing.assert_allclose(relative_conductivity(z, 0.02), start, atol=0.02)


def _solved(cells: int, hours: float, tolerance: float = 2e-5) -> tuple[np.ndarray, np.ndarray]:
    thick = np.full(cells, DEPTH_CM / cells)
    height = DEPTH_CM - (np.cumsum(thick) - 0.5 * thick)
    head = np.log(BEFORE - (BEFORE - 1.0) * np.exp(-SOIL.alpha_per_cm * height)) / SOIL.alpha_per_cm
    state = columns([thick], [[SOIL] * cells], [head], kind=HEAD, below_cm=0.0)
    advance(state, [hours], AFTER, 0.0, 0.0, tolerance=tolerance)
    return SOIL.alpha_per_cm * height, state.head_cm[0]


@pytest.mark.parametrize("hours", [3.4, 10.2, 34.0, 340.0])
def test_wetting_toward_a_water_table(hours: float) -> None:
    height, head = _solved(200, hours, tolerance=1e-5)
    time = SOIL.alpha_per_cm * SOIL.ks_cm_h * hours / (SOIL.theta_s - SOIL.theta_r)
    exact = np.log(relative_conductivity(height, time)) / SOIL.alpha_per_cm
    assert np.abs(head - exact).max() < 0.08


def test_error_falls_with_the_square_of_the_cells() -> None:
    """At 340 h the flow is all but steady, so that what is left is the error of the grid."""
    time, errors = SOIL.alpha_per_cm * SOIL.ks_cm_h * 340.0 / (SOIL.theta_s - SOIL.theta_r), []
    for cells in (20, 40, 80):
        height, head = _solved(cells, 340.0, tolerance=1e-5)
        errors.append(np.abs(np.exp(0.1 * head) - relative_conductivity(height, time)).max())
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.1)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.1)


def test_error_falls_with_the_step() -> None:
    """Steps go as the root of the tolerance, the method is of first order: error goes with the step."""
    _, best = _solved(50, 10.2, tolerance=1e-7)
    errors = [np.abs(_solved(50, 10.2, tolerance=tol)[1] - best).max() for tol in (4e-3, 1e-3, 2.5e-4, 6.25e-5)]
    assert errors[0] > errors[1] > errors[2] > errors[3]
    assert errors[1] / errors[3] == pytest.approx(4.0, rel=0.4)
