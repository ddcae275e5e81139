"""Layered soil, roots, buried lines and neighbours against solutions found another way: sources and what is allowed stand in
:mod:`tests.measured.delivery_soil`. Here also where the water goes, and what a wrong ring would give."""

from __future__ import annotations

import numpy as np
import pytest

from soakbook.delivery.drip import Case as DripCase
from soakbook.delivery.drip import grid_of
from soakbook.physics.wetting.ground import Layer
from tests.measured.delivery_check import Case, hold, ids
from tests.measured.delivery_soil import (
    APART_CM,
    GARDNER,
    LOAM,
    OF_THE_AREA_CM,
    PEERS,
    RAIN,
    SAND,
    SOILS,
    WANTS,
    Soil,
    column,
    off_ring,
)


@pytest.mark.parametrize("case", [*SOILS, PEERS["BDF"]], ids=ids)
def test_what_the_solver_is_off_by(case: Case) -> None:
    """FiPy takes seconds: with the benches."""
    hold(case)


@pytest.mark.parametrize("soils", [(LOAM, SAND), (SAND, LOAM)], ids=["loam on sand", "sand on loam"])
def test_what_rains_on_layers_comes_out_below(soils: tuple[Soil, Soil]) -> None:
    assert np.diff(column(soils, -20.0).below_l)[0] == pytest.approx(RAIN * 4000.0 / 10.0, rel=1e-4)


def test_roots_at_rest_draw_what_they_want_and_let_the_rest_go() -> None:
    run = column((LOAM, LOAM), -40.0, has_roots=True)
    assert np.diff(run.drawn_l)[0] == pytest.approx(WANTS * 4000.0 / 10.0, rel=1e-4)
    assert np.diff(run.below_l)[0] == pytest.approx((RAIN - WANTS) * 4000.0 / 10.0, rel=1e-3)


def test_a_ring_of_another_width_does_not_stand_for_emitters_on_a_square() -> None:
    """The ring as wide as half the way to the next holds a fifth less ground and comes out 5 cm too wet; for a single row any ring is far too wet: it has sides to spread to."""
    assert 4.0 < off_ring(APART_CM / 2.0, 25) < 6.0
    assert off_ring(OF_THE_AREA_CM, 0) > 10.0


def test_a_case_of_neighbours_is_run_on_such_a_ring() -> None:
    grid = grid_of(DripCase((Layer(GARDNER),), 2.0, apart_m=0.4))
    assert float(grid.area_cm2.sum()) == pytest.approx(40.0**2)
    assert grid_of(DripCase((Layer(GARDNER),), 2.0, "line", apart_m=0.4)).out_cm[-1] == pytest.approx(20.0)
