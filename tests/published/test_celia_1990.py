"""M. A. Celia, E. T. Bouloutas and R. L. Zarba, "A general mass-conservative numerical solution for the unsaturated flow
equation", Water Resour. Res. 26:1483-1496, 1990: infiltration into the New Mexico soil.

Front depths of the dense grid are read off the paper's figure (half a centimetre to one); heads are those of a solver
written independently for the reference collection, 1000 cells.
"""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.season.truth.columns import Columns, Moved, advance, columns
from soakbook.season.truth.curves import Soil
from soakbook.season.truth.kinds import HEAD

SOIL = Soil(theta_r=0.102, theta_s=0.368, alpha_per_cm=0.0335, n=2.0, ks_cm_h=0.00922 * 3600.0)


def _day(cells: int, tolerance: float = 3e-4) -> tuple[Columns, Moved]:
    thick = np.full(cells, 100.0 / cells)
    state = columns([thick], [[SOIL] * cells], [-1000.0], kind=HEAD, below_cm=-1000.0, top_cm=-75.0)
    return state, advance(state, [24.0], 0.0, 0.0, 0.0, tolerance=tolerance)


def _depth_of(state: Columns, head_cm: float) -> float:
    return float(np.interp(-head_cm, -state.head_cm[0], state.middles_cm()[0]))


@pytest.mark.parametrize(
    ("head_cm", "figure_cm", "dense_cm"), [(-200.0, 53.5, 53.7), (-500.0, 56.6, 56.5), (-900.0, 57.4, 57.1)]
)
def test_front_after_a_day(head_cm: float, figure_cm: float, dense_cm: float) -> None:
    depth = _depth_of(_day(400)[0], head_cm)
    assert depth == pytest.approx(figure_cm, abs=1.0)
    assert depth == pytest.approx(dense_cm, abs=0.5)


def test_heads_behind_the_front() -> None:
    state, _ = _day(400)
    heads = np.interp([10.0, 20.0, 30.0, 40.0, 50.0], state.middles_cm()[0], state.head_cm[0])
    np.testing.assert_allclose(heads, [-76.9, -80.3, -86.7, -100.5, -142.9], atol=0.5)


def test_water_taken_up() -> None:
    _, moved = _day(400)
    assert float(moved.after_cm[0] - moved.before_cm[0]) == pytest.approx(4.113, abs=0.02)


@pytest.mark.parametrize("cells", [20, 40, 100])
def test_mass_balance_on_every_grid(cells: int) -> None:
    _, moved = _day(cells, tolerance=3e-3)
    gained, passed = moved.after_cm - moved.before_cm, moved.inflow_cm - moved.drainage_cm
    np.testing.assert_allclose(gained, passed, rtol=1e-7)


def test_a_garden_grid_comes_near() -> None:
    """2.5 cm cells, as their coarse grid: the front within a cell."""
    assert _depth_of(_day(40, tolerance=3e-3)[0], -500.0) == pytest.approx(56.6, abs=2.5)
